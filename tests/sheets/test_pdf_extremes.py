"""Nothing is cut, however long: words without a space, entries longer than a page, notes of many lines."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from scenebook.cueing.cues import Action, ByHand, Moment
from scenebook.sheets import GigView, Paper, pdf, view_of
from scenebook.sheets.breaking import SLIM, SLIM_WIDTH, for_the_setter, softened
from scenebook.sheets.faces import FONTS
from tests.support.cue_lists import FUZZ, a_gig, a_library, a_song, compiled
from tests.support.printed import Printed, characters, misprints, packed, printed

WORD = "W" * 80  # the widest letter, as long as a name may be


@pytest.fixture(autouse=True)
def poppler(needs: Callable[[str], None]) -> None:
    """Every test here reads a PDF back."""
    needs("poppler")


def inside(read: Printed) -> bool:
    """Whether every word stands between the margins: 20 mm left, 12 mm right."""
    width, height = read.page_size
    return all(
        word.left >= 56 and word.left + word.width <= width - 33 and 20 <= word.top <= height - 20
        for word in read.words
    )


def wide_view(paper: Paper, word: str = WORD) -> GigView:
    """A gig in which everything that a player names is one word, of 80 wide letters unless another is given."""
    song = a_song(key=word, instrument=word, notes=word)
    library = a_library(a_gig((word, "Kelp fire"), spares=("Limpet",)), {word: song})
    made = compiled(library)
    moves = tuple(
        ByHand(action, word, word, word, word, Moment.CUE, 2, 700)
        for action in (Action.TURN, Action.RECALL, Action.HOLD, Action.CHANGE)
    )
    cue = made.cues[2]._replace(
        scene=word, words=word, by_hand=moves, lacks=(word,), late=word, stand_ins=(word,),
        states=tuple(state._replace(unit=word, preset=word, values={word: word}) for state in made.cues[2].states),
    )  # fmt: skip
    first = made.cues[1]._replace(by_hand=moves)
    cues = (made.cues[0], first, cue, *made.cues[3:])
    gigs = {word: library.gigs["Pell Quay"].model_copy(update={"place": word, "notes": word})}
    rigs = {word: library.rigs["board"]}
    wide = library.model_copy(update={"gigs": gigs, "rigs": rigs})
    return view_of(wide, replace(made, gig=word, rig=word, cues=cues), revision=12, paper=paper)


@pytest.mark.parametrize("paper", Paper)
def test_a_word_of_eighty_wide_letters_breaks_wherever_it_stands(paper: Paper, tmp_path: Path) -> None:
    """Names come from other languages and from cats on keyboards."""
    view = wide_view(paper)

    read = printed(pdf(view), tmp_path)

    assert inside(read)
    assert misprints(view, read) == {}
    said, part = [], view.floor[0]
    for line in part.lines:
        said += [part.name, line.number, line.name, line.key, line.tempo, line.slot]
        said += [item.mark + item.words for item in line.items]
    large = characters(word.text for word in read.words if word.size >= 29)
    assert characters(said) - large == {}


def test_an_entry_that_no_page_holds_goes_on_overleaf(tmp_path: Path) -> None:
    """Else its end would run off the paper."""
    library = a_library(a_gig(("Lamp room", "Kelp fire")))
    made = compiled(library)
    moves = tuple(
        ByHand(Action.TURN, FUZZ, f"knob {number}", "noon", "3 o'clock", Moment.GAP, 2, 2500) for number in range(90)
    )
    cues = (*made.cues[:2], made.cues[2]._replace(by_hand=moves), *made.cues[3:])
    view = view_of(library, replace(made, cues=cues), revision=1)

    read = printed(pdf(view), tmp_path)

    assert inside(read)
    assert misprints(view, read) == {}
    assert len(read.pages_of(view.songs[0])) > 2


def test_notes_of_many_lines_keep_their_lines(tmp_path: Path) -> None:
    """A lead sheet in the notes is read line by line."""
    library = a_library(a_gig(("Lamp room", "Kelp fire")), {"Lamp room": a_song(notes="Am F\nC G\nAm F")})
    view = view_of(library, compiled(library), revision=1)

    read = printed(pdf(view), tmp_path)

    page = read.pages_of(view.songs[0])[0]
    starts = [word.text for word in read.on(page) if word.left < 58 and word.text in ("Am", "C")]
    assert starts == ["Am", "C", "Am"]


def test_a_gig_of_nothing_still_has_its_set_up_page(tmp_path: Path) -> None:
    """A new gig is printed before it has songs."""
    library = a_library(a_gig(()).model_copy(update={"house": None}))
    view = view_of(library, compiled(library), revision=1)

    read = printed(pdf(view), tmp_path)

    assert "Set-up" in {word.text for word in read.words}
    assert packed("".join(word.text for word in read.on(1))).startswith("PellQuay")


def test_only_long_words_break_and_a_number_keeps_its_unit() -> None:
    """A break in the middle of a short word, or between 380 and ms, misleads."""
    view = wide_view(Paper.A4)

    said = for_the_setter(view)

    assert said["floor"][0]["lines"][0]["name"] == "\u200b".join(WORD)
    assert said["songs"][1]["name"] == "Kelp fire"
    assert said["songs"][1]["entries"][1]["to_do"][1]["was"] == "380\u00a0ms"


@pytest.mark.parametrize("word", [*("b" * size for size in range(11, 31)), *("W" * size for size in range(8, 21))])
def test_a_word_keeps_inside_whether_left_whole_or_broken(word: str, tmp_path: Path) -> None:
    """Each length at which some place breaks a word: of the widest of the slim letters, and of the widest of all."""
    view = wide_view(Paper.A4, word)

    read = printed(pdf(view), tmp_path)

    assert inside(read)
    assert misprints(view, read) == {}


def test_a_units_name_breaks_at_its_hyphen_and_can_be_found(tmp_path: Path) -> None:
    """A search for a name finds none that has a space between its letters, though nobody sees the spaces."""
    for room in (14, 15, 16, 18, 24):
        assert softened("multi-effects, motion", room) == "multi-effects, motion"

    read = printed(pdf(wide_view(Paper.A4, "multi-effects, motion")), tmp_path)

    words = [word.text for word in read.words]
    assert not any("\u200b" in word for word in words)
    pieces = {piece for word in words for piece in re.findall("[a-z]+", word) if piece[:3] in ("mul", "eff")}
    assert pieces == {"multi", "effects"}
    assert not any(word.startswith("-") for word in words)


@pytest.mark.parametrize("face", ["DejaVuSansCondensed", "DejaVuSansCondensed-Bold"])
def test_the_slim_letters_are_slim(face: str) -> None:
    """As the shipped faces have them."""
    with TTFont(FONTS / f"{face}.ttf") as font:
        names, widths = font.getBestCmap(), font["hmtx"]
        wide = widths[names[ord("W")]][0]
        assert max(widths[names[ord(letter)]][0] for letter in SLIM) <= SLIM_WIDTH * wide
