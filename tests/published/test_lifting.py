"""Lifting against NIOSH's own manual: its tables of multipliers and its worked examples.

Source: Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110,
January 1994, revised September 2021 (public domain): tables 1 to 5 on pages 8 to 15, worked examples 1 and 4 on pages
33 to 46. The files beside this one hold them as printed; of the examples they say what is confirmed from the manual.
"""

import csv
import math
from pathlib import Path
from typing import Any

import pytest

from scenebook.planning.lifting import METRIC, US, Lift, lifting_index, multipliers, recommended_weight

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / f"niosh_94_110_{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


BEST = Lift(reach=25, height=75, travel=25)
MULTIPLIERS = {"HM by H cm": "reach", "VM by V cm": "height", "DM by D cm": "travel", "AM by A deg": "twist"}


@pytest.mark.parametrize("row", rows("tables_1_to_4"), ids=lambda row: f"{row['multiplier']} {row['input']}")
def test_every_printed_multiplier_is_the_formulas_rounded_half_up(row: dict[str, str]) -> None:
    """Tables 1 to 4, metric. One entry is printed .86 where the manual's own formula gives .8546: D = 130 cm."""
    field = MULTIPLIERS[row["multiplier"]]
    given: dict[str, Any] = {field: float(row["input"])}

    found = getattr(multipliers(BEST._replace(**given)), field)

    assert found == pytest.approx(float(row["formula"]), abs=5e-5)
    rounded = math.floor(found * 100 + 0.5 + 1e-9) / 100
    assert (rounded == float(row["printed"])) == (row["printed_equals_formula_rounded_half_up"] == "yes")


@pytest.mark.parametrize("row", rows("table_5"), ids=lambda row: row["lifts_per_min"])
def test_every_pace_is_as_printed(row: dict[str, str]) -> None:
    """Table 5: three lengths of work, hands below and from 75 cm."""
    text = row["lifts_per_min"]
    per_min = 16.0 if text.startswith(">") else 0.1 if text.startswith("<") else float(text)

    for hours in (1, 2, 8):
        for side, height in (("lt", 74.9), ("ge", 75.0)):
            lift: Any = BEST._replace(per_min=per_min, hours=hours, height=height)
            assert multipliers(lift).pace == float(row[f"le{hours}h_V_{side}_75cm"]), (hours, side)


@pytest.mark.parametrize("row", rows("examples"), ids=lambda row: row["example"])
def test_the_worked_examples_come_out(row: dict[str, str]) -> None:
    """In inches and pounds; the manual rounds each multiplier to two places first, so its results may differ by 2 %."""
    per_min = {"0.88": 3.0, "1.0": 0.2}[row["FM"]]
    reach, height, travel = (float(row[name]) for name in "HVD")
    lift = Lift(reach, height, travel, float(row["A_deg"]), per_min, hours=1, grip="fair")

    found = multipliers(lift, US)

    printed = [float(row[name]) for name in ("HM_printed", "VM_printed", "DM_printed", "AM_printed", "FM", "CM")]
    assert list(found) == pytest.approx(printed, abs=0.01)
    weight = recommended_weight(lift, US)
    assert weight == pytest.approx(float(row["RWL_full_precision"]), abs=0.01)
    assert weight == pytest.approx(float(row["RWL_printed"]), rel=0.02)
    assert lifting_index(float(row["load"]), lift, US) == pytest.approx(float(row["LI_full_precision"]), abs=0.01)


def test_the_best_lift_is_the_load_constant() -> None:
    """23 kg, 51 lb (p. 7): near, from knuckle height, a short way, seldom, with a good grip."""
    assert recommended_weight(BEST, METRIC) == 23.0
    assert recommended_weight(Lift(reach=10, height=30, travel=10), US) == 51.0


@pytest.mark.parametrize(
    "beyond", [{"reach": 63.1}, {"height": 175.1}, {"travel": 175.1}, {"twist": 135.1}, {"per_min": 15.1}]
)
def test_beyond_a_limit_nothing_is_recommended(beyond: dict[str, Any]) -> None:
    """Past 63 cm, 175 cm, 135 degrees or 15 lifts a minute the multiplier is 0 (pp. 8 to 15)."""
    lift = BEST._replace(**beyond)

    assert recommended_weight(lift) == 0
    assert lifting_index(1, lift) == math.inf


def test_a_poor_grip_takes_a_tenth_and_a_fair_one_counts_below_the_knuckles() -> None:
    """Table 7 (p. 18)."""
    grips = {(grip, v): multipliers(Lift(25, v, 25, grip=grip)).grip for grip in ("fair", "poor") for v in (74, 75)}

    assert grips == {("fair", 74): 0.95, ("fair", 75): 1.0, ("poor", 74): 0.9, ("poor", 75): 0.9}
