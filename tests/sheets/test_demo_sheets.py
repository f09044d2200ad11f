"""The demo library's gigs, compiled and printed: what a player sees first, read back whole."""

from collections.abc import Callable
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.model import Library
from scenebook.resources import demo_library_folder
from scenebook.sheets import GigView, Paper, cue_list_json, html, pdf, plain_cues, text, view_of
from scenebook.storage.folder import read_folder
from tests.support.printed import all_songs, dos, entry_words, misprints, packed, printed

GIGS = ["Pell Quay hall", "Skerrow Head fly-in", "Tallow reading room"]


@cache
def demo() -> Library:
    return read_folder(demo_library_folder())[0]


@cache
def view(gig: str, rig: str | None = None, *, full: bool = False) -> GigView:
    return view_of(demo(), compile_gig(demo(), gig, rig, full=full), revision=7)


@pytest.mark.parametrize("gig", GIGS)
def test_a_demo_gigs_sheet_says_all_and_nothing_else(gig: str, needs: Callable[[str], None], tmp_path: Path) -> None:
    """Every word, mark and move of every song, on its own pages; filled and hollow as the states are; in order."""
    needs("poppler")

    read = printed(pdf(view(gig)), tmp_path)

    assert misprints(view(gig), read) == {}
    for song in all_songs(view(gig)):
        for entry, words in zip(song.entries, entry_words(read, song), strict=True):
            assert len({word.page for word in words}) == 1
            marks = [(w.text, after.text) for w, after in pairwise(words) if w.text in "●○" and w.size < 18]
            wanted = [("●" if mark.on else "○", mark.unit.split()[0]) for mark in entry.chain]
            assert marks[: len(wanted)] == wanted, (song.name, entry.cue)
            text = packed("".join(w.text for w in words))
            assert packed("".join(dos(entry.to_do))) in text, (song.name, entry.cue)


@pytest.mark.parametrize("rig", ["studio wall", "fly board, no MIDI"])
@pytest.mark.parametrize("full", [False, True])
def test_the_widest_and_the_plainest_rig_print_on_letter_too(
    rig: str, full: bool, needs: Callable[[str], None], tmp_path: Path
) -> None:
    """Twenty-six units in a line, and none that hears MIDI, lean and full."""
    needs("poppler")
    said = view_of(demo(), compile_gig(demo(), GIGS[2], rig, full=full), revision=7, paper=Paper.LETTER)

    read = printed(pdf(said), tmp_path)

    assert misprints(said, read) == {}


@pytest.mark.parametrize("gig", GIGS)
def test_text_and_page_name_every_song_and_every_move(gig: str) -> None:
    """Whoever gets the sheet in a message has the same words as whoever has the paper."""
    said, page, plain = view(gig), html(view(gig)), packed(text(view(gig)))

    for song in all_songs(said):
        assert packed(song.name) in plain
        for entry in song.entries:
            assert all(packed(do.words) in plain for do in entry.to_do)
            assert page.count(f"cue {entry.cue}<") >= 1


@pytest.mark.parametrize("gig", GIGS)
def test_a_terminal_of_a_hundred_columns_holds_the_listing(gig: str) -> None:
    """A line that wraps by itself breaks the columns below it."""
    lines = plain_cues(compile_gig(demo(), gig)).splitlines()

    assert [line for line in lines if len(line) > 100] == []


def test_the_json_of_a_demo_gig_holds_every_move() -> None:
    """Other programs get no less than the player."""
    cue_list = compile_gig(demo(), GIGS[0])

    said = cue_list_json(cue_list)

    assert [len(cue["moves"]) for cue in said["cues"]] == [len(c.messages) + len(c.by_hand) for c in cue_list.cues]
    assert [cue["settled_ms"] * 1000 for cue in said["cues"]] == pytest.approx([c.settled_us for c in cue_list.cues])
