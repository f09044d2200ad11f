"""Compile against mido only making the same messages; and how the work grows with the number of cues."""

from time import perf_counter

import mido

from scenebook.cueing.compile import Compiler, compile_gig
from scenebook.cueing.points import gig_points
from scenebook.model import Library
from scenebook.model.protocol import BYTE_US, PROGRAM_CHANGE
from tests.benchmarks.gigs import SEED, large_gig
from tests.benchmarks.table import Row, medians
from tests.support.brute_force import least_cost
from tests.support.build import GIG, RIG
from tests.support.gigs_at_random import gig_at_random
from tests.support.listed import listed_cost

__all__ = ["run"]


def run() -> list[Row]:
    """Return the ratio to mido, the growth from 1,000 to 10,000 cues in edges and time, and the waits beyond need."""
    library = large_gig(1_000)
    cues = compile_gig(library, "gig").cues
    sent = [message.data for cue in cues for message in cue.messages]
    ours, theirs, ratio = medians(lambda: compile_gig(library, "gig"), lambda: _mido_encodes(sent))
    note = f"{len(sent) / len(cues):.1f} messages a cue, seed {SEED}, {ours * 1e3:.0f} ms against {theirs * 1e3:.0f}"
    first = Row("compile 1,000 cues x 20 units / mido making the messages", ratio, 3.0, note)
    return [first, *_growth(library), _exactness()]


def _mido_encodes(sent: list[bytes]) -> list[list[int]]:
    """Build each message as mido's own object from its values, checked, and encode it."""
    encoded = []
    for data in sent:
        if data[0] & 0xF0 == PROGRAM_CHANGE:
            message = mido.Message("program_change", channel=data[0] & 0x0F, program=data[1])
        else:
            message = mido.Message("control_change", channel=data[0] & 0x0F, control=data[1], value=data[2])
        encoded.append(message.bytes())
    return encoded


def _growth(library: Library) -> list[Row]:
    small, large = _edges_and_seconds(library), _edges_and_seconds(large_gig(10_000))
    return [
        Row("path edges, 10,000 cues / 1,000", large[0] / small[0], 10.1, f"{small[0]} and {large[0]}"),
        Row("time, 10,000 cues / 1,000", large[1] / small[1], 15.0),
        Row("wait in a cue beyond bytes and settling, us", _idle_us(library), 0),
    ]


def _edges_and_seconds(library: Library) -> tuple[int, float]:
    best = []
    for _ in range(3):
        start = perf_counter()
        compile_gig(library, "gig")
        best.append(perf_counter() - start)
    gig = library.gigs["gig"]
    compiler = Compiler(library, gig, "wall")
    compiler.cues(gig_points(library, gig))
    return sum(path.edges for path in compiler.paths), min(best)


def _idle_us(library: Library) -> int:
    """Return the longest time in any cue in which the wire rests though a unit is ready for a message due to it."""
    longest = 0
    for cue in compile_gig(library, "gig").cues:
        ready: dict[str, int] = {}
        free: dict[str, int] = {}
        for message in cue.messages:
            settle = library.units[message.unit].programs
            wait = message.at_us - max(free.get(message.port, 0), ready.get(message.unit, 0))
            longest = max(longest, wait)
            free[message.port] = message.at_us + BYTE_US * len(message.data)
            if message.data[0] & 0xF0 == PROGRAM_CHANGE and settle is not None:
                ready[message.unit] = free[message.port] + round((settle.settle_ms or 0) * 1000)
    return longest


def _exactness() -> Row:
    """Return the largest lean cost over the exact least, over small random gigs: by-hand, holes, wire added up."""
    worst, compared = 1.0, 0
    for seed in range(42_000, 43_000):
        gig = gig_at_random(seed)
        least = least_cost(gig, GIG, RIG).least
        if least is not None:
            made = sum(listed_cost(gig, compile_gig(gig, GIG))[0])
            worst, compared = max(worst, made / max(1, sum(least)) if sum(least) else 1.0), compared + 1
    return Row("lean cost / exact least, the worst of small gigs", worst, 1.0, f"{compared} gigs by brute force")
