"""How heavy a thing one person may lift: the revised NIOSH lifting equation, and the usual baggage limits.

Waters, Putz-Anderson, Garg: Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110,
1994, revised 2021. It is for two-handed lifts by one person, standing, of a load that does not move. It is no promise
that nobody is hurt, and local rules for work go before it.
"""

from bisect import bisect_left
from typing import Literal, NamedTuple

__all__ = ["CASE", "METRIC", "US", "Lift", "Multipliers", "System", "lifting_index", "multipliers"]
__all__ += ["recommended_weight"]

Coupling = Literal["good", "fair", "poor"]


class System(NamedTuple):
    """The equation's constants in one system of units: metric (kg, cm) or US customary (lb, in), as printed on p. 7."""

    load: float
    reach: float  # nearest; also the divisor's numerator
    farthest: float
    knuckles: float  # the best height, and below which a fair grip counts less
    slope: float
    highest: float
    travel: float  # numerator of the distance term
    shortest: float
    longest: float


METRIC = System(23.0, 25.0, 63.0, 75.0, 0.003, 175.0, 4.5, 25.0, 175.0)
US = System(51.0, 10.0, 25.0, 30.0, 0.0075, 70.0, 1.8, 10.0, 70.0)


class Lift(NamedTuple):
    """How a thing is lifted, in the system's lengths.

    `reach` is from between the ankles to between the hands, `height` from the floor to the hands at the start, `travel`
    how far up or down, `twist` in degrees; `per_min` lifts a minute for so many `hours` (1, 2 or 8).
    """

    reach: float
    height: float
    travel: float
    twist: float = 0.0
    per_min: float = 0.2
    hours: Literal[1, 2, 8] = 1
    grip: Coupling = "good"


CASE = Lift(reach=30, height=45, travel=30, grip="fair")
"""What is taken for a case unless measured: its handle 45 cm up and 30 cm before the ankles, lifted 30 cm, seldom."""


class Multipliers(NamedTuple):
    """What each thing takes from the load that is right for the best lift: reach, height, travel, twist, pace, grip."""

    reach: float
    height: float
    travel: float
    twist: float
    pace: float
    grip: float


def multipliers(lift: Lift, system: System = METRIC) -> Multipliers:
    """Return the six multipliers, at full precision; 0 where a limit of the equation is passed (pp. 8 to 18)."""
    s = system
    return Multipliers(
        reach=0.0 if lift.reach > s.farthest else s.reach / max(lift.reach, s.reach),
        height=0.0 if not 0 <= lift.height <= s.highest else 1 - s.slope * abs(lift.height - s.knuckles),
        travel=0.0 if lift.travel > s.longest else 0.82 + s.travel / max(lift.travel, s.shortest),
        twist=0.0 if lift.twist > 135 else 1 - 0.0032 * lift.twist,
        pace=_pace(lift, system),
        grip=_grip(lift, system),
    )


def recommended_weight(lift: Lift = CASE, system: System = METRIC) -> float:
    """Return the weight, in kg or lb, that nearly all healthy workers may lift so: LC x HM x VM x DM x AM x FM x CM."""
    weight = system.load
    for multiplier in multipliers(lift, system):
        weight *= multiplier
    return weight


def lifting_index(weight: float, lift: Lift = CASE, system: System = METRIC) -> float:
    """Return the load as a multiple of the recommended weight: up to 1 is the goal, above 3 is high (p. 20)."""
    recommended = recommended_weight(lift, system)
    return weight / recommended if recommended else float("inf")


# Table 5 (p. 15): lifts a minute, then for 1, 2 and 8 hours, hands below and from the knuckles' height.
_PER_MIN = (0.2, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)
_PACE = {
    (1, False): (1, 0.97, 0.94, 0.91, 0.88, 0.84, 0.8, 0.75, 0.7, 0.6, 0.52, 0.45, 0.41, 0.37, 0, 0, 0),
    (1, True): (1, 0.97, 0.94, 0.91, 0.88, 0.84, 0.8, 0.75, 0.7, 0.6, 0.52, 0.45, 0.41, 0.37, 0.34, 0.31, 0.28),
    (2, False): (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.6, 0.5, 0.42, 0.35, 0.3, 0.26, 0, 0, 0, 0, 0),
    (2, True): (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.6, 0.5, 0.42, 0.35, 0.3, 0.26, 0.23, 0.21, 0, 0, 0),
    (8, False): (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0, 0, 0, 0, 0, 0, 0),
    (8, True): (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0.15, 0.13, 0, 0, 0, 0, 0),
}


def _pace(lift: Lift, system: System) -> float:
    """Return table 5's value; between two paces the faster one counts, on the careful side."""
    at = bisect_left(_PER_MIN, lift.per_min)
    return _PACE[lift.hours, lift.height >= system.knuckles][at] if at < len(_PER_MIN) else 0.0


def _grip(lift: Lift, system: System) -> float:
    """Return table 7's value (p. 18): a fair grip counts as a good one from the knuckles' height."""
    if lift.grip == "poor":
        return 0.9
    return 0.95 if lift.grip == "fair" and lift.height < system.knuckles else 1.0
