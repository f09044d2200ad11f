"""Choice equals brute force: on every random library, whatever is asked, no other set of units is better.

Libraries are built by Hypothesis through the model's own validation. Each set within what is asked is held against the
very states that are compiled (by planning/reach.py), never against the search's short form of the rules.
"""

from collections.abc import Iterator
from itertools import product
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scenebook.errors import BadValueError
from scenebook.model import Library
from scenebook.planning.limits import read_limits
from scenebook.planning.naming import rig_of
from scenebook.planning.picking import best_rig, question
from scenebook.planning.reach import reach

PARTS = ("drive", "delay", "filter")
LIKENESSES = [0.0, 0.3, 0.5, 0.7, 0.75, 0.9, 1.0]
EQUAL = 1e-6
USUAL = settings(deadline=None, max_examples=30, suppress_health_check=[HealthCheck.too_slow])
MANY = settings(deadline=None, max_examples=1500, suppress_health_check=[HealthCheck.too_slow], database=None)

Drawn = dict[str, Any]


@st.composite
def libraries(draw: st.DrawFn, most: int) -> Library:
    """Return a library of up to `most` units: single ones and multi-effects, stand-ins near and wide, and scenes."""
    count = draw(st.integers(2, most))
    units = {f"unit {number}": draw(some_unit()) for number in range(count)}
    stand_ins: dict[tuple[object, ...], Drawn] = {}
    for part in units:
        for by in draw(st.lists(st.sampled_from(sorted(units)), max_size=4, unique=True)):
            if by != part:
                said = draw(some_stand_in(part, by, units))
                stand_ins[tuple((key, text) for key, text in said.items() if key != "likeness")] = said
    songs = {f"song {number}": draw(some_song(units)) for number in range(draw(st.integers(1, 3)))}
    entries = [{"song": name, "segue": draw(st.booleans())} for name in songs for _ in range(draw(st.integers(1, 2)))]
    gigs = {"tour": {"sets": [{"name": "all", "songs": entries}]}} if draw(st.booleans()) else {}
    rigs = {"all": {"chain": list(units), "stand_ins": list(stand_ins.values())}}
    return Library.model_validate({"units": units, "rigs": rigs, "songs": songs, "gigs": gigs})


@st.composite
def some_unit(draw: st.DrawFn) -> Drawn:
    """Return a single unit, or a multi-effects that does some of its sections at once."""
    said: Drawn = {"weight_g": draw(st.sampled_from([200, 300, 300, 500])), "price": 100, "owned": draw(st.booleans())}
    if draw(st.booleans()):
        return {"switches": {"main": {"foot": True}}, **said}
    sections = {part: {"foot": True, "section": part} for part in PARTS}
    programs = {"programs": {"count": 4, "foot": True}} if draw(st.booleans()) else {}
    once = draw(st.sampled_from([None, 1, 1, 2]))
    return {"switches": {"main": {"foot": True}, **sections}, "sections_at_once": once, **programs, **said}


@st.composite
def some_stand_in(draw: st.DrawFn, part: str, by: str, units: dict[str, Drawn]) -> Drawn:
    """Return what may play a part: for one switch, one preset or the whole unit, by a switch or a preset."""
    said: Drawn = {"part": part, "by": by}
    if "programs" in units[by] and draw(st.integers(0, 3)) == 0:
        said["preset"] = draw(st.sampled_from("12"))
    else:
        said["switch"] = draw(st.sampled_from(list(units[by]["switches"])))
    near = draw(st.sampled_from(["", "", *units[part]["switches"]]))
    if near:
        said["part_switch"] = near
    elif "programs" in units[part] and draw(st.booleans()):
        said["part_preset"] = draw(st.sampled_from("12"))
    return {**said, "likeness": draw(st.sampled_from(LIKENESSES))}


@st.composite
def some_song(draw: st.DrawFn, units: dict[str, Drawn]) -> Drawn:
    """Return a song of up to three scenes, some of them played more than once."""
    scenes = {f"scene {number}": draw(some_scene(units)) for number in range(draw(st.integers(1, 3)))}
    return {"scenes": scenes, "form": draw(st.lists(st.sampled_from(sorted(scenes)), min_size=1, max_size=4))}


@st.composite
def some_scene(draw: st.DrawFn, units: dict[str, Drawn]) -> Drawn:
    """Return a scene of up to four units; some are colours, some are left as they were."""
    said: dict[str, dict[str, str]] = {}
    for name in draw(st.lists(st.sampled_from(sorted(units)), min_size=1, max_size=4, unique=True)):
        if draw(st.integers(0, 9)) == 0:
            said[name] = {"leave": "unit"}
            continue
        members = draw(st.lists(st.sampled_from(list(units[name]["switches"])), min_size=1, max_size=2, unique=True))
        said[name] = {member: draw(st.sampled_from(["on", "on", "on", "off", "leave"])) for member in members}
        if "programs" in units[name] and draw(st.integers(0, 2)) == 0:
            said[name]["preset"] = draw(st.sampled_from("12"))
    return {"units": said, "colours": [name for name in said if draw(st.integers(0, 3)) == 0]}


@st.composite
def wishes(draw: st.DrawFn, library: Library) -> Drawn:
    """Return what may be asked: limits, units that must and must never be carried, worst or mean."""
    texts = [f"weight={draw(st.integers(2, 20))}00g", f"units={draw(st.integers(1, 5))}", "price=200"]
    names = list(library.units)
    must = draw(st.lists(st.sampled_from(names), max_size=1))
    never = [name for name in draw(st.lists(st.sampled_from(names), max_size=1)) if name not in must]
    chosen = draw(st.lists(st.sampled_from(texts), max_size=3, unique=True))
    return {"limits": read_limits(chosen, library.units), "must": must, "never": never, "mean": draw(st.booleans())}


def allowed(library: Library, wish: Drawn) -> Iterator[tuple[str, ...]]:
    """Yield every set of units within what is asked."""
    for bits in product((False, True), repeat=len(library.units)):
        units = tuple(name for name, carried in zip(library.units, bits, strict=True) if carried)
        over = any(sum(limit.counts[name] or 0 for name in units) > limit.most + 1e-9 for limit in wish["limits"])
        if not over and set(wish["must"]) <= set(units) and not set(wish["never"]) & set(units):
            yield units


def worth_on_stage(library: Library, units: tuple[str, ...], *, mean: bool) -> float:
    """Return what states/ makes of all scenes on these units."""
    there = library.model_copy(update={"rigs": {"it": rig_of(library, units)}})
    return reach(there, "it", mean=mean, tonight=False).worth


def lightness(library: Library, units: tuple[str, ...]) -> tuple[float, int]:
    """Return what decides between sets of equal worth."""
    return sum(library.units[name].weight_g or 0.0 for name in units), len(units)


def check(library: Library, wish: Drawn) -> None:
    """Hold the choice against every set of units within what is asked."""
    try:
        asked = question(library, **wish)
    except BadValueError:
        assert sum(1 for _ in allowed(library, wish)) <= 1, "only where not even one unit may be carried"
        return

    chosen = best_rig(asked, seconds=120)

    worths = {units: worth_on_stage(library, units, mean=wish["mean"]) for units in allowed(library, wish)}
    top = max(worths.values())
    least = min(lightness(library, units) for units, worth in worths.items() if worth > top - EQUAL)
    assert chosen.worth == pytest.approx(top)
    assert chosen.bound == pytest.approx(top)
    assert chosen.proved
    assert chosen.settled
    assert lightness(library, chosen.units) == least


@USUAL
@given(st.data())
def test_no_set_of_units_is_better_than_the_one_chosen(data: st.DataObject) -> None:
    """Neither worth more, nor as much and lighter, nor as light with fewer units."""
    library = data.draw(libraries(5))
    check(library, data.draw(wishes(library)))


@pytest.mark.benchmark
@MANY
@given(st.data())
def test_no_set_of_up_to_a_dozen_units_is_better_than_the_one_chosen(data: st.DataObject) -> None:
    """The same on large libraries and many of them: thousands of sets are asked of the states for each."""
    library = data.draw(libraries(12))
    check(library, data.draw(wishes(library)))
