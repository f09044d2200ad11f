"""A preset of two sections is lacked although each section has a stand-in; what would help is told."""

from typing import Any

import pytest

from scenebook.model import Library
from scenebook.planning.reach import Outcome, reach
from scenebook.planning.section_presets import SectionPreset, section_presets
from tests.support.build import RIG, library, rig, song, unit

SECTIONS = ("modulation", "reverb", "delay")


def multi(*described: tuple[str, tuple[str, ...]], **more: Any) -> Any:
    """Return a multi-effects with presets by name, each with these sections on and the others off."""
    presets = [
        {"slot": str(at), "name": name, "stores": {each: "on" if each in on else "off" for each in SECTIONS}}
        for at, (name, on) in enumerate(described)
    ]
    switches = {each: {"foot": True, "section": each} for each in SECTIONS}
    return unit(switches=switches, programs={"count": 9, "first": "0", "foot": True}, preset=presets, **more)


WIDE = ("wide", ("modulation", "reverb"))
SCENES = {"verse": {"floor": {"preset": "wide"}}, "far": {"floor": {"preset": "far"}}}


def by_section(*switches: str, by: str = "pocket", likeness: float = 0.9) -> list[dict[str, Any]]:
    said = {"part": "floor", "by": by, "likeness": likeness}
    return [{**said, "part_switch": switch, "switch": switch} for switch in switches]


def flown(pocket: Any, stand_ins: list[dict[str, Any]], *form: str, **more: Any) -> Library:
    units = {"floor": multi(WIDE, ("far", ("delay", "reverb"))), "pocket": pocket, **more}
    return library(units, rig("pocket", *more, stand_ins=stand_ins), song(SCENES, *(form or ("verse", "far", "verse"))))


def told(of: Library) -> tuple[SectionPreset, ...]:
    return section_presets(of, reach(of, RIG))


def test_a_preset_of_two_sections_is_told_with_who_plays_both() -> None:
    """Played twice; of the delay nobody has said who plays it."""
    of = flown(multi(("bare", ())), by_section("modulation", "reverb"))

    assert {each.reached.outcome for each in reach(of, RIG).scenes} == {Outcome.LACKING}
    assert told(of) == (SectionPreset("floor", "wide", "pocket", ("modulation", "reverb"), "", 2),)


def test_what_is_told_meets_the_need_once_the_rig_says_so() -> None:
    """Word for word: unit, part_preset, by, preset."""
    of = flown(multi(("big", ("reverb", "modulation"))), by_section("modulation", "reverb"), "verse")
    (found,) = told(of)
    said = {"part": found.unit, "part_preset": found.part_preset, "by": found.by, "preset": found.preset}

    helped = flown(of.units["pocket"], [*by_section("modulation", "reverb"), {**said, "likeness": 0.8}], "verse")

    assert found.preset == "big"
    assert [each.reached.value for each in reach(helped, RIG).scenes] == [0.8]
    assert told(helped) == ()


@pytest.mark.parametrize(
    ("stand_ins", "more"),
    [
        (by_section("modulation"), {}),
        ([*by_section("modulation"), *by_section("reverb", by="second")], {}),
        (by_section("modulation", "reverb"), {"sections_at_once": 1}),
    ],
)
def test_where_no_one_unit_plays_all_of_it_nothing_is_told(
    stand_ins: list[dict[str, Any]], more: dict[str, Any]
) -> None:
    """Half of it, each half by another, or more at once than it can."""
    assert told(flown(multi(**more), stand_ins, "verse", second=multi())) == ()


def test_the_likest_of_several_is_told() -> None:
    """By its section that is least like its part."""
    stand_ins = [*by_section("modulation", "reverb", likeness=0.4), *by_section("modulation", "reverb", by="second")]

    (found,) = told(flown(multi(), stand_ins, "verse", second=multi()))

    assert found.by == "second"
