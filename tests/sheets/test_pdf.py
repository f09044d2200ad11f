"""The sheet as it comes out of a printer, read back by another program and held against the view."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Action, ByHand, CueList, Moment
from scenebook.sheets import GigView, Paper, pdf, view_of
from tests.demo_library.reading import demo_library
from tests.support.cue_lists import FUZZ, a_gig, a_library, a_song, compiled
from tests.support.printed import all_songs, characters, dos, entry_words, misprints, packed, printed

LONG = "The ballad of the harbour pilot who lost his borrowed coat and found a lamp room"


@pytest.fixture(autouse=True)
def poppler(needs: Callable[[str], None]) -> None:
    """Every test here reads a PDF back."""
    needs("poppler")


def busy(cue_list: CueList) -> CueList:
    """The same gig with everything at one cue that can be wrong, and a move made ahead for a later one."""
    cues = list(cue_list.cues)
    ahead = ByHand(Action.TURN, FUZZ, "gain", "2 o'clock", "noon", Moment.GAP, 7, 2500)
    cues[6] = cues[6]._replace(
        by_hand=(*cues[6].by_hand, ahead),
        lacks=("ring modulator",),
        without=("delay, tape",),
        late="late by 1.2 s",
        stand_ins=("octave down: multi-effects, small pitch, likeness 0.7",),
        not_carried=("octave down dry 3",),
        notes=("looper: what it has recorded cannot be promised",),
        silence_us=30_000,
        interrupted_us=181_000,
    )
    return replace(cue_list, cues=tuple(cues), warnings=("delay, tape hears what is meant for the looper",))


def sheet(names: tuple[str, ...] = ("Lamp room", "Kelp fire", "Chalk line"), paper: Paper = Paper.A4) -> GigView:
    library = a_library(a_gig(names, spares=("Limpet",)))
    return view_of(library, busy(compiled(library)), revision=12, paper=paper)


@pytest.mark.parametrize("paper", Paper)
def test_a_songs_pages_say_all_that_the_view_says_and_nothing_else(paper: Paper, tmp_path: Path) -> None:
    """A word that is cut, lost between two pages or printed over another is a wrong switch on stage."""
    view = sheet(paper=paper)

    read = printed(pdf(view), tmp_path)

    assert misprints(view, read) == {}


def test_filled_and_hollow_marks_stand_in_chain_order_as_the_states_are(tmp_path: Path) -> None:
    """On a dark stage the shape of a mark is all that tells on from off."""
    view = sheet()

    read = printed(pdf(view), tmp_path)

    for song in all_songs(view):
        entries = entry_words(read, song)
        assert len(entries) == len(song.entries)
        for entry, words in zip(song.entries, entries, strict=True):
            marks = [(w.text, after.text) for w, after in pairwise(words) if w.text in "●○" and w.size < 18]
            wanted = [("●" if mark.on else "○", mark.unit.split()[0]) for mark in entry.chain]
            assert marks[: len(wanted)] == wanted, (song.name, entry.cue)


def test_every_move_stands_at_its_cue_in_order(tmp_path: Path) -> None:
    """A foot does what stands first, first; a move at another cue's place is a wrong note."""
    view = sheet()

    read = printed(pdf(view), tmp_path)

    for song in all_songs(view):
        for entry, words in zip(song.entries, entry_words(read, song), strict=True):
            text = packed("".join(w.text for w in words))
            assert packed("".join(dos(entry.to_do))) in text, (song.name, entry.cue)


def test_an_entry_is_never_split_between_two_pages(tmp_path: Path) -> None:
    """Nobody turns a page in the middle of a scene."""
    view = sheet()

    read = printed(pdf(view), tmp_path)

    assert any(len(read.pages_of(song)) > 1 for song in view.songs)  # else this shows nothing
    for song in all_songs(view):
        assert all(len({word.page for word in words}) == 1 for words in entry_words(read, song))


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("gig", ["Pell Quay hall", "Skerrow Head fly-in", "Tallow reading room"])
def test_the_floor_of_a_long_evening_is_two_pages_at_most(gig: str, paper: Paper, tmp_path: Path) -> None:
    """Two pages lie side by side at the pedals; a third would be turned in the dark."""
    library = demo_library()
    view = view_of(library, compile_gig(library, gig), revision=1, paper=paper)

    read = printed(pdf(view), tmp_path)

    first_after = next(page for page in range(1, read.pages + 1) if "Set-up" in [w.text for w in read.on(page)])
    assert first_after <= 3


def test_every_page_bears_the_gig_its_rig_date_revision_and_number(tmp_path: Path) -> None:
    """Sheets are dropped, mixed up and outlive their revision."""
    view = sheet()

    read = printed(pdf(view), tmp_path)

    for page in range(1, read.pages + 1):
        top = packed("".join(word.text for word in read.on(page) if word.top < 40))
        assert top == packed(f"Pell Quay·board·2027-03-19·revision 12page {page} of {read.pages}")


@pytest.mark.parametrize(("paper", "size"), [(Paper.A4, (595.276, 841.89)), (Paper.LETTER, (612, 792))])
def test_there_is_a_margin_for_pen_and_tape(paper: Paper, size: tuple[float, float], tmp_path: Path) -> None:
    """ISO 216 A4 is 210 x 297 mm, US letter 8.5 x 11 in; printers and tape both want the edge."""
    view = sheet((LONG, "Kelp fire", "Unbrokenseafaringwordwithoutanyplacetobreakatallanywhereinit"), paper)

    read = printed(pdf(view), tmp_path)

    assert read.page_size == pytest.approx(size)
    assert min(word.left for word in read.words) >= 56  # 20 mm
    assert max(word.left + word.width for word in read.words) <= size[0] - 33  # 12 mm
    assert min(word.top for word in read.words) >= 22
    assert max(word.top + word.size for word in read.words) <= size[1] - 14


def test_the_fonts_are_embedded_and_no_other_than_ours(tmp_path: Path) -> None:
    """The printer at the hall has its own idea of a font."""
    read = printed(pdf(sheet()), tmp_path)

    assert set(read.fonts) == {("DejaVuSansCondensed", True), ("DejaVuSansCondensed-Bold", True)}


def test_the_same_view_gives_the_same_bytes() -> None:
    """A sheet that changes each time it is printed can't be compared with the one on the floor."""
    view = sheet()

    assert pdf(view) == pdf(view)


def test_the_floor_page_says_each_song_once_in_order(tmp_path: Path) -> None:
    """The first page is the running order: number, name, key, tempo, slot, and what starts the song."""
    view = sheet()

    read = printed(pdf(view), tmp_path)

    large = Counter(packed("".join(word.text for word in read.on(1) if word.size >= 29)))
    lines = [line for part in view.floor for line in part.lines]
    said = [part.name for part in view.floor]
    for line in lines:
        said += [line.number, line.name, line.key, line.tempo, line.slot, f"+{line.later}" if line.later else ""]
        said += [item.mark + item.words for item in line.items]
    assert large == characters(said)
    starts = [w.text for w in read.on(1) if w.size >= 29 and w.left < 70 and w.text.isdecimal()]
    assert starts == ["1", "2", "3"]


def test_twelve_plain_songs_and_their_interval_fit_one_floor_page(tmp_path: Path) -> None:
    """A set that a page holds is not split, and twenty-four songs with nothing to press are two pages at most."""
    names = tuple(f"Song {number} of the sea" for number in range(1, 25))

    read = printed(pdf(sheet(names)), tmp_path)

    floor = [page for page in range(1, 6) if any(word.size >= 29 for word in read.on(page))]
    assert floor == [1, 2]


def test_sixty_songs_with_long_names_lose_nothing(tmp_path: Path) -> None:
    """A festival night of sixty short songs is printed like any other."""
    names = tuple(f"{LONG[:70]} {number}" for number in range(1, 61))
    view = sheet(names)

    read = printed(pdf(view), tmp_path)

    floor = [page for page in range(1, read.pages + 1) if any(28 < word.size < 30 for word in read.on(page))][:-2]
    text = packed("".join(w.text for w in read.on(*floor) if w.size >= 29))
    assert all(packed(name) in text for name in names)
    assert all(read.pages_of(song) for song in view.songs)


def test_words_that_mean_something_to_the_setter_are_only_words(tmp_path: Path) -> None:
    """A song may be called anything, and its name is never read as a command."""
    odd = '#panic("x") *b* _i_ $x$ `r` <l> @r \\ // " = - + ~ [c] {d}'
    library = a_library(a_gig((odd, "Kelp fire")), {odd: a_song(notes=odd)})

    read = printed(pdf(view_of(library, compiled(library), revision=1)), tmp_path)

    assert packed(odd) in packed("".join(word.text for word in read.on(1)))


def test_the_set_up_page_stands_after_the_floor_and_holds_every_table(tmp_path: Path) -> None:
    """Chain, loops, channels, home and supply are wanted before the first song, with the cautions."""
    view = sheet()

    read = printed(pdf(view), tmp_path)

    first = read.pages_of(view.songs[0])[0]
    text = packed("".join(word.text for word in read.on(*range(2, first))))
    set_up = view.set_up
    cells = [cell for table in set_up.tables for row in (table.columns, *table.rows) for cell in row]
    said = [view.place, set_up.chain, set_up.leads, *set_up.notes, *set_up.cautions, *set_up.warnings, *cells]
    counted = characters(word.text for word in read.on(*range(2, first)))
    assert text.startswith(packed(view.bearing[0]))
    assert not characters(said) - counted
