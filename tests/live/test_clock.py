"""What tells a sleep from a clock that was set: a clock that nobody sets and that goes on while the machine sleeps."""

import sys
import time
from types import SimpleNamespace

import pytest

from scenebook.live.clock import Clock, lasting


@pytest.mark.parametrize(
    ("platform", "clock"),
    [("linux", "CLOCK_BOOTTIME"), ("freebsd14", "CLOCK_BOOTTIME"), ("darwin", "CLOCK_MONOTONIC_RAW")],
)
def test_each_system_has_a_clock_that_nobody_sets(platform: str, clock: str) -> None:
    """CLOCK_MONOTONIC_RAW of macOS goes on in a sleep (its clock_gettime(3)), CLOCK_BOOTTIME of Linux does."""
    there = SimpleNamespace(**{clock: 42, "clock_gettime": lambda number: number + 0.5, "time": lambda: 1.0})

    assert lasting(there, platform)() == 42.5


@pytest.mark.parametrize("platform", ["win32", "linux"])
def test_a_system_without_one_is_told_by_the_date(platform: str) -> None:
    """CLOCK_MONOTONIC_RAW of Linux stands still in a sleep, so it will not do there."""
    there = SimpleNamespace(CLOCK_MONOTONIC_RAW=4, clock_gettime=lambda number: float(number), time=lambda: 1.0)

    assert lasting(there, platform)() == 1.0


@pytest.mark.skipif(sys.platform not in ("linux", "darwin"), reason="the date is all that other systems have")
def test_the_clock_of_this_machine_goes_on_and_is_not_the_date() -> None:
    """Setting the date must not look like a sleep."""
    clock = Clock()
    before = clock.real()
    time.sleep(0.02)

    assert 0.02 <= clock.real() - before < 5
    assert abs(clock.real() - clock.wall()) > 3600
