"""What time it is for a running gig; a test brings its own."""

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

__all__ = ["Clock", "lasting"]


def lasting(times: Any = time, platform: str = sys.platform) -> Callable[[], float]:
    """Return a clock that goes on while the machine sleeps and that nobody sets, where the system has one.

    Linux counts CLOCK_BOOTTIME so (clock_gettime(2)), macOS CLOCK_MONOTONIC_RAW (clock_gettime(3); Linux stops a clock
    of that name in a sleep). Elsewhere the date has to do: set by more than two seconds it looks like a sleep, after
    which nothing is sent either. `times` is the module `time`.
    """
    name = "CLOCK_MONOTONIC_RAW" if platform == "darwin" else "CLOCK_BOOTTIME"
    number = getattr(times, name, None)
    if number is None:
        date: Callable[[], float] = times.time
        return date
    return lambda: float(times.clock_gettime(number))


_REAL = lasting()


@dataclass(frozen=True, slots=True)
class Clock:
    """What time it is, in seconds: `now` stands still while the machine sleeps, `real` does not, `wall` is the date."""

    now: Callable[[], float] = time.monotonic
    real: Callable[[], float] = _REAL
    wall: Callable[[], float] = time.time
