"""Reach against one limit: the steps at which the best rig reaches more, each proved, and where more gives nothing.

A limit is asked where it can matter: between two steps that are known, where most is open between them. The best rig
within a limit is the least of its worth, so what it counts is the very place of a step: below it the reach is less.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from time import perf_counter
from typing import NamedTuple

from scenebook.errors import BadValueError
from scenebook.planning.choice import Choice, Progress, Search
from scenebook.planning.limits import Limit
from scenebook.planning.picking import Question, chosen_of, left_out

__all__ = ["Band", "Curve", "CurvePoint", "reach_curve"]

Watch = Callable[[Progress], bool]
_EQUAL = 1e-6
_FINEST = {"weight": 1.0, "units": 1.0, "width": 1.0}  # in g, units, mm; two steps nearer than this are one
_FINE = 0.01  # of money, cm² (1 mm²), mA
_ASKED = 4  # times as many questions as points, at most: some limits only tell that nothing changes there


class CurvePoint(NamedTuple):
    """A step: the best rig within `most`; with less of the limit the reach is less."""

    most: float
    worth: float
    bound: float
    proved: bool
    units: tuple[str, ...]
    whole: float  # what all scenes would be worth if each were whole


class Band(NamedTuple):
    """What nobody looked at between two steps: from `start` to `end` of the limit the worth is `low` to `high`."""

    start: float
    end: float
    low: float
    high: float


@dataclass(frozen=True)
class Curve:
    """Reach against one limit, from the least that can be carried up to where more of it gives nothing.

    `complete`: there is no step beside those told. `ends`: more of the limit gives nothing; else a limit that was given
    ends the curve. `others` are limited as well. `unknown` names, by limit, the units of which nobody knows what they
    count; `looped` those that stay out since only a loop of a stored rig works them. `flat` gives for each step the
    limit up to which it is proved that nothing reaches more.
    """

    limit: Limit
    points: tuple[CurvePoint, ...]
    complete: bool
    ends: bool
    others: tuple[str, ...] = ()
    unknown: tuple[tuple[str, tuple[str, ...]], ...] = ()
    looped: tuple[str, ...] = ()
    flat: tuple[float, ...] = ()
    stopped: bool = False  # somebody ended the work before all was looked at

    @property
    def bands(self) -> Iterator[Band]:
        """Where the reach is not known: from where a step is no longer proved the best up to the next step."""
        finest = _FINEST.get(self.limit.name, _FINE)
        for step, after, flat in zip(self.points, self.points[1:], self.flat, strict=False):
            start = max(step.most, flat)
            if after.most - start > finest + 1e-9:
                yield Band(start, after.most, step.worth, max(after.worth, after.bound))

    @property
    def matters(self) -> bool:
        """Whether the limit changes anything; where not all was looked at it may."""
        return len(self.points) > 1 or not self.complete


class _Steps:
    """The steps found so far, by what they count, and how far each is known to go on flat."""

    def __init__(self, asked: Question, against: Limit, ends: float, watch: Watch | None) -> None:
        instance = asked.search.instance
        self._asked, self._against, self._ends, self._watch = asked, against, ends, watch
        self._others = [limit for limit in asked.limits if limit.name != against.name]
        counts = [against.counts.get(name) or 0.0 for name in instance.units]
        # Of rigs of equal worth the one that counts least is wanted; of weight and number the usual search knows it.
        usual = against.name in ("weight", "units")
        self._search = asked.search if usual else Search(instance, counts)
        self.found: dict[float, Choice] = {}
        self.flat: dict[float, float] = {}
        self.proved: dict[float, float] = {}
        self.stopped = False

    def ask(self, most: float, share: float) -> Choice:
        """Find the best within a value of the limit, and keep it as a step."""
        within = self._asked.within(*self._others, self._against._replace(most=most))
        below = [used for used in self.found if used <= most + 1e-9]
        start = self.found[max(below)].carried if below else None
        choice = self._search.best(within, seconds=max(0.01, share), start=start, watch=self._told)
        used = within.limits[-1].of(choice.carried)
        known = next((each for each in below if self.found[each].worth > choice.worth - _EQUAL), None)
        if known is None:
            self.found[used], self.flat[used] = choice, most
        else:
            self.flat[known] = max(self.flat[known], most)
        if choice.proved:
            step = used if known is None else known
            self.proved[step] = max(self.proved.get(step, step), most)
        return choice

    def share(self, left: int) -> float:
        """Return the seconds that one of so many questions may take."""
        return (self._ends - perf_counter()) / max(1, left)

    def widest_gap(self, finest: float) -> tuple[float, float] | None:
        """Return the two limits between which the reach is known least: what lies between them is the largest area."""
        used = sorted(self.found)
        gaps = [(self.flat[low], high, self.found[high].worth - self.found[low].worth) for low, high in pairwise(used)]
        unknown = [gap for gap in gaps if gap[1] - gap[0] > finest + 1e-9 and gap[2] > _EQUAL]
        return max(unknown, key=lambda gap: (gap[1] - gap[0]) * gap[2])[:2] if unknown else None

    def _told(self, far: Progress) -> bool:
        if not self.stopped and self._watch is not None:
            self.stopped = not self._watch(far)
        return not self.stopped


def reach_curve(asked: Question, against: Limit, *, points: int, seconds: float, watch: Watch | None = None) -> Curve:
    """Return reach against one limit in at most so many steps, where it changes most; of units each number counts.

    The other limits of the question hold as well, and one on the same property ends the curve. Where `watch` says to
    stop, what was found is returned.

    Raises:
        BadValueError: nobody knows what a unit that must be carried counts.
    """
    unknown = set(against.unknown) & set(asked.search.instance.named(asked.must))
    if unknown:
        raise BadValueError(
            f"nobody knows what {min(unknown)!r} counts towards {against.name}, and it must be carried",
            remedy=f"Note it in the unit, or draw the curve against another property than {against.name}",
        )
    given = next((limit.most for limit in asked.limits if limit.name == against.name), None)
    every = sum(count or 0.0 for count in against.counts.values())
    top = every if given is None else min(given, every)
    steps = _Steps(asked, against, perf_counter() + seconds, watch)
    steps.ask(top, steps.share(points + 1))
    least = asked.within(against._replace(most=top)).limits[0].of(asked.must)
    if least < max(steps.found) - 1e-9 and not steps.stopped:
        steps.ask(least, steps.share(points))
    finest = _FINEST.get(against.name, _FINE)
    wanted = round(max(steps.found)) + 1 if against.name == "units" else points
    asked_for = 0
    while not steps.stopped and len(steps.found) < wanted and asked_for < wanted * _ASKED:
        gap = steps.widest_gap(finest)
        if gap is None or steps.share(1) <= 0:
            break
        known = len(steps.found)
        steps.ask(_between(*gap, whole=against.name == "units"), steps.share(wanted - known))
        if len(steps.found) == known:  # flat so far: what is just below the higher step settles the rest
            steps.ask(gap[1] - finest, steps.share(wanted - known))
        asked_for += 1
    complete = not steps.stopped and steps.widest_gap(finest) is None
    return _curve(asked, against, steps, complete=complete, ends=given is None or given >= every)


def _curve(asked: Question, against: Limit, steps: _Steps, *, complete: bool, ends: bool) -> Curve:
    points: list[CurvePoint] = []
    flat: list[float] = []
    for used, choice in sorted(steps.found.items()):
        chosen = chosen_of(asked, choice)
        if not points or chosen.worth > points[-1].worth + _EQUAL:
            whole = float(chosen.reach.whole)
            points.append(CurvePoint(used, chosen.worth, chosen.bound, chosen.proved, chosen.units, whole))
            flat.append(used)
        flat[-1] = max(flat[-1], steps.proved.get(used, used))
    limits = {limit.name: limit for limit in (*asked.limits, against)}
    others = tuple(name for name in limits if name != against.name)
    last = points[-1]
    sure = last.proved and (ends or last.worth > last.whole - _EQUAL)
    return Curve(
        against,
        tuple(points),
        complete and all(each.proved for each in points),
        sure,
        others,
        left_out(asked.library, limits.values()),
        chosen.looped,
        tuple(flat),
        steps.stopped,
    )


def _between(low: float, high: float, *, whole: bool) -> float:
    """Return a value between two: as a player would write it where that lies between them."""
    middle = (low + high) / 2
    if whole:
        return float(int(middle))
    short = float(f"{middle:.2g}")
    return short if low < short < high else middle
