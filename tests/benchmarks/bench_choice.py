"""Choose rigs: seconds to the proof, ours against the textbook's formulation, and the gain over greed.

The short form takes a few seeds of the smaller size; `python -m tests.benchmarks.bench_choice` takes them all. Times
are seconds on the clock, since a choice works on two cores: leave the machine to it. The textbook's form is compared
where it too comes to a proof: on smaller walls.
"""

from collections.abc import Callable, Sequence
from statistics import median
from time import perf_counter

from scenebook.planning.choice import Choice, Search
from scenebook.planning.formulation import INFINITE
from scenebook.planning.formulation import Row as ProgramRow
from scenebook.planning.instance import Instance, each_bit
from scenebook.planning.picking import question
from scenebook.planning.solving import Model, solved
from scenebook.planning.within import Within
from tests.benchmarks.table import Row, printed
from tests.benchmarks.walls import wall, wall_limits

__all__ = ["run", "run_all", "textbook_model"]

PATIENCE_S = 60.0
LONG_S = 3600.0
SMALLER = 26, 90


def run() -> list[Row]:
    """Return the rows of the short form: three seeds."""
    return [*_rows(60, 300, range(3)), _against_textbook(range(3))]


def run_all() -> list[Row]:
    """Return all rows: ten seeds of 60 units and 300 scenes, five of 200 and 1,000."""
    return [*_rows(60, 300, range(10)), *_rows(200, 1000, range(5)), _against_textbook(range(7))]


def _against_textbook(seeds: Sequence[int]) -> Row:
    units, scenes = SMALLER
    ours, theirs = [], []
    for seed in seeds:
        search, within = _question(units, scenes, seed, mean=False)
        choice, taken = _timed(search, within)
        ours.append(taken)
        theirs.append(_textbook_seconds(search.instance, within, choice))
    name = f"choose, {units} units, {scenes} scenes: ours / the textbook's, median"
    shares = [our / their for our, their in zip(ours, theirs, strict=True)]
    return Row(name, median(shares), 1 / 3, f"{_listed(shares)}; the textbook's seconds {_listed(theirs)}")


def _rows(units: int, scenes: int, seeds: Sequence[int]) -> list[Row]:
    name = f"{units} units, {scenes:,} scenes"
    seconds: list[float] = []
    gaps: list[float] = []
    means: list[float] = []
    gained: list[float] = []
    for seed in seeds:
        search, within = _question(units, scenes, seed, mean=False)
        choice, taken = _timed(search, within)
        greedy = search.instance.worth(_greedy(search.instance, within))
        gained.append(choice.worth / greedy - 1 if greedy else 0.0)
        seconds.append(taken)
        gaps.append((choice.bound - choice.worth) / choice.worth if choice.worth else 0.0)
        means.append(_timed(*_question(units, scenes, seed, mean=True))[1])
    rows = [
        Row(f"choose, {name}: seconds, median", median(seconds), 10 if units <= 60 else 60, _listed(seconds)),
        Row(f"choose, {name}: gap in 60 s, greatest, %", 100 * max(gaps), 0 if units <= 60 else 1, _listed(gaps, 100)),
        Row(f"choose, {name}: mean score, seconds, median", median(means), 1, _listed(means)),
    ]
    least = f"least gain over greedy by worth a kilogram {100 * min(gained):.1f} %, median {100 * median(gained):.1f} %"
    return [*rows, Row(f"choose, {name}: greedy did better, seeds", sum(gain < -1e-9 for gain in gained), 0, least)]


def _listed(values: Sequence[float], times: float = 1) -> str:
    return "each: " + ", ".join(f"{value * times:.2f}" for value in values)


def _question(units: int, scenes: int, seed: int, *, mean: bool) -> tuple[Search, Within]:
    library = wall(units, scenes, seed)
    asked = question(library, limits=wall_limits(library), mean=mean)
    return asked.search, asked.within(*asked.limits)


def _timed(search: Search, within: Within) -> tuple[Choice, float]:
    start = perf_counter()
    choice = search.best(within, seconds=LONG_S, settle=False, watch=lambda _: perf_counter() - start < PATIENCE_S)
    return choice, perf_counter() - start


def _greedy(instance: Instance, within: Within) -> int:
    """Take the unit that adds most worth for its weight, again and again, while one fits."""
    weigh = within.limits[0].of
    carried = 0
    while True:
        worth = instance.worth(carried)
        fitting = [carried | 1 << n for n in range(len(instance.units)) if within.fits(carried | 1 << n)]
        gains = {each: (instance.worth(each) - worth) / weigh(each & ~carried) for each in fitting if each != carried}
        if not gains or max(gains.values()) < 0:
            return carried
        carried = max(gains, key=lambda each: gains[each])
        if len(gains) == 1:
            return carried


def _textbook_seconds(instance: Instance, within: Within, ours: Choice) -> float:
    """Return the seconds that the textbook's formulation takes to the proof, or until its time is over."""
    start = perf_counter()
    model = textbook_model(instance, within)
    answer = solved(model, seconds=LONG_S, watch=lambda *_: perf_counter() - start < PATIENCE_S)
    if answer.proved:
        assert answer.bound + instance.idle >= ours.worth - 1e-4, "it shares out places as well as can be"
    return perf_counter() - start


def textbook_model(instance: Instance, within: Within) -> Model:
    """Return the assignment form: for each scene and need, one whole variable for each stand-in that may meet it."""
    costs = [0.0] * len(instance.units)
    rows: list[ProgramRow] = []

    def variable(cost: float = 0.0) -> int:
        costs.append(cost)
        return len(costs) - 1

    later: list[Callable[[], None]] = []
    for ask in instance.asks:
        given: list[dict[int, float]] = []
        places: dict[tuple[int, int], list[int]] = {}
        sections: dict[int, list[int]] = {}
        for need in ask.needs:
            ways: dict[int, float] = {}
            for by, like, place, section in [
                (need.unit, 1.0, None, False),
                *((offer.by, offer.likeness, offer.place, offer.section) for offer in need.offers),
            ]:
                way = variable()
                ways[way] = like
                rows.append((-INFINITE, {way: 1.0, by: -1.0}, 0.0))
                if place is not None:
                    places.setdefault((by, place), []).append(way)
                if section:
                    sections.setdefault(by, []).append(way)
            rows.append((-INFINITE, dict.fromkeys(ways, 1.0), 1.0))
            given.append(ways)
        rows += [(-INFINITE, dict.fromkeys(ways, 1.0), 1.0) for ways in places.values() if len(ways) > 1]
        used = dict(ask.used)
        for by, ways_in in sections.items():
            most = instance.sections[by]
            if most is not None:
                rows.append((-INFINITE, dict.fromkeys(ways_in, 1.0), float(max(0, most - used.get(by, 0)))))
        played = variable()
        later.append(lambda ask=ask, given=given, played=played: _scored(instance, ask, given, played))  # type: ignore[misc]

    whole = len(costs)

    def _scored(instance: Instance, ask, given: list[dict[int, float]], played: int) -> None:  # type: ignore[no-untyped-def]
        worst = variable(ask.weight)
        rows.append((-INFINITE, {worst: 1.0, played: -1.0}, 0.0))
        for need, ways in zip(ask.needs, given, strict=True):
            if need.colour:
                lack = variable(-instance.colour_share * ask.weight)
                rows.append((-INFINITE, {played: 1.0, lack: -1.0, **dict.fromkeys(ways, -1.0)}, 0.0))
            else:
                rows.append((-INFINITE, {worst: 1.0, **{way: -like for way, like in ways.items()}}, 0.0))

    for each in later:
        each()
    limits = [(-INFINITE, dict(enumerate(limit.counts)), limit.most) for limit in within.limits]
    return Model(costs, [*rows, *limits], whole, dict.fromkeys(each_bit(within.never), 0.0))


if __name__ == "__main__":
    print(printed(run_all()))
