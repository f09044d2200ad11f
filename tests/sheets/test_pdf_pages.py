"""Which songs stand on which pages: whole where they can, with a mark where they go on, and little paper."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.model import FormEntry, Song
from scenebook.sheets import GigView, Paper, pdf, view_of
from tests.demo_library.reading import demo_library
from tests.support.cue_lists import a_gig, a_library, a_song, compiled
from tests.support.printed import all_songs, entry_words, packed, printed

GIGS = {"Pell Quay hall": 46, "Skerrow Head fly-in": 26, "Tallow reading room": 26}  # pages at most, on either paper


@pytest.fixture(autouse=True)
def poppler(needs: Callable[[str], None]) -> None:
    """Every test here reads a PDF back."""
    needs("poppler")


@cache
def demo_view(gig: str, paper: Paper) -> GigView:
    library = demo_library()
    return view_of(library, compile_gig(library, gig), revision=1, paper=paper)


@cache
def demo_pdf(gig: str, paper: Paper) -> bytes:
    return pdf(demo_view(gig, paper))


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("gig", GIGS)
def test_a_gig_takes_little_paper(gig: str, paper: Paper, tmp_path: Path) -> None:
    """Twenty-four songs and four spares on well under fifty pages; more is a book, and nobody carries it on stage."""
    assert printed(demo_pdf(gig, paper), tmp_path).pages <= GIGS[gig]


@pytest.mark.parametrize("gig", GIGS)
def test_where_a_song_goes_on_overleaf_its_title_says_so(gig: str, tmp_path: Path) -> None:
    """A page that has come loose says that it is not the beginning."""
    view = demo_view(gig, Paper.A4)

    read = printed(demo_pdf(gig, Paper.A4), tmp_path)

    for song in all_songs(view):
        marked = [
            any(w.text == "continued" and w.page == page and top <= w.top < end for w in read.on(page))
            for page, top, end in read.places_of(song)
        ]
        assert marked == [False] + [True] * (len(marked) - 1), song.name


@pytest.mark.parametrize("gig", GIGS)
def test_a_song_that_shares_a_page_is_whole_or_long(gig: str, tmp_path: Path) -> None:
    """A song that begins where another ended and goes on overleaf would need two pages anyway."""
    view = demo_view(gig, Paper.A4)

    read = printed(demo_pdf(gig, Paper.A4), tmp_path)

    room = read.page_size[1] - 130  # bearing and legend
    for song in all_songs(view):
        places = read.places_of(song)
        if len(places) > 1:
            used = sum(max(w.top for w in read.of(song) if w.page == page) - top for page, top, _ in places)
            assert used > room - 30, song.name


def short_song() -> Song:
    return a_song().model_copy(update={"form": (FormEntry(scene="verse", bars=8), FormEntry(scene="chorus", bars=8))})


def test_short_songs_stand_on_one_page_each_whole(tmp_path: Path) -> None:
    """Two songs of two parts: one page less to turn."""
    names = ("Lamp room", "Kelp fire", "Chalk line", "Limpet")
    library = a_library(a_gig(names), dict.fromkeys(names, short_song()))
    view = view_of(library, compiled(library), revision=1)

    read = printed(pdf(view), tmp_path)

    pages = [read.pages_of(song) for song in view.songs]
    assert all(len(each) == 1 for each in pages)
    assert pages[0] == pages[1]


def test_an_entry_that_repeats_another_takes_one_line(tmp_path: Path) -> None:
    """A verse that comes again with nothing to do is not set again."""
    song = Song(tempo=96, scenes={"verse": {"notes": "Softly."}}, form=(FormEntry(scene="verse", bars=8),) * 2)
    library = a_library(a_gig(("Lamp room", "Kelp fire")), {"Lamp room": song})
    view = view_of(library, compiled(library), revision=1)

    read = printed(pdf(view), tmp_path)

    words = entry_words(read, view.songs[0])[1]
    line = [w for w in words if w.top < words[0].top + 6]
    assert {w.text for w in line} >= {"verse", "bars,", "nothing", "do"}
    assert packed("".join(w.text for w in words if w not in line)) == packed(view.songs[0].then)


@pytest.mark.parametrize("paper", list(Paper))
def test_the_floor_pages_have_the_key_of_their_marks(paper: Paper, tmp_path: Path) -> None:
    """Whoever steps in has not learnt them."""
    read = printed(demo_pdf("Pell Quay hall", paper), tmp_path)

    for page in (1, 2):
        said = packed("".join(word.text for word in read.on(page) if word.size < 29))
        assert said.endswith(packed("● on ○ off → set □ hold or fire ▲ take care"))
        assert packed("boxed: slot of multi-effects") in said
