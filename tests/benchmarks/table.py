"""One line of a benchmark's result, and the table of all."""

import gc
from collections.abc import Callable, Iterable
from time import perf_counter
from typing import NamedTuple

__all__ = ["Row", "medians", "printed"]


class Row(NamedTuple):
    """What was measured (a ratio of two things timed side by side, or a count), the goal, and how it was done."""

    what: str
    measured: float
    goal: float
    note: str = ""


def medians(ours: Callable[[], object], other: Callable[[], object], *, runs: int = 9) -> tuple[float, float, float]:
    """Return the median seconds of both, and the median of their ratio pair by pair; one warm-up, then in turn."""
    ours(), other()
    pairs = [(_timed(ours), _timed(other)) for _ in range(runs)]
    return _median(a for a, _ in pairs), _median(b for _, b in pairs), _median(a / b for a, b in pairs)


def printed(rows: Iterable[Row]) -> str:
    """Return the rows as an aligned table."""
    rows = list(rows)
    width = max((len(row.what) for row in rows), default=0)
    lines = [f"{'what':<{width}}  {'measured':>9}  {'goal':>7}"]
    for row in rows:
        verdict = "" if row.measured <= row.goal else "  MISSED"
        lines.append(f"{row.what:<{width}}  {row.measured:>9.3f}  {row.goal:>7.3f}{verdict}  {row.note}".rstrip())
    return "\n".join(lines)


def _timed(call: Callable[[], object]) -> float:
    """Time one call as `timeit` does: the collector keeps still, so that neither side pays for the other's garbage."""
    gc.collect()
    gc.disable()
    try:
        start = perf_counter()
        result = call()  # kept until the clock has stopped: throwing it away is not part of the work
        taken = perf_counter() - start
        del result
    finally:
        gc.enable()
    return taken


def _median(values: Iterable[float]) -> float:
    ordered = sorted(values)
    return ordered[len(ordered) // 2]
