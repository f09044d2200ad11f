"""Ctrl-C in long work: the best so far is kept and said to be no more; before there is any, nothing is left."""

import json
from pathlib import Path

import pytest

from scenebook.cli.choose_words import choice_lines
from scenebook.model import Library
from scenebook.planning.limits import read_limits
from scenebook.planning.picking import best_rig, question
from scenebook.storage import open_library
from tests.benchmarks.walls import wall
from tests.storage.filling import fill
from tests.support.interrupted import interrupted_at
from tests.support.terminal import contents, typed

BOARD = ("rig", "board", "hall board", "--board", "900x450")
TIGHT = ("rig", "board", "hall board", "--board", "780x400")  # no arrangement is laid at once: the solver has to look


@pytest.fixture
def studio(empty: Path) -> Path:
    """Give a library of so many units that choosing from them takes seconds."""
    with open_library(empty) as store:
        fill(store, wall(40, 150, seed=1))
    return empty


@pytest.mark.parametrize("name", ["board.pdf", "board.svg"])
def test_a_board_that_is_stopped_is_drawn_as_it_was_best_so_far(demo: Path, tmp_path: Path, name: str) -> None:
    """The player has seen enough; what was found is not lost, and nobody takes it for the best."""
    out = tmp_path / name

    printed = interrupted_at("best ", *BOARD, "-o", str(out))

    assert printed.code == 0
    assert "s: best " in printed.err
    assert printed.out.startswith("'hall board' fits on 900 × 450 mm; the arrangement is the best so far.\n")
    assert "Stopped early: the arrangement is the best so far, and a better one may be left." in printed.out
    assert "Cut list of leads:" in printed.out
    assert printed.out.endswith(f"Wrote {out}\n")
    assert out.read_bytes().startswith({"board.pdf": b"%PDF-", "board.svg": b"<svg "}[name])
    if out.suffix == ".svg":
        assert "stopped early: best arrangement so far" in out.read_text(encoding="utf-8")


def test_other_programs_are_told_that_a_board_was_stopped(demo: Path) -> None:
    """Standard output is JSON and nothing else, stopped or not."""
    said = json.loads(interrupted_at("best ", *BOARD, "--json").out)

    assert (said["fits"], said["best"], said["stopped"]) == (True, False, True)
    assert len(said["units"]) == len({each["number"] for each in said["units"]}) > 8


def test_of_the_larger_boards_the_least_so_far_is_told(demo: Path, tmp_path: Path) -> None:
    """Proving which is the least takes long; that this one is too small was proved first, and stays so."""
    out = tmp_path / "board.pdf"

    printed = interrupted_at("best ", "rig", "board", "hall board", "--board", "500x400", "-o", str(out))

    assert printed.code == 1
    assert "cm2 is possible" in printed.err
    assert printed.out.startswith("'hall board' does not fit on 500 × 400 mm: proved. ")
    assert "the least so far in steps of 10 mm. Stopped early: a smaller one may do." in printed.out
    assert not out.exists()


def test_before_any_arrangement_is_found_it_ends_quietly_and_nothing_is_written(demo: Path, tmp_path: Path) -> None:
    """As any command that is ended: 130, no drawing, the library as it was."""
    before, out = contents(demo), tmp_path / "board.pdf"

    printed = interrupted_at("no arrangement yet", *TIGHT, "-o", str(out))

    assert (printed.code, printed.out) == (130, "")
    assert "Error" not in printed.err
    assert "Traceback" not in printed.err
    assert not out.exists()
    assert contents(demo) == before


def test_a_choice_that_is_stopped_is_stored_as_the_best_so_far(studio: Path) -> None:
    """With the most that any other rig could reach, and that nobody waited for more."""
    printed = interrupted_at("best ", "rig", "choose", "--max", "units=8", "--max", "weight=5kg", "--name", "so far")

    assert printed.code == 0
    assert "0 s: best " in printed.err
    assert "Not proved: another could reach " in printed.out
    assert "Stopped early: the rig is the best so far, and a better one may be left.\n" in printed.out
    assert "--seconds" not in printed.out
    assert "Stored as rig 'so far'" in printed.out
    with open_library(studio, read_only=True) as store:
        assert 0 < len(store.rig("so far").chain) <= 8


def test_other_programs_are_told_that_a_choice_was_stopped(studio: Path) -> None:
    """Not proved alone could be the time that ran out."""
    said = json.loads(interrupted_at("best ", "rig", "choose", "--max", "units=8", "--json").out)

    assert (said["proved"], said["stopped"]) == (False, True)


def test_a_choice_that_was_proved_before_it_was_stopped_is_no_less_proved() -> None:
    """What one step more of a limit gives is all that was left; without limits there was nothing."""
    units = {name: {"switches": {"main": {"foot": True}}, "weight_g": 100} for name in ("fuzz", "wah")}
    scenes = {name: {"units": {name: {"main": "on"}}} for name in units}
    library = Library.model_validate({"units": units, "songs": {"song": {"scenes": scenes}}})
    free, within = (
        best_rig(question(library, limits=read_limits(limits, library.units)), seconds=60)
        for limits in ((), ("units=1",))
    )

    said = [[line for line in choice_lines(each, (), stopped=True) if "topped" in line] for each in (free, within)]

    assert said == [[], ["Stopped early: what each limit costs was not looked at to the end."]]


def test_what_was_not_stopped_says_nothing_of_it(demo: Path) -> None:
    """Time that ran out is another matter: more of it may tell."""
    said = typed("rig", "choose", "--max", "units=3").out

    assert "Stopped early" not in said
    assert json.loads(typed("rig", "choose", "--max", "units=3", "--json").out)["stopped"] is False


def test_a_curve_that_is_stopped_claims_no_more_than_was_found(studio: Path) -> None:
    """One step, not proved: that weight does not matter would be a claim about all the others."""
    printed = interrupted_at("best ", "rig", "curve", "--max", "units=8")

    assert printed.code == 0
    assert "not proved: " in printed.out
    assert "The last row is not proved: " in printed.out
    assert "Stopped early: these are the steps so far, and others may be left.\n" in printed.out
    assert "may tell" not in printed.out
    assert "does not matter" not in printed.out
    assert "gives nothing" not in printed.out
