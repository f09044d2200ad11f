"""The choice of units: proved best means that nothing else is better, whatever the library."""

import random
from itertools import product
from time import perf_counter
from types import MappingProxyType
from typing import Any

import pytest

from scenebook.cli.choose_words import choice_lines
from scenebook.errors import BadValueError
from scenebook.model import Library, Switch
from scenebook.planning.asking import hears_midi, instance_of
from scenebook.planning.choice import Progress
from scenebook.planning.limits import read_limits
from scenebook.planning.naming import rig_of
from scenebook.planning.picking import best_rig, gains, question
from scenebook.planning.reach import reach

PARTS = ("drive", "delay", "filter")
KINDS = MappingProxyType({"single": 0.6, "multi": 0.4})


_BY_MESSAGE = Switch.model_validate({"message": {"controller": 20}})


def random_library(seed: int, count: int) -> Library:
    """Return a library with single units and multi-effects, stand-ins near and wide, colours, presets and leaving."""
    pick = random.Random(seed)
    units = {f"unit {number}": _unit(pick) for number in range(count)}
    switches = {name: list(unit["switches"]) for name, unit in units.items()}
    stand_ins = [each for part in units for each in _stand_ins(pick, part, units, switches)]
    homes = {name: {pick.choice(switches[name]): "on"} for name in units if pick.random() < 0.2}
    rigs = {"all": {"chain": list(units), "stand_ins": stand_ins, "home": homes}}
    songs = {f"song {number}": {"scenes": _scenes(pick, units, switches)} for number in range(pick.randint(1, 4))}
    return Library.model_validate({"units": units, "rigs": rigs, "songs": songs})


def _unit(pick: random.Random) -> dict[str, Any]:
    weight = {"weight_g": pick.choice([200, 300, 400, 500])}
    if pick.random() < KINDS["single"]:
        return {"switches": {"main": {"foot": True}}, **weight, "owned": pick.random() < 0.5, "price": 100}
    sections = {part: {"foot": True, "section": part} for part in PARTS}
    return {
        "switches": {"main": {"foot": True}, **sections},
        "programs": {"count": 4, "foot": True},
        "presets": [{"slot": slot, "stores": _stores(pick), "rest": "off"} for slot in "12"],
        "sections_at_once": pick.choice([None, 1, 2]),
        **weight,
    }


def _stores(pick: random.Random) -> dict[str, str]:
    return {each: pick.choice(["on", "off"]) for each in pick.sample(["main", *PARTS], 2)}


def _stand_ins(
    pick: random.Random, part: str, units: dict[str, dict[str, Any]], switches: dict[str, list[str]]
) -> list[dict[str, Any]]:
    found: dict[tuple[object, ...], dict[str, Any]] = {}
    for by in pick.sample(list(units), min(len(units), 4)):
        if by == part:
            continue
        near = pick.choice([None, None, *switches[part]])
        place = {"switch": pick.choice(switches[by])}
        if "programs" in units[by] and pick.random() < 0.3:
            place = {"preset": pick.choice("1234")}
        said = {"part": part, "by": by, **place, "likeness": pick.randint(0, 10) / 10}
        if near:
            said["part_switch"] = near
        elif "programs" in units[part] and pick.random() < 0.3:
            said["part_preset"] = pick.choice("1234")
        found[tuple(sorted(said.items()))] = said
    return list(found.values())


def _scenes(pick: random.Random, units: dict[str, dict[str, Any]], switches: dict[str, list[str]]) -> dict[str, Any]:
    """Return some scenes, of which each leaves some units that the one before names."""
    scenes: dict[str, Any] = {}
    named: list[str] = []
    for number in range(pick.randint(1, 4)):
        scene = scenes[f"scene {number}"] = _scene(pick, units, switches)
        scene["units"] |= {name: {"leave": "unit"} for name in named if pick.random() < 0.3}
        scene["colours"] = [name for name in scene["colours"] if "leave" not in scene["units"][name]]
        named = list(scene["units"])
    return scenes


def _scene(pick: random.Random, units: dict[str, dict[str, Any]], switches: dict[str, list[str]]) -> dict[str, Any]:
    settings: dict[str, dict[str, str]] = {}
    for name in pick.sample(list(units), pick.randint(1, min(4, len(units)))):
        if pick.random() < 0.1:
            settings[name] = {"leave": "unit"}
            continue
        setting = {key: pick.choice(["on", "on", "off", "leave"]) for key in pick.sample(switches[name], 1)}
        if "programs" in units[name] and pick.random() < 0.4:
            setting["preset"] = pick.choice("1234")
        settings[name] = setting
    colours = [name for name in settings if pick.random() < 0.3]
    return {"units": settings, "colours": colours}


def _worth(library: Library, names: tuple[str, ...], *, mean: bool) -> float:
    there = library.model_copy(update={"rigs": {"it": rig_of(library, names)}})
    return reach(there, "it", mean=mean, tonight=False).worth


@pytest.mark.parametrize("seed", range(40))
def test_the_choice_is_as_good_as_the_best_of_all_sets_of_units(seed: int) -> None:
    """Every set is asked of the very states that are compiled: none within the limits is worth more, or lighter."""
    pick = random.Random(-seed)
    library = random_library(seed, count=pick.randint(2, 6))
    names = list(library.units)
    mean = pick.random() < 0.3
    texts = pick.sample(["weight=900g", f"units={pick.randint(1, 4)}", "price=150"], pick.randint(0, 3))
    limits = read_limits(texts, library.units)
    must = pick.sample(names, 1) if pick.random() < 0.2 else []
    never = [name for name in pick.sample(names, 1) if name not in must] if pick.random() < 0.2 else []

    chosen = best_rig(question(library, limits=limits, must=must, never=never, mean=mean), seconds=60)

    def weight(units: tuple[str, ...]) -> float:
        return sum(library.units[name].weight_g or 0 for name in units)

    allowed = []
    for bits in product((False, True), repeat=len(names)):
        units = tuple(name for name, carried in zip(names, bits, strict=True) if carried)
        over = any(sum(limit.counts[name] or 0 for name in units) > limit.most for limit in limits)
        if not over and set(must) <= set(units) and not set(never) & set(units):
            allowed.append((_worth(library, units, mean=mean), units))
    top = max(worth for worth, _ in allowed)
    lightest = min((weight(units), len(units)) for worth, units in allowed if worth > top - 1e-6)
    assert chosen.proved
    assert chosen.worth == pytest.approx(top)
    assert (weight(chosen.units), len(chosen.units)) == lightest


@pytest.mark.parametrize("seed", range(60))
def test_a_set_of_units_is_worth_in_the_search_what_it_is_worth_on_stage(seed: int) -> None:
    """The search reckons with its own short form of the rules; it comes to what is compiled, for every set asked."""
    library = random_library(1000 + seed, count=10)
    pick = random.Random(seed)
    instance = instance_of(library)
    for _ in range(12):
        names = tuple(name for name in library.units if pick.random() < 0.5)
        assert instance.worth(instance.bits(names)) == pytest.approx(_worth(library, names, mean=False)), names


def test_small_sets_of_units_that_leave_much_are_worth_the_same_in_the_search_and_on_stage() -> None:
    """With few units what is left and what stands in want the same sections."""
    for seed in range(200):
        library = random_library(1000 + seed, count=5)
        pick, instance = random.Random(seed), instance_of(library)
        for _ in range(12):
            names = tuple(name for name in library.units if pick.random() < 0.5)
            assert instance.worth(instance.bits(names)) == pytest.approx(_worth(library, names, mean=False)), seed


def test_where_time_is_over_the_best_so_far_and_a_bound_are_given() -> None:
    """A player who stops the work keeps what was found, and learns how much better any other rig could be."""
    library = random_library(3, count=10)
    asked = question(library, limits=read_limits(["units=3"], library.units))
    told: list[Progress] = []

    def stop(far: Progress) -> bool:
        told.append(far)
        return False

    stopped = best_rig(asked, seconds=60, watch=stop)
    best = best_rig(question(library, limits=read_limits(["units=3"], library.units)), seconds=60)

    assert best.proved
    assert len(stopped.units) <= 3
    assert stopped.worth <= best.worth + 1e-6 <= stopped.bound + 2e-6


def test_what_a_limit_costs_is_what_one_step_more_gives() -> None:
    """One more unit is worth what the best rig of one more unit is worth, less what this one is."""
    library = random_library(5, count=8)

    def best(units: int) -> float:
        return best_rig(question(library, limits=read_limits([f"units={units}"], library.units)), seconds=60).worth

    asked = question(library, limits=read_limits(["units=2"], library.units))
    (gain,) = gains(asked, best_rig(asked, seconds=60), seconds=60)

    assert gain.proved
    assert gain.worth == pytest.approx(best(3) - best(2))


def test_a_unit_of_unknown_weight_is_named_and_never_taken_as_nothing() -> None:
    """Nobody knows whether it may be carried, so it stays out where weight is limited; one that must be is an error."""
    scene = {"units": {"big fuzz": {"main": "on"}}}
    said = {"units": {"big fuzz": {"switches": {"main": {"foot": True}}}, "tuner": {"weight_g": 100}}}
    library = Library.model_validate({**said, "songs": {"song": {"scenes": {"all": scene}}}})
    limits = read_limits(["weight=2kg"], library.units)

    chosen = best_rig(question(library, limits=limits), seconds=60)

    assert chosen.worth == 0
    assert chosen.unknown == (("weight", ("big fuzz",)),)
    with pytest.raises(BadValueError, match="nobody knows what 'big fuzz' counts towards the limit on weight"):
        question(library, limits=limits, must=["big fuzz"])


@pytest.mark.parametrize("seed", range(16))
def test_the_choice_of_a_dozen_units_is_as_good_as_the_best_of_all_sets(seed: int) -> None:
    """Four thousand sets, asked of the short form of the rules; the test above holds that form to the stage."""
    pick = random.Random(seed)
    library = random_library(2000 + seed, count=pick.randint(10, 12))
    limits = read_limits([f"weight={pick.randint(8, 20) * 100}g", f"units={pick.randint(2, 6)}"], library.units)
    asked = question(library, limits=limits, mean=seed % 4 == 0)
    within, instance = asked.within(*limits), asked.search.instance

    chosen = best_rig(asked, seconds=60)

    sets = [carried for carried in range(1 << len(library.units)) if within.fits(carried)]
    top = max(instance.worth(carried) for carried in sets)
    lightest = min(asked.search.lightness(carried) for carried in sets if instance.worth(carried) > top - 1e-6)
    assert chosen.proved
    assert chosen.settled
    assert chosen.worth == pytest.approx(top)
    assert asked.search.lightness(instance.bits(chosen.units)) == lightest


def test_a_unit_that_only_a_loop_works_is_named() -> None:
    """A stored rig has it in a loop and reaches more; a choice has no loops, and says what it left out for that."""
    units = {
        "switcher": {"switches": {"one": {"foot": True}}},
        "old fuzz": {"switches": {"main": {}}},
        "echo": {"switches": {"main": {"foot": True}}},
    }
    scenes = {"loud": {"units": {"old fuzz": {"main": "on"}}}, "far": {"units": {"echo": {"main": "on"}}}}
    loops = {"switcher": {"one": ["old fuzz"]}}
    rigs = {"stored": {"chain": list(units), "loops": loops}}
    library = Library.model_validate({"units": units, "songs": {"song": {"scenes": scenes}}, "rigs": rigs})

    chosen = best_rig(question(library), seconds=60)

    assert (reach(library, "stored").worth, chosen.worth) == (2.0, 1.0)
    assert chosen.looped == ("old fuzz",)
    said = list(choice_lines(chosen, ()))
    assert "Left out, since only a loop works them, and a choice has no loops: old fuzz" in said
    assert "Proved: no other without loops reaches more." in " ".join(said)
    assert best_rig(question(library, never=["old fuzz"]), seconds=60).looped == ()


def test_by_hand_what_only_a_message_works_is_not_there() -> None:
    """No computer travels: a unit that a foot works too is as good, one that hears messages alone is worth nothing."""
    message = {"message": {"controller": 80}}
    units = {
        "box": {"switches": {"main": message}, "weight_g": 100},
        "both": {"switches": {"main": {**message, "foot": True}}, "weight_g": 100},
    }
    scenes = {name: {"units": {name: {"main": "on"}}} for name in units}
    library = Library.model_validate({"units": units, "songs": {"song": {"scenes": scenes}}})

    wired, free = best_rig(question(library), seconds=60), best_rig(question(library, by_hand=True), seconds=60)

    assert (wired.units, wired.worth, wired.rig.ports) == (("box", "both"), 2.0, ("main",))
    assert (free.units, free.worth, free.rig.ports) == (("both",), 1.0, ())
    assert free.proved


@pytest.mark.parametrize("seed", range(20))
def test_by_hand_a_set_of_units_is_worth_in_the_search_what_it_is_worth_on_stage(seed: int) -> None:
    """As with MIDI: half of the units hear messages alone."""
    library, pick = random_library(4000 + seed, count=8), random.Random(seed)
    deaf = {name: pick.random() < 0.5 for name in library.units}
    units = {
        name: unit.model_copy(update={"switches": {**unit.switches, "main": _BY_MESSAGE}}) if deaf[name] else unit
        for name, unit in library.units.items()
    }
    library = library.model_copy(update={"units": units})
    instance = instance_of(library, by_hand=True)
    for _ in range(12):
        names = tuple(name for name in library.units if pick.random() < 0.5)
        there = library.model_copy(update={"rigs": {"it": rig_of(library, names, by_hand=True)}})
        worth = reach(there, "it", tonight=False).worth
        assert instance.worth(instance.bits(names)) == pytest.approx(worth), names


def test_a_song_that_leaves_something_for_hundreds_of_scenes_is_asked_in_moments() -> None:
    """Each scene follows the one before, and none is worked out twice."""
    fuzz = {"switches": {"main": {"foot": True}}}
    units = dict.fromkeys(("fuzz", "wah", "box"), fuzz)
    scenes = {"on": {"units": {"fuzz": {"main": "on"}}}}
    scenes["goes on"] = {"units": {"fuzz": {"leave": "unit"}, "wah": {"main": "on"}}}
    stand_in = {"part": "fuzz", "by": "box", "switch": "main", "likeness": 0.5}
    long = {"scenes": scenes, "form": ["on", *["goes on"] * 3000]}
    said = {"units": units, "songs": {"song": long}, "rigs": {"all": {"chain": ["box"], "stand_ins": [stand_in]}}}
    of = Library.model_validate({**said, "gigs": {"gig": {"sets": [{"name": "first", "songs": ["song"]}]}}})

    begun = perf_counter()
    instance = instance_of(of)
    worth = instance.worth(instance.bits(["wah", "box"]))

    assert worth == pytest.approx(_worth(of, ("wah", "box"), mean=False)) == pytest.approx(3000.5)
    assert perf_counter() - begun < 20  # a quarter of a second; the square of the length was minutes


def test_a_unit_of_which_a_message_reaches_variants_alone_has_a_channel_when_it_is_chosen() -> None:
    """Its presets are recalled by foot; without a channel the variant would be out of reach."""
    looper = {
        "switches": {"main": {"foot": True}, "half": {}},
        "programs": {"count": 4, "foot": True, "program_change": False},
        "presets": [{"slot": "1", "stores": {"main": "on"}, "variants": {"slow": {"controller": 20}}}],
    }
    library = Library.model_validate({"units": {"looper": looper}})

    assert hears_midi(library.units["looper"])
    assert rig_of(library, ["looper"]).units["looper"].channel == 1


def test_a_need_that_takes_its_first_place_can_leave_another_without() -> None:
    """The best sharing-out of places would serve both needs; places are shared out as on stage, and so it is told."""
    fuzz = {"switches": {"main": {"foot": True}}, "weight_g": 900}
    units = dict.fromkeys(("fuzz", "octave"), fuzz) | {
        name: {"switches": {"main": {"foot": True}}, "weight_g": 100} for name in ("small box", "other box")
    }
    stand_ins = [
        {"part": "fuzz", "by": "small box", "switch": "main", "likeness": 0.9},
        {"part": "fuzz", "by": "other box", "switch": "main", "likeness": 0.8},
        {"part": "octave", "by": "small box", "switch": "main", "likeness": 0.7},
    ]
    scene = {"units": {"fuzz": {"main": "on"}, "octave": {"main": "on"}}}
    library = Library.model_validate(
        {"units": units, "songs": {"song": {"scenes": {"all": scene}}}, "rigs": {"all": {"stand_ins": stand_ins}}}
    )

    boxes = best_rig(question(library, never=["fuzz", "octave"]), seconds=60)
    light = best_rig(question(library, limits=read_limits(["weight=1kg"], library.units)), seconds=60)

    assert (boxes.worth, boxes.bound, boxes.proved) == (0.0, 0.0, True)
    assert (light.units, light.worth) == (("octave", "small box"), 0.9)
