"""When each message of a port may go out: the speed of its plug, settling, and each unit's own least gap. Pure.

Times are whole microseconds on the gig's clock. A pacer is asked one message at a time, so the first of a long list
is out before the last is looked at, and what a unit still needs after the cue before is not forgotten at the next.
"""

import math
from collections.abc import Mapping
from typing import NamedTuple

from scenebook.cueing.cues import Message, MessageKind
from scenebook.cueing.order import RELEASE_US
from scenebook.model.protocol import BANK_SELECT_LSB, BANK_SELECT_MSB, BYTE_US, CONTROL_CHANGE, PROGRAM_CHANGE
from scenebook.model.units import Unit

__all__ = ["Needs", "Pacer", "is_bank_select", "is_release", "needs_of"]


class Needs(NamedTuple):
    """What units need of time, in microseconds by unit: after a recall, and between two messages to them."""

    settles: Mapping[str, int]
    gaps: Mapping[str, int]


def needs_of(units: Mapping[str, Unit]) -> Needs:
    """Return what units need of time, as their own descriptions say it; a settle time that nobody knows is none."""
    settles = {name: unit.programs.settle_us for name, unit in units.items() if unit.programs}
    gaps = {name: math.ceil(unit.least_gap_ms * 1000) for name, unit in units.items() if unit.least_gap_ms}
    return Needs({name: settle for name, settle in settles.items() if settle}, gaps)


def is_release(message: Message) -> bool:
    """Return whether a message lets go of a trigger's note."""
    return message.kind is MessageKind.TRIGGER and message.value == "release"


def is_bank_select(message: Message) -> bool:
    """Return whether a message is a Bank Select, so that its Program Change has to follow before anything else."""
    data = message.data
    is_controller = message.kind is MessageKind.RECALL and data[0] & 0xF0 == CONTROL_CHANGE
    return is_controller and data[1] in (BANK_SELECT_MSB, BANK_SELECT_LSB)


class Pacer:
    """The clock of one port.

    A 5-pin plug carries a byte in 320 µs (31,250 baud: MIDI 1.0, hardware); a USB device takes what it gets. A unit
    obeys again when its settle time is over, counted from the end of a recall's last byte (rule C7).
    """

    def __init__(self, needs: Needs, *, byte_us: int = BYTE_US) -> None:
        """Keep what units need; `byte_us` is 0 for a USB device."""
        self._needs, self._byte_us = needs, byte_us
        self._free = 0  # the plug
        self._ready: dict[str, int] = {}  # by unit: settled, and its least gap over
        self._notes: dict[tuple[str, str], int] = {}  # by unit and trigger: its note's last byte is out

    def due(self, message: Message, now: int) -> int:
        """Return the earliest moment at which `message` may start: `now`, or what it waits for."""
        at = max(now, self._free, self._ready.get(message.unit, 0))
        if is_release(message):
            return max(at, self._notes.get((message.unit, message.member), now) + RELEASE_US)
        return at

    def gone(self, message: Message, start: int) -> None:
        """Reckon with a message whose first byte has started."""
        unit, data = message.unit, message.data
        self._free = end = max(start, self._free) + self._byte_us * len(data)
        ready = end + self._needs.gaps.get(unit, 0)
        if message.kind is MessageKind.RECALL and data[0] & 0xF0 == PROGRAM_CHANGE:
            ready = max(ready, end + self._needs.settles.get(unit, 0))
        if ready > self._ready.get(unit, 0):
            self._ready[unit] = ready
        if message.kind is MessageKind.TRIGGER:
            if is_release(message):
                self._notes.pop((unit, message.member), None)
            else:
                self._notes[unit, message.member] = end

    def busy(self, now: int) -> dict[str, int]:
        """Return the units that are not ready for another message, and when they are."""
        return {unit: ready for unit, ready in self._ready.items() if ready > now}

    def sounds(self, release: Message) -> bool:
        """Return whether the note that `release` lets go of has gone out."""
        return (release.unit, release.member) in self._notes

    def real_time(self, start: int) -> None:
        """Reckon with a byte of clock, which may go between any two messages and takes its time on the wire."""
        self._free = max(start, self._free) + self._byte_us
