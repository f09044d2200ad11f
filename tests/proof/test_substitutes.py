"""Stand-ins play the parts of units that stay at home (S7 to S9)."""

from typing import Any

import pytest

from scenebook.proof.reading import Asked, read_gig
from tests.support.build import GIG, RIG, gig, library, rig, song, unit

OLD = unit(
    switches={"main": {}, "deep": {}},
    controls={"gain": "0 to 10", "tone": "0 to 10"},
    preset=[{"slot": "0", "name": "organ"}, {"slot": "1", "name": "choir"}],
)
FUZZ = unit(controls={"drive": "percent", "rate": "Hz"})
PIPES: list[dict[str, Any]] = [{"slot": "0", "name": "pipes", "stores": {"c": "on"}}, {"slot": "1"}]
MULTI = unit(
    switches={"a": {"section": "drive"}, "b": {"section": "fuzz"}, "c": {"section": "delay"}},
    preset=PIPES,
    sections_at_once=2,
)


def asked(stand_ins: list[dict[str, Any]], scene: Any, **said: Any) -> dict[str, Asked]:
    """Return what a scene asks of a fuzz, a wah and a multi-effects, where `old` and `older` stay at home."""
    made = rig("fuzz", "wah", "multi", stand_ins=[{"part": "old", **each} for each in stand_ins])
    units = {"old": OLD, "older": OLD, "fuzz": FUZZ, "wah": unit(), "multi": MULTI}
    of = library(units, made, song({"a": scene}), gig("song", **said))
    return dict(read_gig(of, of.gigs[GIG], of.rigs[RIG])[1][1].units)


def on(found: dict[str, Asked]) -> list[str]:
    return [f"{n}.{m}" for n, each in found.items() for m, value in each.values.items() if value == "on"]


TO_FUZZ = {"by": "fuzz", "switch": "main"}
TO_WAH = {"by": "wah", "switch": "main"}


def test_a_missing_unit_is_played_by_its_stand_in() -> None:
    """Only what is mapped carries over; a control does on its own scale."""
    found = asked([{**TO_FUZZ, "controls": {"gain": "drive"}}], {"old": {"main": "on", "gain": "5", "tone": "3"}})

    assert found["fuzz"] == Asked(None, None, {"main": "on", "drive": 64})


def test_off_is_no_need() -> None:
    """Nobody plays a part that is silent (S7)."""
    assert on(asked([TO_FUZZ], {"old": "off"})) == []


def test_the_entry_for_the_switch_goes_before_the_one_for_the_unit() -> None:
    """However alike the other is; within each group the likeness decides, then the rig."""
    own = {**TO_WAH, "part_switch": "main", "likeness": 0.2}

    assert on(asked([TO_FUZZ, own], {"old": "on"})) == ["wah.main"]
    assert on(asked([{**TO_FUZZ, "likeness": 0.4}, {**TO_WAH, "likeness": 0.5}], {"old": "on"})) == ["wah.main"]
    assert on(asked([TO_WAH, TO_FUZZ], {"old": "on"})) == ["wah.main"]


def test_other_members_need_an_entry_of_their_own() -> None:
    """The unit as a whole is its main switch."""
    assert on(asked([TO_FUZZ], {"old": {"deep": "on"}})) == []
    assert on(asked([{**TO_FUZZ, "part_switch": "deep"}], {"old": {"deep": "on"}})) == ["fuzz.main"]


def test_without_main_the_whole_unit_is_its_preset() -> None:
    """A scene that names the preset alone needs the preset."""
    assert on(asked([TO_FUZZ], {"old": {"preset": "organ"}})) == ["fuzz.main"]
    assert on(asked([TO_FUZZ], {"old": {"preset": "organ", "main": "off"}})) == []


def test_a_preset_may_stand_in_for_a_preset() -> None:
    """By slot or by name; another preset is another need."""
    organ = {"part_preset": "organ", "by": "multi", "preset": "pipes"}

    assert asked([organ], {"old": {"preset": "0"}})["multi"] == Asked(0, None, {"a": "off", "b": "off", "c": "on"})
    assert asked([organ], {"old": {"preset": "choir"}})["multi"].slot is None


@pytest.mark.parametrize("said", ["on", "off", "leave", {"main": "leave"}])
def test_what_the_scene_says_of_the_place_wins(said: Any) -> None:
    """Then the need takes its next stand-in."""
    assert "wah.main" in on(asked([TO_FUZZ, {**TO_WAH, "likeness": 0.1}], {"old": "on", "fuzz": said}))


def test_one_place_meets_one_need() -> None:
    """The more alike keeps it, then the earlier in the scene; who loses takes its next."""
    other = {"part": "older", "by": "fuzz", "switch": "main", "likeness": 0.9}
    next_best = {"part": "old", "by": "wah", "switch": "main", "likeness": 0.1}
    both = {"old": "on", "older": "on"}

    assert on(asked([{**TO_FUZZ, "likeness": 0.8, "controls": {"gain": "drive"}}, other, next_best], both)) == [
        "fuzz.main",
        "wah.main",
    ]
    even = {"part": "older", "by": "fuzz", "switch": "main", "controls": {"gain": "drive"}}
    scene = {"old": {"main": "on", "gain": "10"}, "older": {"main": "on", "gain": "0"}}
    assert asked([even, {**TO_FUZZ, "controls": {"gain": "drive"}}], scene)["fuzz"].values["drive"] == 127


def test_an_entry_for_a_switch_is_none_for_a_preset() -> None:
    """Each is a need of its own."""
    assert on(asked([{**TO_FUZZ, "part_switch": "main"}], {"old": {"preset": "organ"}})) == []


def test_a_control_that_the_stand_in_cannot_take_is_not_carried() -> None:
    """Hertz do not go on a scale of 0 to 10, and what is left has no value."""
    hertz = {"part": "old", **TO_FUZZ, "controls": {"gain": "rate", "tone": "drive"}}

    assert asked([hertz], {"old": {"main": "on", "gain": "5", "tone": "leave"}})["fuzz"].values == {"main": "on"}


def test_a_unit_has_so_many_sections_at_once() -> None:
    """What the scene says counts; beyond the limit the least alike is refused."""
    parts = [
        {"part_switch": "main", "by": "multi", "switch": "a", "likeness": 0.5},
        {"part_switch": "deep", "by": "multi", "switch": "b", "likeness": 0.6},
    ]
    scene = {"old": {"main": "on", "deep": "on"}}

    assert on(asked(parts, scene)) == ["multi.a", "multi.b"]
    assert on(asked(parts, {**scene, "multi": {"c": "on"}})) == ["multi.b", "multi.c"]
    assert on(asked([*parts, {**TO_WAH, "part_switch": "main"}], scene)) == ["wah.main", "multi.b"]


def cues(stand_ins: list[dict[str, Any]], *scenes: Any, **home: Any) -> list[dict[str, Asked]]:
    """Return what each scene of a song asks of a box that a foot turns on, with one section at once."""
    switches = {"main": {"foot": True}, **{name: {"section": "drive"} for name in "abc"}}
    box = unit(switches=switches, preset=PIPES, sections_at_once=1)
    made = rig("box", stand_ins=[{"by": "box", **each} for each in stand_ins], home=home)
    of = library({"old": OLD, "older": OLD, "box": box}, made, song({str(n): each for n, each in enumerate(scenes)}))
    return [dict(reading.units) for reading in read_gig(of, of.gigs[GIG], of.rigs[RIG])[1][1:]]


OLD_BY_A, OLDER_BY_B = {"part": "old", "switch": "a"}, {"part": "older", "switch": "b"}


def test_who_plays_a_part_is_turned_on_and_left_on() -> None:
    """Unless the scene says something of its main switch; one that it turns off plays nothing."""
    first, left, last = cues([OLD_BY_A], {"old": "on"}, {"old": "leave"}, {})

    assert [on(each) for each in (first, left, last)] == [["box.main", "box.a"], ["box.main", "box.a"], []]
    assert on(cues([OLD_BY_A], {"old": "on", "box": "off"})[0]) == []


def test_sections_that_are_left_or_on_by_home_or_by_a_preset_count() -> None:
    """There is room for one."""
    by_pipes = {"part": "old", "preset": "pipes", "likeness": 0.9}
    both = {"old": "on", "older": "on"}

    assert on(cues([OLD_BY_A, OLDER_BY_B], {"old": "on"}, {"old": "leave", "older": "on"})[1]) == ["box.main", "box.a"]
    assert on(cues([OLDER_BY_B], {"box": {"a": "on"}}, {"box": {"a": "leave"}, "older": "on"})[1]) == ["box.a"]
    assert on(cues([OLDER_BY_B], {"older": "on"}, box={"a": "on"})[0]) == ["box.a"]
    assert on(cues([by_pipes, {**OLDER_BY_B, "likeness": 0.5}], both)[0]) == ["box.main", "box.c"]
    assert on(cues([by_pipes, OLDER_BY_B], both)[0]) == ["box.main", "box.b"]


def test_a_unit_that_is_out_is_played_by_its_stand_in() -> None:
    """The same stand-ins serve tonight; one that is out itself serves nobody, and there are no chains."""
    stand_ins = [{"part": "fuzz", **TO_WAH}, {"part": "wah", "by": "multi", "switch": "a"}]

    assert on(asked(stand_ins, {"fuzz": "on"}, out=["fuzz"])) == ["wah.main"]
    assert on(asked(stand_ins, {"fuzz": "on"}, out=["fuzz", "wah"])) == []


def test_a_loop_turns_on_who_plays_a_part_only_where_the_rig_has_nobody_else_in_it() -> None:
    """With the other one out the loop stays shared, and is no main switch of the one that is left (S8, S11)."""
    units = {"old": OLD, "box": unit(switches={"main": {}, "a": {}}), "wah": unit(), "looper": unit(switches={"1": {}})}
    for inside, found in ((["box"], ["box.main", "box.a", "looper.1"]), (["box", "wah"], ["box.a"])):
        made = rig(*inside, loops={"looper": {"1": inside}}, stand_ins=[{**OLD_BY_A, "by": "box"}])
        of = library(units, made, song({"a": {"old": "on"}}), gig("song", out=["wah"]))
        assert sorted(on(dict(read_gig(of, of.gigs[GIG], of.rigs[RIG])[1][1].units))) == sorted(found)
