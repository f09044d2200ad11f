"""A rig on its board: what fits, what is proved not to, what stands in front, and which leads to cut."""

from itertools import combinations
from typing import Any

import pytest

from scenebook.errors import BadValueError, SceneError, UnknownNameError
from scenebook.model import Library, Unit
from scenebook.planning.board import BoardPlan, plan_board, presses_of, read_board
from scenebook.planning.feet import distance
from scenebook.planning.outlines import Placed, outlines
from scenebook.planning.packing import Board, Box
from tests.demo_library.reading import demo_library
from tests.support import build
from tests.support.build import GIG, RIG, gig, library, rig, song

PLUG, GAP, FOOTSWITCH = 25, 5, 70
PATIENT = 60.0  # seconds: other tests run at the same time


def unit(width: float, depth: float, *jacks: str, foot: bool = True, **said: Any) -> Unit:
    """Return a unit of this size with jacks on these sides and one footswitch."""
    switches = said.pop("switches", {"main": {"foot": foot}})
    return build.unit(size={"width": width, "depth": depth}, jacks=jacks, switches=switches, **said)


def on_board(units: dict[str, Unit], size: str, /, *, chain: tuple[Any, ...] = (), **said: Any) -> BoardPlan:
    """Return the plan of a rig of these units, in this order, on a board."""
    options = {key: said.pop(key) for key in ("beside", "gigs") if key in said}
    songs = said.pop("songs", song({"all": {}}, "all"))
    of_rig = rig(*(chain or units), **said)
    return plan_board(library(units, of_rig, songs), RIG, read_board(size), seconds=PATIENT, **options)


def places(plan: BoardPlan) -> dict[str, tuple[int, int, int]]:
    return {each.unit: (each.x, each.y, each.outline.turned) for each in plan.placed}


def with_plugs(each: Placed, plug: int = PLUG) -> Box:
    jacks, outline = each.outline.jacks, each.outline
    return Box(
        each.x - plug * ("left" in jacks),
        each.y - plug * ("front" in jacks),
        each.x + outline.width + plug * ("right" in jacks),
        each.y + outline.depth + plug * ("top" in jacks),
    )


def faults(plan: BoardPlan) -> list[str]:
    """Return what is wrong with an arrangement, worked out from the outlines alone."""
    found = [
        f"{each.unit} hangs over"
        for each in plan.placed
        if (box := with_plugs(each)).left < 0
        or box.front < 0
        or box.right > plan.board.width
        or box.back > plan.board.depth
    ]
    for one, other in combinations(plan.placed, 2):
        a, b = with_plugs(one), with_plugs(other)
        if a.left < b.right and b.left < a.right and a.front < b.back and b.front < a.back:
            found.append(f"{one.unit} and {other.unit} overlap")
        bare = with_plugs(one, 0), with_plugs(other, 0)
        if distance(*bare) < GAP:
            found.append(f"{one.unit} and {other.unit} touch")
        if one.feet and other.feet and distance(one.feet, other.feet) < FOOTSWITCH:
            found.append(f"one shoe presses {one.unit} and {other.unit}")
    return found


@pytest.mark.parametrize(
    ("name", "size"), [("fly board", "600x320"), ("fly board", "480x400"), ("hall board", "900x450")]
)
def test_a_rig_that_fits_has_room_for_each_plug_and_each_shoe(name: str, size: str) -> None:
    """The demo's rigs, each arrangement measured again by other means."""
    plan = plan_board(demo_library(), name, read_board(size), seconds=PATIENT, effort=0.5)

    assert plan.fits
    supply = {"supply, five outlets"} if name == "fly board" else set()  # the other says that it is under the frame
    assert {each.unit for each in plan.placed} == {*demo_library().rigs[name].carried, *supply}
    assert [each.number for each in plan.placed] == list(range(1, len(plan.placed) + 1))
    assert faults(plan) == []


def test_the_same_rig_gives_the_same_board_every_time() -> None:
    """A drawing that changes overnight is no drawing."""
    first, second = (
        plan_board(demo_library(), "hall board", Board(800, 400), seconds=PATIENT, effort=0.5) for _ in range(2)
    )

    assert first == second


def test_plugs_between_two_units_are_both_counted() -> None:
    """100 + 25 + 25 + 100 mm side by side, and 25 outside on either end."""
    units = {"fuzz": unit(100, 100, "left", "right"), "delay": unit(100, 100, "left", "right")}

    assert on_board(units, "300x100").fits is True
    assert on_board(units, "299x100").fits is False


def test_units_without_plugs_between_them_keep_the_gap() -> None:
    """5 mm, but none at the board's edges."""
    units = {"fuzz": unit(100, 90, "top"), "delay": unit(100, 90, "top")}

    assert on_board(units, "205x115").fits is True
    assert on_board(units, "204x115").fits is False


def test_a_plug_beside_a_bare_side_needs_no_gap_as_well() -> None:
    """Room for the plug is more than the gap already."""
    units = {"fuzz": unit(100, 100, "left", "right"), "delay": unit(100, 100)}

    assert on_board(units, "250x100").fits is True
    assert on_board(units, "249x100").fits is False


def test_footswitches_keep_a_shoe_apart() -> None:
    """Two units of 50 mm need not 105 but 120: from centre to centre 70."""
    units = {name: unit(50, 90) for name in ("fuzz", "delay")}  # with no jacks said they are not turned either
    without = {name: unit(50, 90, foot=False) for name in units}

    assert on_board(units, "120x90").fits is True
    assert on_board(units, "119x90").fits is False
    assert on_board(without, "105x90").fits is True


def test_the_room_for_plugs_is_the_librarys_own() -> None:
    """Flat plugs need 15 mm."""
    flat = library({"fuzz": unit(100, 100, "top")}, rig("fuzz"), {"one": song({"all": {}}, "all")})
    practice = flat.settings.practice.model_copy(update={"plug_mm": 15})
    flat = flat.model_copy(update={"settings": flat.settings.model_copy(update={"practice": practice})})

    assert plan_board(flat, RIG, Board(100, 115), seconds=PATIENT).fits is True
    assert plan_board(flat, RIG, Board(100, 114), seconds=PATIENT).fits is False


@pytest.mark.parametrize(
    ("jacks", "turns"),
    [
        (("top",), {0: {"top"}, 90: {"right"}, 270: {"left"}}),
        (("left",), {0: {"left"}, 90: {"top"}}),
        (("right", "top"), {0: {"right", "top"}, 270: {"left", "top"}}),
        (("left", "right"), {0: {"left", "right"}}),
        (("top", "front"), {0: {"top", "front"}, 90: {"right", "left"}, 270: {"right", "left"}}),
        ((), {0: set()}),
    ],
)
def test_a_unit_is_turned_only_where_no_jack_then_faces_the_front(
    jacks: tuple[str, ...], turns: dict[int, set[str]]
) -> None:
    """A plug in front of a footswitch is stepped on; of a unit whose jacks are not known nobody can tell."""
    assert {each.turned: set(each.jacks) for each in outlines(unit(60, 110, *jacks))} == turns


def test_a_pedal_is_never_turned_and_its_switch_is_under_the_toe() -> None:
    """Nobody rocks a pedal sideways."""
    pedal = unit(100, 250, "top", controls={"position": {"scale": "percent", "pedal": True}})

    assert [(each.turned, each.feet) for each in outlines(pedal)] == [(0, Box(50, 225, 50, 225))]


def test_a_unit_is_turned_where_only_that_makes_it_fit() -> None:
    """Its footswitch and its jacks turn with it."""
    plan = on_board({"drive": unit(66, 121, "top")}, "146x66")

    (placed,) = plan.placed
    assert placed.outline.turned in (90, 270)
    assert faults(plan) == []
    x, y = placed.point("top")
    assert x == placed.x + (placed.outline.width if placed.outline.turned == 90 else 0)
    assert y == placed.y + 33


def test_what_is_pressed_most_stands_in_front() -> None:
    """Presses come from the compiled gig: the drive goes on and off, the fuzz is pressed once."""
    units = {"fuzz": unit(100, 100, "left", "right"), "drive": unit(100, 100, "left", "right")}
    songs = song(
        {"quiet": {"fuzz": "on"}, "loud": {"fuzz": "on", "drive": "on"}}, "quiet", "loud", "quiet", "loud", "quiet"
    )

    plan = on_board(units, "150x205", songs=songs)

    assert {each.unit: each.presses for each in plan.placed} == {"fuzz": 1, "drive": 4}
    assert places(plan) == {"drive": (25, 0, 0), "fuzz": (25, 105, 0)}


@pytest.mark.parametrize(("size", "turned"), [("600x320", 0), ("150x320", 90)])
def test_what_feet_press_is_turned_sideways_only_where_it_does_not_fit_otherwise(size: str, turned: int) -> None:
    """A row of footswitches across the way of a foot is worse than a longer lead, whatever that saves."""
    deep = unit(200, 120, "right", "left", "top", switches={"main": {"foot": True}, "boost": {"foot": True}})
    units = {"first": unit(60, 60, "left"), "deep": unit(220, 110, "top", switches=dict(deep.switches))}
    songs = song({"a": {"deep": {"main": "on"}}, "b": {"deep": {"main": "off"}}}, "a", "b", "a")

    plan = on_board(units, size, songs=songs)

    assert plan.fits
    assert places(plan)["deep"][2] in ((0,) if not turned else (90, 270))


def test_only_the_gigs_that_are_named_count() -> None:
    """Another tour's habits are no reason to bend down."""
    units = {"fuzz": unit(100, 100), "drive": unit(100, 100)}
    songs = {name: song({"a": {name: "on"}}, "a") for name in units}
    both = library(units, rig(*units), songs).model_copy(update={"gigs": {name: gig(name) for name in units}})

    assert presses_of(both, RIG).by_unit == {"fuzz": 1, "drive": 1}
    assert presses_of(both, RIG, ["drive"]).by_unit == {"drive": 1}
    assert presses_of(both, RIG, ["drive"]).gigs == ("drive",)


def test_who_plays_a_units_part_tonight_is_pressed_in_its_place() -> None:
    """The hired fuzz stands where the player's own does."""
    units = {"fuzz": unit(100, 100), "fuzz, hired": unit(90, 90)}
    hired = gig("one", played_by={"fuzz": "fuzz, hired"})

    assert presses_of(library(units, rig("fuzz"), {"one": song({"a": {"fuzz": "on"}}, "a")}, hired), RIG).by_unit == {
        "fuzz": 1
    }


def unplayable() -> Library:
    """A gig with a scene that the rig has no way to reach."""
    units = {"fuzz": unit(100, 100, foot=False)}
    return library(units, rig("fuzz"), {"one": song({"a": {"fuzz": "on"}}, "a")})


def test_a_gig_that_the_rig_cannot_play_is_told_and_not_counted() -> None:
    """Unless it was asked for: then it is an error."""
    counted = presses_of(unplayable(), RIG)

    assert (counted.by_unit, counted.gigs) == ({}, ())
    assert len(counted.not_counted) == 1
    assert counted.not_counted[0].startswith(f"gig '{GIG}': ")
    with pytest.raises(SceneError):
        presses_of(unplayable(), RIG, [GIG])


def test_the_signal_runs_from_right_to_left_where_nothing_speaks_against_it() -> None:
    """So leads are short, and the instrument is plugged in at the right."""
    units = {name: unit(60, 100, "left", "right") for name in ("tuner", "fuzz", "delay")}

    found = places(on_board(units, "400x100"))

    assert found["tuner"][0] > found["fuzz"][0] > found["delay"][0]


def test_a_unit_without_a_size_is_named_and_never_guessed() -> None:
    """The rest is planned without it."""
    plan = on_board({"fuzz": unit(100, 100, "top"), "looper": build.unit()}, "100x125")

    assert (plan.fits, plan.no_size) == (True, ("looper",))
    assert list(places(plan)) == ["fuzz"]


def test_a_unit_without_jacks_is_named_too() -> None:
    """Its room for plugs is missing in the count."""
    plan = on_board({"fuzz": unit(100, 100), "delay": unit(50, 50, "top")}, "200x100")

    assert plan.no_jacks == ("fuzz",)


@pytest.mark.parametrize(("rig_name", "size"), [("fly board", "380x340"), ("fly board", "420x320")])
def test_a_rig_that_does_not_fit_is_told_the_least_larger_board(rig_name: str, size: str) -> None:
    """It fits on that one, and on none that is a step smaller."""
    plan = plan_board(demo_library(), rig_name, read_board(size), seconds=PATIENT)

    assert plan.fits is False
    assert plan.placed == ()
    assert plan.larger is not None
    assert plan.larger_is_least
    width, depth = plan.larger
    assert (width - plan.board.width) % 10 == (depth - plan.board.depth) % 10 == 0
    assert plan_board(demo_library(), rig_name, plan.larger, seconds=PATIENT, effort=0.1).fits is True
    for less in (Board(width - 10, depth), Board(width, depth - 10)):
        if less.width >= plan.board.width and less.depth >= plan.board.depth:
            assert plan_board(demo_library(), rig_name, less, seconds=PATIENT).fits is False


def test_what_was_neither_fitted_nor_refused_in_the_time_is_said_to_be_not_known() -> None:
    """A millionth of a second proves nothing."""
    plan = plan_board(demo_library(), "hall board", Board(780, 400), seconds=1e-6)

    assert (plan.fits, plan.placed, plan.larger) == (None, (), None)


def test_a_unit_beside_the_board_takes_no_room_and_its_leads_are_not_cut() -> None:
    """A volume pedal on the floor."""
    units = {"fuzz": unit(100, 100, "top"), "wah pedal": unit(300, 300, "top"), "delay": unit(100, 100, "top")}

    plan = on_board(units, "205x125", beside=("wah",))

    assert (plan.fits, plan.beside) == (True, ("wah pedal",))
    assert plan.leads == ()
    assert plan.off_board == ("signal: fuzz out to wah pedal in", "signal: wah pedal out to delay in")


def test_what_stands_beside_the_board_leaves_no_gap() -> None:
    """Its neighbours along the chain come together, plugs counted."""
    units = {name: unit(100, 100, "left", "right") for name in ("fuzz", "octave", "delay")}

    found = places(on_board(units, "900x100", beside=["octave"]))

    assert found["fuzz"][0] - found["delay"][0] == 100 + 2 * PLUG


def test_a_lead_is_as_long_as_its_way_along_the_board_and_a_little_more() -> None:
    """Rounded up to 5 cm: 50 mm between the jacks, 100 for plugs and a bend."""
    units = {name: unit(100, 100, "left", "right") for name in ("fuzz", "delay")}

    (lead,) = on_board(units, "300x100").leads

    assert (lead.start.unit, lead.start.jack, lead.start.side) == ("fuzz", "out", "left")
    assert (lead.stop.unit, lead.stop.jack, lead.stop.side) == ("delay", "in", "right")
    assert (lead.start.x, lead.start.y, lead.stop.x, lead.stop.y) == (175, 50, 125, 50)
    assert (lead.way_mm, lead.cut_mm) == (50, 150)


def test_midi_leads_from_thru_are_cut_and_those_from_a_computer_are_named() -> None:
    """How far the computer stands away no board knows."""
    units = {name: unit(100, 100, "top") for name in ("multi", "delay")}
    placement = {"port": "main", "channel": 1}

    plan = on_board(
        units,
        "205x125",
        units={"multi": placement, "delay": {**placement, "channel": 2}},
        leads=[{"port": "main", "to": "multi"}, {"thru": "multi", "to": "delay"}],
    )

    assert [(lead.start.jack, lead.stop.jack) for lead in plan.leads if lead.kind == "MIDI"] == [
        ("MIDI thru", "MIDI in")
    ]
    assert plan.off_board == ("MIDI: port main to multi MIDI in",)


def test_a_unit_outside_the_chain_is_on_the_board_and_named_for_its_lead() -> None:
    """Where its signal goes no chain says."""
    units = {"fuzz": unit(100, 100, "top"), "drone": unit(50, 50, "top")}

    plan = on_board(units, "205x125", chain=("fuzz",), units={"drone": {}})

    assert set(places(plan)) == {"fuzz", "drone"}
    assert set(plan.no_lead) == {"fuzz", "drone"}


@pytest.mark.parametrize(
    "text", ["", "600", "600x", "x320", "600x-320", "0x320", "10x10", "9999x400", "nanxinf", "1e3x200"]
)
def test_a_size_without_sense_is_an_error(text: str) -> None:
    """And says what is accepted."""
    with pytest.raises(BadValueError, match="WIDTHxDEPTH in mm, each from 50 to 3000"):
        read_board(text)


@pytest.mark.parametrize("text", ["600x320", " 600 X 320 mm ", "600×320", "600.9x320.0"])
def test_a_size_is_read_as_people_write_it(text: str) -> None:
    """Parts of a mm are no room."""
    assert read_board(text) == Board(600, 320)


def test_a_board_smaller_than_a_unit_is_an_error_that_names_it() -> None:
    """No arrangement helps there."""
    units = {"fuzz": unit(100, 100, "top"), "multi": unit(300, 150, "top")}

    said = "410 × 200 mm would do: the least that holds"
    with pytest.raises(BadValueError, match=r"200 × 200 mm, is smaller than the unit 'multi', 300 × 150 mm") as caught:
        on_board(units, "200x200")

    assert said in str(caught.value)
    assert on_board(units, "410x200").fits is True


def test_all_units_that_are_larger_than_the_board_are_named() -> None:
    """So that nobody comes back for the second."""
    units = {"fuzz": unit(100, 100, "top"), "multi": unit(300, 150, "top")}

    with pytest.raises(BadValueError, match="smaller than the units 'fuzz', 100 × 100 mm, 'multi', 300 × 150 mm"):
        on_board(units, "90x90")


def test_a_unit_that_only_its_plugs_make_too_large_does_not_fit() -> None:
    """That is no mistake: the larger board is told."""
    plan = on_board({"fuzz": unit(100, 100, "top", "left", "right")}, "100x100")

    assert (plan.fits, plan.larger, plan.larger_is_least) == (False, Board(150, 130), True)


def test_only_what_the_rig_carries_can_stand_beside_its_board() -> None:
    """Anything else is a mistake in writing."""
    with pytest.raises(UnknownNameError, match="no unit of the rig is called 'wah'; accepted: 'fuzz'"):
        on_board({"fuzz": unit(100, 100, "top")}, "200x200", beside=("wah",))
