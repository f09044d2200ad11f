"""Knobs that neighbouring scenes want in two places, and what ends it."""

from typing import Any

import pytest

from scenebook.model import Unit
from scenebook.model.values import Scale
from scenebook.planning.knobs import Knob, Wanted, knobs
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

FUZZ = unit(
    roles=["fuzz"],
    switches={"main": {"foot": True}},
    controls={"gain": "clock", "kind": {"scale": "choice", "choices": ["soft", "hard"], "hand": True}},
)


def scene(gain: str, *, on: bool = True, **more: Any) -> dict[str, Any]:
    return {"fuzz": {"main": "on" if on else "off", "gain": gain}, **more}


def clashes(
    *songs: dict[str, Any], segue: bool = False, units: dict[str, Unit] | None = None, **of_rig: Any
) -> tuple[Knob, ...]:
    """Return what clashes in songs "0", "1" and so on, played in order."""
    all_units = {"fuzz": FUZZ, **(units or {})}
    named = {str(number): song(scenes, tempo=120) for number, scenes in enumerate(songs)}
    order = [{"song": name, "segue": segue} for name in named]
    return knobs(library(all_units, rig(*of_rig.pop("chain", ["fuzz"]), **of_rig), named, gig(*order)), RIG)


def test_two_places_within_the_tolerance_of_a_third_have_a_compromise() -> None:
    """Half an hour either way: 9:00 and 9:45 both allow for 9:22."""
    (knob,) = clashes({"low": scene("9 o'clock"), "high": scene("9:45")})

    assert (knob.gig, knob.unit, knob.control, knob.scale, knob.times) == (GIG, "fuzz", "gain", Scale.CLOCK, 1)
    assert knob.wanted == (
        Wanted("0", "low", "9 o'clock", pytest.approx(0.2)),
        Wanted("0", "high", "9:45", pytest.approx(0.275)),
    )
    assert (knob.compromise, knob.off, knob.second) == (pytest.approx(0.2375), 0.0, None)


def test_places_too_far_apart_have_a_middle_and_how_far_it_is_off() -> None:
    """9 and 3 o'clock: noon is three hours off."""
    (knob,) = clashes({"low": scene("9 o'clock"), "high": scene("3 o'clock")})

    assert (knob.compromise, knob.off) == (pytest.approx(0.5), pytest.approx(0.3))


def test_within_its_tolerance_nobody_turns_a_knob() -> None:
    """So nothing clashes."""
    assert clashes({"low": scene("9 o'clock"), "high": scene("9:20")}) == ()


def when(found: tuple[Knob, ...]) -> list[tuple[int, int, int]]:
    """Return of each knob how often it is turned while its unit sounds, while that is silent, and in a gap."""
    return [(knob.times, knob.silent, knob.in_gap) for knob in found]


def test_between_songs_a_hand_has_time_unless_a_segue_joins_them() -> None:
    """In the gap nothing sounds; it is told all the same, since a second unit or a middle spares the hand."""
    songs = {"a": scene("9 o'clock")}, {"b": scene("3 o'clock")}

    assert when(clashes(*songs)) == [(0, 0, 1)]
    assert when(clashes(*songs, segue=True)) == [(1, 0, 0)]


def test_while_its_unit_is_silent_a_knob_may_be_turned() -> None:
    """Nobody hears it; and where it is not heard in one of the two places, it is wanted in one alone."""
    assert clashes({"a": scene("9 o'clock"), "b": scene("3 o'clock", on=False)}) == ()
    assert when(clashes({"a": scene("9 o'clock"), "b": {}, "c": scene("3 o'clock")})) == [(0, 1, 0)]


def test_the_compromise_looks_at_every_place_that_a_gig_wants() -> None:
    """Two places clash within a song, and the third comes after a gap: the middle of all three is told."""
    (knob,) = clashes({"a": scene("9 o'clock"), "b": scene("11 o'clock")}, {"c": scene("3 o'clock")})

    assert when((knob,)) == [(1, 0, 1)]
    assert [each.text for each in knob.wanted] == ["9 o'clock", "11 o'clock", "3 o'clock"]
    assert (knob.compromise, knob.off) == (pytest.approx(0.5), pytest.approx(0.3))


def test_a_knob_that_a_message_sets_is_no_matter() -> None:
    """It gets there by itself."""
    by_message = {"gain": {"scale": "clock", "message": {"controller": 20}, "hand": True}}
    heard = unit(switches={"main": {"foot": True}}, controls=by_message)
    scenes = {"a": scene("9 o'clock"), "b": scene("3 o'clock")}

    of = library({"fuzz": heard}, rig("fuzz", units={"fuzz": {"port": "p", "channel": 1}}), song(scenes), gig("song"))
    assert knobs(of, RIG) == ()
    deaf = library({"fuzz": heard}, rig("fuzz"), song(scenes), gig("song"))
    assert len(knobs(deaf, RIG)) == 1


def test_between_choices_there_is_no_middle() -> None:
    """Only a second unit ends it."""
    scenes = {kind: {"fuzz": {"main": "on", "kind": kind}} for kind in ("soft", "hard")}

    (knob,) = clashes(scenes, units={"other": FUZZ})

    assert (knob.compromise, knob.off, knob.second, knob.second_is_carried) == (None, 0.0, "other", False)


def second(**units: Unit) -> tuple[str | None, bool]:
    """Return what ends a clash on a board of the fuzz and "carried"; the second scene has "busy" on."""
    chain = ["fuzz", *(name for name in units if name in ("carried", "busy"))]
    busy = {"busy": "on"} if "busy" in units else {}
    (knob,) = clashes({"a": scene("9 o'clock"), "b": scene("3 o'clock", **busy)}, units=units, chain=chain)
    return knob.second, knob.second_is_carried


def test_the_second_unit_has_the_same_knob_and_is_there_and_silent_else_an_owned_and_light_one() -> None:
    """What is carried already weighs nothing more."""
    foot: dict[str, Any] = {"switches": {"main": {"foot": True}}, "controls": {"gain": "clock"}}
    light, heavy = unit(roles=["fuzz"], weight_g=100, **foot), unit(roles=["fuzz"], weight_g=900, **foot)
    dear, delay = unit(roles=["fuzz"], weight_g=50, owned=False, **foot), unit(roles=["delay"], **foot)

    assert second(carried=heavy, light=light) == ("carried", True)
    assert second(busy=heavy, light=light) == ("light", False)
    assert second(heavy=heavy, dear=dear, light=light, delay=delay) == ("light", False)
    assert second(delay=delay) == (None, False)


@pytest.mark.parametrize("controls", [{}, {"tone": "clock"}, {"gain": {"scale": "dB", "hand": True}}])
def test_a_unit_of_like_role_without_the_knob_is_no_second(controls: dict[str, Any]) -> None:
    """A clean boost has no tone to be turned."""
    assert second(carried=unit(roles=["fuzz"], switches={"main": {"foot": True}}, controls=controls)) == (None, False)


@pytest.mark.parametrize(("carries", "found"), [({"gain": "drive"}, "carried"), ({}, None), ({"kind": "drive"}, None)])
def test_a_stand_in_that_carries_the_knob_over_tells_a_second(carries: dict[str, str], found: str | None) -> None:
    """By the player's own ear, whatever its role and whatever the knob is called there."""
    other = unit(roles=["drive"], switches={"main": {"foot": True}}, controls={"drive": "percent"})
    says = {"part": "fuzz", "by": "carried", "switch": "main", "likeness": 0.5, "controls": carries}
    scenes = {"a": scene("9 o'clock"), "b": scene("3 o'clock")}

    (knob,) = clashes(scenes, units={"carried": other}, chain=["fuzz", "carried"], stand_ins=[says])

    assert (knob.second, knob.second_is_carried) == (found, found is not None)


def test_the_likest_of_several_carried_is_told() -> None:
    """One by a better ear before one that merely has the same knob."""
    units = {name: unit(roles=["fuzz"], switches={"main": {"foot": True}}, controls={"gain": "clock"}) for name in "ab"}
    says = {"part": "fuzz", "by": "b", "switch": "main", "likeness": 0.5, "controls": {"gain": "gain"}}
    scenes = {"a": scene("9 o'clock"), "b": scene("3 o'clock")}

    (knob,) = clashes(scenes, units=units, chain=["fuzz", "a", "b"], stand_ins=[says])

    assert knob.second == "b"


def test_all_that_clashes_in_a_gig_counts_for_the_compromise() -> None:
    """Each pair for itself would have one; all three together have none."""
    scenes = {"a": scene("9 o'clock"), "b": scene("9:45"), "c": scene("10:30")}

    (knob,) = clashes(scenes)

    assert (knob.times, len(knob.wanted)) == (2, 3)
    assert (knob.compromise, knob.off) == (pytest.approx(0.275), pytest.approx(0.075))
