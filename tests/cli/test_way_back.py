"""What was there before a change is brought back: by the line that the change prints, or by the library's history."""

import json
import re
import shlex
from pathlib import Path

import pytest

from tests.support.checkout import ROOT
from tests.support.terminal import contents, typed


def pasted(out: str) -> list[str]:
    """Return the words of the command that stands behind "Before: "."""
    line = next(line for line in out.splitlines() if line.startswith("Before: "))
    return shlex.split(line.removeprefix("Before: scenebook "))


def test_an_old_form_comes_back_by_pasting_one_line(demo: Path) -> None:
    """Bars, free bars and cue words, those that were empty as well."""
    before = typed("song", "form", "Limpet", "--json").out

    changed = typed("song", "form", "Limpet", "stuck:3=other words", "unst:4")
    assert typed(*pasted(changed.out)).code == 0

    assert typed("song", "form", "Limpet", "--json").out == before


def test_no_form_comes_back_as_none(empty: Path) -> None:
    """A song without a form plays each scene once, and does so again."""
    for command in (["unit", "add", "fuzz"], ["song", "add", "Tin"], ["scene", "set", "Tin", "verse", "fuzz=on"]):
        assert typed(*command).code == 0

    assert pasted(typed("song", "form", "Tin", "verse:8").out) == ["song", "form", "Tin", "--none"]


def test_an_old_order_comes_back_by_pasting_one_line(demo: Path) -> None:
    """The set, its songs and its segues."""
    before = json.loads(typed("gig", "show", "Pell", "--json").out)["sets"]

    changed = typed("gig", "order", "Pell", "Limpet", "Salt stair", "--set", "second", "--interval", "20 min")
    assert json.loads(typed("gig", "show", "Pell", "--json").out)["sets"][1]["interval"] == "20 min"
    assert typed(*pasted(changed.out)).code == 0

    after = json.loads(typed("gig", "show", "Pell", "--json").out)["sets"]
    for old, new in zip(before, after, strict=True):
        assert [(e["song"], e.get("segue")) for e in old["songs"]] == [
            (e["song"], e.get("segue")) for e in new["songs"]
        ]


def test_undo_puts_back_what_the_last_change_replaced(demo: Path) -> None:
    """One command, and the scene is as it was; once more, and it is as it was changed."""
    before, form = typed("scene", "show", "Limpet", "stuck").out, typed("gig", "show", "Pell").out
    assert typed("scene", "set", "Limpet", "stuck", "octave down=on").code == 0
    changed = typed("scene", "show", "Limpet", "stuck").out

    printed = typed("library", "undo")

    assert printed.out.splitlines() == [
        "The library is as it was at revision 1.",
        "  song 'Limpet' is as it was",
        "To take this back: scenebook library undo",
    ]
    assert typed("scene", "show", "Limpet", "stuck").out == before
    assert typed("gig", "show", "Pell").out == form
    assert typed("library", "undo").code == 0
    assert typed("scene", "show", "Limpet", "stuck").out == changed


def test_history_says_when_what_and_which(demo: Path) -> None:
    """The latest first, as many as are asked for."""
    assert typed("song", "add", "Low tide").code == 0
    assert typed("gig", "out", "Pell", "octave down").code == 0

    printed = typed("library", "history", "--last", "2")
    found = json.loads(typed("library", "history", "--json").out)

    first, second, hint = printed.out.splitlines()
    assert re.fullmatch(r" +3  \d{4}-\d\d-\d\d \d\d:\d\d  gig out Pell +gig 'Pell Quay hall'", first)
    assert second.endswith("song add Low tide  song 'Low tide' (new)")
    assert hint.endswith("scenebook library undo")
    assert [each["revision"] for each in found] == [3, 2, 1]
    assert found[1]["things"] == [{"kind": "song", "name": "Low tide", "new": True}]


def test_going_back_over_everything_and_forth_again_loses_nothing(demo: Path, tmp_path: Path) -> None:
    """An import undone by mistake comes back whole, with the comments of its files."""
    assert typed("song", "add", "Low tide").code == 0

    assert typed("library", "undo", "--to", "0").code == 0
    assert typed("song", "list").out == "There is no such song.\n"
    assert typed("library", "undo", "--to", "1").code == 0

    assert typed("library", "check").out.endswith("Nothing is wrong.\n")
    assert typed("library", "export", str(tmp_path / "again")).code == 0
    songs = (ROOT / "demo_library" / "songs", tmp_path / "again" / "songs")
    before, after = (sorted(path.read_text() for path in folder.glob("*.yaml")) for folder in songs)
    assert after == before


@pytest.mark.parametrize(("to", "word"), [("1", "revision 1"), ("-1", "revision -1"), ("99", "from 0 to 0")])
def test_there_is_no_way_back_to_what_never_was(demo: Path, to: str, word: str) -> None:
    """Revisions that can be gone back to are named, and nothing is changed."""
    before = contents(demo)

    printed = typed("library", "undo", "--to", to)

    assert (printed.code, printed.out) == (2, "")
    assert word in printed.err
    assert contents(demo) == before


def test_nothing_is_undone_in_a_new_library(empty: Path) -> None:
    """There was nothing before."""
    assert "nothing has been changed yet" in typed("library", "undo").err
    assert typed("library", "history").out == "Nothing has been changed yet.\n"


def test_a_slip_in_bars_or_tempo_is_told_as_such(demo: Path) -> None:
    """What is wrong is said of the part that is wrong."""
    for bars in ("-3", "eight"):
        assert f"'{bars}' is no number of bars" in typed("song", "form", "Limpet", f"stuck:{bars}").err
    for tempo in ("0", "fast"):
        assert f"found '{tempo}' for 'tempo'; accepted: a number from 20 to 400" in (
            typed("song", "add", "New", "--tempo", tempo).err
        )
    assert typed("song", "add", "New", "--length", "200").out.startswith("Added 'New' (4/4, 200 s).")


def test_names_with_commas_are_told_apart(demo: Path) -> None:
    """A list of such names in a row would be read as twice as many."""
    out = typed("gig", "out", "Pell", "drive, soft", "drive, valve").out.splitlines()

    assert out == [
        "Out at Pell Quay hall: 'drive, soft'; 'drive, valve'",
        "Note: not in the rig 'hall board', so nothing changes on it: 'drive, valve'",
    ]
    assert typed("gig", "out", "Pell", "drive, s", "drive, v", "--back").out == "Nothing is out at Pell Quay hall.\n"
    assert typed("gig", "replace", "Pell", "octave down", "octave down, hired").code == 0
    assert typed("gig", "replace", "Pell", "octave down", "--back").out == "Nobody is replaced at Pell Quay hall.\n"
    where = typed("scene", "set", "Limpet", "stuck", "drive, soft.gain=eleven").err
    assert "song 'Limpet', scene 'stuck', unit 'drive, soft', control 'gain': 'eleven'" in where
