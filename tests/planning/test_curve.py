"""Reach against one limit: every step is the very place at which more is reached."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import product

import pytest

from scenebook.cli.choose_words import curve_lines
from scenebook.errors import BadValueError
from scenebook.model import Library
from scenebook.planning.choice import Progress
from scenebook.planning.curve import Curve, reach_curve
from scenebook.planning.limits import Limit, limit_on, read_limits
from scenebook.planning.picking import Question, question
from scenebook.sheets.curve import curve_svg
from tests.planning.test_choice import random_library


def curve(library: Library, name: str, *limits: str, points: int = 60) -> Curve:
    asked = question(library, limits=read_limits(limits, library.units))
    return reach_curve(asked, limit_on(name, library.units), points=points, seconds=60)


def stairs(asked: Question, against: Limit) -> list[tuple[float, float]]:
    """Return the steps of the true curve, from every set of units: what it counts, and the worth from there on."""
    instance = asked.search.instance
    names = list(asked.library.units)
    sets = (
        tuple(name for name, is_in in zip(names, bits, strict=True) if is_in)
        for bits in product((False, True), repeat=len(names))
    )
    found = sorted((sum(against.counts[n] or 0 for n in each), -instance.worth(instance.bits(each))) for each in sets)
    steps: list[tuple[float, float]] = []
    for used, negative in found:
        if not steps or -negative > steps[-1][1] + 1e-6:
            steps.append((used, -negative))
    return steps


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("name", ["weight", "units", "price"])
def test_a_curve_with_points_enough_is_that_of_every_set_of_units(seed: int, name: str) -> None:
    """Two hundred sets: no step is missed, none is told too late, and each is proved."""
    library = random_library(3000 + seed, count=7)

    found = curve(library, name)

    true = stairs(question(library), limit_on(name, library.units))
    assert [point.most for point in found.points] == pytest.approx([used for used, _ in true])
    assert [point.worth for point in found.points] == pytest.approx([worth for _, worth in true])
    assert all(point.proved for point in found.points)
    assert (found.complete, found.ends) == (True, True)


def test_few_points_stand_on_true_steps_and_say_that_there_are_more() -> None:
    """They begin with what needs nothing and end where more gives nothing."""
    library = random_library(3000, count=7)
    whole = curve(library, "weight")

    few = curve(library, "weight", points=3)

    assert len(few.points) == 3 < len(whole.points)
    assert {(p.most, p.worth) for p in few.points} <= {(p.most, p.worth) for p in whole.points}
    assert (few.points[0], few.points[-1]) == (whole.points[0], whole.points[-1])
    assert not few.complete


def test_a_limit_on_the_same_property_ends_the_curve() -> None:
    """What lies beyond is not promised to be nothing."""
    library = random_library(3000, count=7)
    whole = curve(library, "weight")
    limit = whole.points[-1].most - 1

    short = curve(library, "weight", f"weight={limit:g}g")

    assert short.points == whole.points[:-1]
    assert not short.ends


def test_what_changes_nothing_has_one_step() -> None:
    """Owned units cost nothing, so money does not matter."""
    said = {"fuzz": {"switches": {"main": {"foot": True}}}}
    songs = {"song": {"scenes": {"all": {"units": {"fuzz": {"main": "on"}}}}}}
    found = curve(Library.model_validate({"units": said, "songs": songs}), "price")

    assert [(point.most, point.worth, point.units) for point in found.points] == [(0, 1, ("fuzz",))]
    assert not found.matters


def test_a_unit_that_must_be_carried_is_in_every_point_or_nobody_knows_what_it_counts() -> None:
    """A tuner of unknown weight has no place on a curve against weight."""
    library = random_library(3002, count=7)
    asked = question(library, must=["unit 3"])
    points = reach_curve(asked, limit_on("weight", library.units), points=5, seconds=60).points
    blank = {**library.units, "unit 3": library.units["unit 3"].model_copy(update={"weight_g": None})}
    unknown = library.model_copy(update={"units": blank})

    assert all("unit 3" in point.units for point in points)
    with pytest.raises(BadValueError, match="nobody knows what 'unit 3' counts towards weight"):
        reach_curve(question(unknown, must=["unit 3"]), limit_on("weight", blank), points=5, seconds=60)
    assert curve(unknown, "weight").unknown == (("weight", ("unit 3",)),)


def test_a_unit_that_only_a_loop_works_is_named_in_the_words_of_a_choice() -> None:
    """Each step is a choice and has no loops; what the last one reaches is the most without that unit alone."""
    units = {
        "switcher": {"switches": {"one": {"foot": True}}},
        "old fuzz": {"switches": {"main": {}}},
        "echo": {"switches": {"main": {"foot": True}}},
    }
    scenes = {"loud": {"units": {"old fuzz": {"main": "on"}}}, "far": {"units": {"echo": {"main": "on"}}}}
    rigs = {"stored": {"chain": list(units), "loops": {"switcher": {"one": ["old fuzz"]}}}}
    library = Library.model_validate({"units": units, "songs": {"song": {"scenes": scenes}}, "rigs": rigs})

    found = curve(library, "units")
    said = list(curve_lines(found))

    assert found.looped == ("old fuzz",)
    assert said[-2:] == [
        "From 1 unit on more gives nothing: 50 % is the most without the units left out.",
        "Left out, since only a loop works them, and a choice has no loops: old fuzz",
    ]
    assert curve(library.model_copy(update={"rigs": {}}), "units").looped == ()


@pytest.mark.parametrize("seed", [3000, 3013])
def test_a_stopped_curve_keeps_what_was_found_and_claims_no_more(seed: int) -> None:
    """Ctrl-C: the steps so far, be it one that is the best of all, and that there may be others."""
    library = random_library(seed, count=7)

    def stop(far: Progress) -> bool:
        return False

    found = reach_curve(question(library), limit_on("weight", library.units), points=9, seconds=60, watch=stop)

    assert found.points
    assert not found.complete
    assert found.matters  # as far as anyone knows


def test_the_plot_has_a_dot_for_each_step() -> None:
    """And a line that goes on where more gives nothing."""
    found = curve(random_library(3000, count=7), "weight")

    root = ElementTree.fromstring(curve_svg(found))

    assert len(root.findall("{*}circle")) == len(found.points)
    texts = [each.text or "" for each in root.findall("{*}text")]
    assert any(text.endswith("more gives nothing") for text in texts)
    assert "weight at most, kg" in texts


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("points", [2, 3, 5])
def test_between_known_points_the_true_curve_is_within_what_is_said(seed: int, points: int) -> None:
    """Where a line is drawn it is the curve of every set of units; where a band is, that curve runs inside it."""
    library = random_library(3000 + seed, count=7)
    true = stairs(question(library), limit_on("weight", library.units))
    found = curve(library, "weight", points=points)
    bands = list(found.bands)

    assert bool(bands) == (not found.complete)
    for used in sorted({used for used, _ in true} | {used - 0.5 for used, _ in true}):
        best = max((worth for at, worth in true if at <= used), default=0.0)
        band = next((each for each in bands if each.start < used < each.end), None)
        known = max((point.worth for point in found.points if point.most <= used), default=0.0)
        assert best == pytest.approx(known) if band is None else band.low - 1e-6 <= best <= band.high + 1e-6, used


def test_nothing_is_open_on_a_curve_with_points_enough() -> None:
    """Nor on the plot: its line goes from step to step."""
    found = curve(random_library(3000, count=7), "weight")

    root = ElementTree.fromstring(curve_svg(found))

    assert list(found.bands) == []
    assert len(root.findall("{*}rect")) == 1  # the white behind
    assert "Reach against weight: the best rig at each limit" in [each.text for each in root.findall("{*}text")]


def test_where_nobody_looked_the_plot_has_a_band_with_words_and_no_line() -> None:
    """A flat line would say that the limit gives nothing there."""
    found = curve(random_library(3000, count=7), "weight", points=3)

    root = ElementTree.fromstring(curve_svg(found))
    texts = [each.text for each in root.findall("{*}text")]
    line = next(each.attrib["d"] for each in root.findall("{*}path") if each.get("stroke-width") == "1.5")

    assert len(root.findall("{*}rect")) == 1 + len(list(found.bands)) == 3
    assert texts[:2] == [
        "Reach against weight: the best rig at each point",
        "shaded: not known; at least its lower edge, at most its upper",
    ]
    assert texts.count("not known") == 1
    assert (line.count("M"), line.count("V")) == (3, 0)


@pytest.mark.parametrize(("worth", "most"), [(10.0, 5000.0), (9.9, 200.0), (9.2, 5000.0), (0.0, 0.0), (4.0, 0.0)])
def test_the_plots_label_is_struck_through_by_no_line(worth: float, most: float) -> None:
    """Wherever the last step is, what is said of it stands above the frame and below the title."""
    found = curve(random_library(3000, count=7), "weight")
    end = found.points[-1]._replace(most=most, worth=worth, whole=10.0)
    first = () if most == 0 else (found.points[0]._replace(most=0.0, worth=0.0, whole=10.0),)

    root = ElementTree.fromstring(curve_svg(replace(found, points=(*first, end), flat=())))
    (label,) = [each for each in root.findall("{*}text") if " % at " in (each.text or "")]
    heights = [
        float(each)
        for path in root.findall("{*}path")
        for each in re.findall(r"(?:M[\d.]+ |V)([\d.]+)", path.attrib["d"])
    ]

    assert label.get("text-anchor") == "end"
    assert 64 < float(label.attrib["x"]) - 7.3 * len(label.text or "") < float(label.attrib["x"]) <= 640 - 24
    assert 43 < float(label.attrib["y"]) - 12 < float(label.attrib["y"]) + 3 < min(heights)
