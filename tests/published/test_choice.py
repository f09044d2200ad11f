"""Published knapsacks, solved by the functions that choose a rig: a unit an item, a scene of one need a profit.

Sources, data and optima copied by hand into the files beside this one:

- knapsack_mknap1.json: OR-Library file mknap1 (J. E. Beasley), the seven problems of C. C. Petersen, Management Science
  13(9), 1967, 736-750: up to 50 items and 10 limits.
- knapsack_01.json: the data directory KNAPSACK_01 (J. Burkardt, Florida State University), p01 to p08, and an example
  of Martello and Toth (1990) from the R package adagio.
"""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from scenebook.model import Library
from scenebook.planning.asking import instance_of
from scenebook.planning.choice import Search
from scenebook.planning.limits import Limit
from scenebook.planning.picking import Question


def _instances(name: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(Path(__file__).with_name(name).read_text())["instances"]
    return found


def _best(profits: list[float], rows: list[list[float]], most: list[float]) -> tuple[float, bool, list[int]]:
    """Return the greatest profit, whether it is proved, and which items are taken."""
    names = [f"item {number}" for number in range(len(profits))]
    scenes = {name: {"units": {name: {"main": "on"}}} for name in names}
    units = {name: {"switches": {"main": {"foot": True}}} for name in names}
    library = Library.model_validate({"units": units, "songs": {"all": {"scenes": scenes}}})
    instance = instance_of(library)
    by_name = dict(zip(names, profits, strict=True))
    asks = tuple(replace(ask, weight=by_name[ask.names[0][1]]) for ask in instance.asks)
    search = Search(replace(instance, asks=asks))
    limits = tuple(
        Limit(f"limit {number}", dict(zip(names, row, strict=True)), limit)
        for number, (row, limit) in enumerate(zip(rows, most, strict=True))
    )
    asked = Question(library, None, False, search, limits, 0, 0)
    choice = search.best(asked.within(*limits))
    return choice.worth, choice.proved, [choice.carried >> number & 1 for number in range(len(names))]


@pytest.mark.parametrize("given", _instances("knapsack_mknap1.json"), ids=lambda given: given["name"])
def test_knapsacks_with_many_limits_reach_their_published_optimum(given: dict[str, Any]) -> None:
    """The first is small enough to enumerate; the last has 50 items and 5 limits."""
    worth, proved, taken = _best(given["profit"], given["weights"], given["capacity"])

    assert proved
    assert worth == pytest.approx(given["optimum"], rel=1e-12)
    for row, most in zip(given["weights"], given["capacity"], strict=True):
        assert sum(weight * item for weight, item in zip(row, taken, strict=True)) <= most


@pytest.mark.parametrize("given", _instances("knapsack_01.json"), ids=lambda given: given["name"])
def test_knapsacks_with_one_limit_reach_their_published_optimum(given: dict[str, Any]) -> None:
    """The eighth has profits in the hundreds of thousands, where greedy choices and rough numbers fail."""
    worth, proved, taken = _best(given["profits"], [given["weights"]], [given["capacity"]])

    assert proved
    assert worth == pytest.approx(given["optimum"], rel=1e-12)
    assert sum(weight * item for weight, item in zip(given["weights"], taken, strict=True)) <= given["capacity"]
