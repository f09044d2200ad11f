"""How fast and how evenly a running gig answers, against bare loops of python-rtmidi on the same JACK server.

Each side is a process of its own, as it is on stage; this one presses and listens. Both are pressed in turn.
"""

import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from tests.benchmarks import stand_memory, stand_side
from tests.benchmarks.table import Row
from tests.support.checkout import ROOT
from tests.support.jack import jack_server

__all__ = ["Far", "clock", "latency", "percentile", "pressed_in_turn", "run", "side"]

PRESSES = 800
CLOCK_S = 120.0
APART_S = (0.055, 0.075)  # a gig takes a press within 80 ms of the last for a bounce; each side is pressed every second
POLL_S = 0.000_05


def run() -> list[Row]:
    """Return the rows of the stand that need no page."""
    with tempfile.TemporaryDirectory() as folder, jack_server(f"scenebook-bench-{os.getpid()}", Path(folder)) as server:
        os.environ.update(server.environment)
        return [*latency(Path(folder)), *clock(Path(folder)), *stand_memory.run(Path(folder))]


def latency(folder: Path, presses: int = PRESSES) -> list[Row]:
    """Return how long a press takes to the first byte, ours by theirs, at the median and the 99th percentile."""
    file = folder / "answers.json"
    stand_side.answers(file)
    with Far("one") as ours, Far("two") as theirs, ExitStack() as stack:
        stack.enter_context(side("gig", ours, folder / "gig.jsonl"))
        stack.enter_context(side("answer", theirs, file))
        mine, bare = pressed_in_turn(ours, theirs, presses)
    rows = []
    for words, at, goal in (("median", 50, 1.10), ("99th percentile", 99, 1.25)):
        a, b = percentile(mine, at), percentile(bare, at)
        note = f"{a * 1000:.2f} ms against {b * 1000:.2f} ms, {presses} presses each"
        rows.append(Row(f"footswitch in to first byte out against a bare loop, {words}", a / b, goal, note))
    return rows


def pressed_in_turn(ours: "Far", theirs: "Far", presses: int) -> tuple[list[float], list[float]]:
    """Press both so often, one after the other; return the seconds that each took."""
    for far in (ours, theirs):
        far.press()  # the first goes out in full, and a connection just made may swallow it
    time.sleep(0.5)
    chance, pairs = random.Random(20261125), []
    for _ in range(presses):
        pairs.append((ours.pressed(), theirs.pressed()))
        time.sleep(chance.uniform(*APART_S))
    return [pair[0] for pair in pairs], [pair[1] for pair in pairs]


def clock(folder: Path, seconds: float = CLOCK_S) -> list[Row]:
    """Return the drift of MIDI clock in percent, and its jitter against a bare loop's at the 99th percentile."""
    with Far("three") as ours, Far("four") as theirs, ExitStack() as stack:
        stack.enter_context(side("clock-gig", ours, folder / "clock.jsonl"))
        stack.enter_context(side("clock-loop", theirs, folder))
        heard: tuple[list[float], list[float]] = ([], [])
        ours.heard(), theirs.heard()  # what has come meanwhile
        end = time.monotonic() + seconds
        while (now := time.monotonic()) < end:
            for far, times in zip((ours, theirs), heard, strict=True):
                times += [now] * sum(message == b"\xf8" for message in far.heard())
            time.sleep(POLL_S)
    tick = 60 / (24 * stand_side.CLOCK_TEMPO)
    drift = abs(_drift(heard[0], tick)) * 100
    a, b = (percentile(_off(times, tick), 99) for times in heard)
    note = f"{a * 1000:.2f} ms against {b * 1000:.2f} ms off the beat, {len(heard[0])} and {len(heard[1])} bytes"
    return [
        Row("MIDI clock over 2 minutes at 120: drift in %", drift, 0.01, f"{seconds:.0f} s"),
        Row("MIDI clock: jitter against a bare timed loop, 99th percentile", a / b, 1.25, note),
    ]


class Far:
    """The far ends of one side: a footswitch that is pressed and a box that hears."""

    def __init__(self, name: str) -> None:
        import rtmidi

        self.floor, self.box = f"floor {name}", f"box {name}"
        self._floor = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name=self.floor)
        self._floor.open_virtual_port("out")
        self._box = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=self.box, queue_size_limit=100_000)
        self._box.ignore_types(False, False, False)
        self._box.open_virtual_port("in")

    def __enter__(self) -> "Far":
        return self

    def __exit__(self, *_: object) -> None:
        self._floor.delete()
        self._box.delete()

    def heard(self) -> list[bytes]:
        """Return what has come since the last look."""
        messages = []
        while (item := self._box.get_message()) is not None:
            messages.append(bytes(item[0]))
        return messages

    def press(self) -> float:
        """Press; return the moment."""
        self.heard()
        begun = time.perf_counter()
        self._floor.send_message(stand_side.PRESS)
        return begun

    def pressed(self) -> float:
        """Press, and return the seconds until something is heard; all that follows is heard out."""
        begun = self.press()
        while not self._box.get_message():
            time.sleep(POLL_S)
            if time.perf_counter() - begun > 5:
                raise RuntimeError(f"{self.box} hears nothing")
        taken = time.perf_counter() - begun
        time.sleep(0.03)  # the multi-effects settle for so long, and what follows is not of interest
        return taken


@contextmanager
def side(what: str, far: Far, file: Path) -> Iterator[None]:
    """Run one of the sides of `stand_side` between these far ends."""
    command = [sys.executable, "-m", "tests.benchmarks.stand_side", what, far.floor, far.box, str(file)]
    process: subprocess.Popen[Any] = subprocess.Popen(
        command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdin is not None
    assert process.stdout is not None
    with process:
        if process.stdout.readline() != "up\n":
            raise RuntimeError(f"the side {what} did not come up")
        yield
        process.stdin.close()
        process.wait(10)


def percentile(values: list[float], at: int) -> float:
    """Return the value below which so many of a hundred lie."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, len(ordered) * at // 100)]


def _drift(times: list[float], tick: float) -> float:
    """Return by how much the bytes run away from an even grid, as a share of the time.

    The middle of the first quarter against that of the last: a moment of standstill is no drift.
    """
    offsets = [at - number * tick for number, at in enumerate(times)]
    quarter = len(offsets) // 4
    return (statistics.median(offsets[-quarter:]) - statistics.median(offsets[:quarter])) / (3 * quarter * tick)


def _off(times: list[float], tick: float) -> list[float]:
    """Return how far each byte is from its place on an even grid that fits them best."""
    offsets = [at - number * tick for number, at in enumerate(times)]
    middle = statistics.median(offsets)
    return [abs(offset - middle) for offset in offsets]
