"""What time it is for a running gig; a test brings its own."""

import time
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Clock"]


def _real_time() -> float:
    """Seconds that go on while the machine sleeps, where the system has such a clock that nobody sets."""
    return time.clock_gettime(time.CLOCK_BOOTTIME) if hasattr(time, "CLOCK_BOOTTIME") else time.time()


@dataclass(frozen=True, slots=True)
class Clock:
    """What time it is, in seconds: `now` stands still while the machine sleeps, `real` does not, `wall` is the date."""

    now: Callable[[], float] = time.monotonic
    real: Callable[[], float] = _real_time
    wall: Callable[[], float] = time.time
