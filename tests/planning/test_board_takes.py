"""What a board takes for granted, and what it refuses to: MIDI leads of which nothing is noted; sizes, never."""

from typing import Any

import pytest

from scenebook.errors import BadValueError
from scenebook.model import Unit
from scenebook.planning.board import BoardPlan, plan_board
from scenebook.planning.packing import Board
from scenebook.sheets.board_words import remarks
from tests.support.build import RIG, library, rig, song, unit

BOX = {"main": {"foot": True}}


def board_of(units: dict[str, Unit], /, *chain: str, port: str | None = None, **said: Any) -> BoardPlan:
    """Return the plan of a rig of these units, each on a channel of a port if that is given."""
    places = {name: {"port": port, "channel": at} for at, name in enumerate(units, 1)} if port else {}
    of_rig = rig(*(chain or units), units=places or said.pop("units", {}), **said)
    return plan_board(library(units, of_rig, song({"all": {}}, "all")), RIG, Board(450, 250), effort=0.2)


def test_a_rig_that_notes_no_midi_lead_has_those_that_packing_counts() -> None:
    """What `rig choose` stores has ports and channels alone; a board without its MIDI leads hears nothing."""
    size = {"width": 100, "depth": 100}

    plan = board_of({name: unit(size=size, jacks=["top"], switches=BOX) for name in ("multi", "delay")}, port="main")

    assert plan.midi_assumed
    assert [(lead.start.unit, lead.stop.unit) for lead in plan.leads if lead.kind == "MIDI"] == [("multi", "delay")]
    assert "MIDI: port main to multi MIDI in" in plan.off_board


def test_of_a_rig_that_notes_some_midi_leads_those_that_it_does_not_are_marked() -> None:
    """Whoever cuts them has to know which of them the player never wrote down."""
    units = {name: unit(size={"width": 100, "depth": 100}, jacks=["top"], switches=BOX) for name in ("multi", "delay")}

    plan = board_of(units, port="main", leads=[{"port": "main", "to": "multi"}])

    assert [each for each in plan.off_board if each.startswith("MIDI")] == [
        "MIDI: port main to multi MIDI in",
        "MIDI: port main to delay MIDI in (not noted, taken for granted)",
    ]


def test_a_rig_of_which_no_size_is_known_is_an_error_and_never_fits() -> None:
    """That nothing fits on a board is true of any board."""
    with pytest.raises(BadValueError, match="of no unit that goes on the board is the size known: fuzz") as caught:
        board_of({"fuzz": unit(switches=BOX)})

    assert "size: {width" in (caught.value.remedy or "")


def test_no_lead_is_cut_for_a_jack_that_two_would_have_to_go_into() -> None:
    """A tuner between two loops and in none: the switcher has one in and one out, and the board says so."""
    size = {"width": 80, "depth": 80}
    units = {name: unit(size=size, jacks=["top"], switches=BOX) for name in ("a", "tuner", "b", "switcher")}

    plan = board_of(
        units, "a", "tuner", "b", units={"switcher": {}}, loops={"switcher": {"loop 1": ["a"], "loop 2": ["b"]}}
    )

    assert [(lead.start.unit, lead.start.jack, lead.stop.unit, lead.stop.jack) for lead in plan.leads] == [
        ("switcher", "loop 1 send", "a", "in"),
        ("a", "out", "switcher", "loop 1 return"),
        ("switcher", "loop 2 send", "b", "in"),
        ("b", "out", "switcher", "loop 2 return"),
    ]
    said = next(each for each in remarks(plan) if "cannot be wired" in each)
    assert "'tuner' stands between two of its loops and in none" in said
