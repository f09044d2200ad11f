"""Cut a full list where it waits: a sender sends without pauses, so what waits for a unit is a list of its own.

Pure. Times are µs on a 5-pin plug (320 µs a byte), which a sender's own ports are taken to be.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from scenebook.cueing.cues import Message, MessageKind
from scenebook.cueing.order import RELEASE_US
from scenebook.model import Unit
from scenebook.model.protocol import BYTE_US, NOTE_ON, PROGRAM_CHANGE

__all__ = ["StoredPart", "parts_of", "settled_us"]

_KIND = 0xF0  # of a status: what is not the channel


class StoredPart(NamedTuple):
    """What goes out at one press: messages in order, `at_us` from the press.

    `after_us` is how long after the press before it, of the same cue, it may come at the earliest.
    """

    messages: tuple[Message, ...]
    after_us: int


class _Cutter:
    """Puts each message into the first part in which its unit obeys it."""

    def __init__(self, units: Mapping[str, Unit]) -> None:
        self._units = units
        self.parts: list[list[Message]] = []
        self.after: list[int] = []
        self._clocks: dict[tuple[str, int], int] = {}
        self._ready: dict[object, tuple[int, int]] = {}  # by unit, or note to be released: part, µs from its press

    def add(self, message: Message) -> None:
        """Put a message after those before it of its port, or into the next part where that would be too early."""
        place, due = self._ready.get(message.unit, (0, 0))
        if _is_release(message):
            place, due = max((place, due), self._ready.pop((message.unit, message.member), (0, 0)))
        if self._clocks.get((message.port, place), 0) < due:
            self._open(place + 1, due)
            place, due = place + 1, 0
        self._open(place, 0)
        start = self._clocks.get((message.port, place), 0)
        self.parts[place].append(message._replace(at_us=start))
        end = self._clocks[message.port, place] = start + BYTE_US * len(message.data)
        self._ready[message.unit] = place, max(due, end + settle) if (settle := self._settle(message)) else due
        if _must_be_released(message):
            self._ready[message.unit, message.member] = place, end + RELEASE_US

    def _settle(self, message: Message) -> int:
        return _settle_us(message, self._units)

    def _open(self, place: int, after_us: int) -> None:
        while len(self.parts) <= place:
            self.parts.append([])
            self.after.append(0)
        self.after[place] = max(self.after[place], after_us)


def parts_of(messages: Sequence[Message], units: Mapping[str, Unit], *, pauses: bool) -> tuple[StoredPart, ...]:
    """Return what to store for the messages of one full cue: one part, or several where a unit has to settle.

    A unit that recalls a preset is sent the rest at the next press, once it has settled; so is the release of a
    trigger's note. A sender that holds `pauses` in a list needs one part, and `at_us` then has them.
    """
    if pauses or not messages:
        return (StoredPart(tuple(messages), 0),) if messages else ()
    cutter = _Cutter(units)
    for message in messages:
        cutter.add(message)
    after = [0]
    for place, part in enumerate(cutter.parts[:-1]):
        after.append(max(cutter.after[place + 1], *(_end(message) for message in part)))
    return tuple(StoredPart(tuple(part), us) for part, us in zip(cutter.parts, after, strict=True))


def settled_us(messages: Iterable[Message], units: Mapping[str, Unit]) -> int:
    """Return when all has gone and every unit has settled, from the first message on."""
    return max((_end(message) + _settle_us(message, units) for message in messages), default=0)


def _end(message: Message) -> int:
    return message.at_us + BYTE_US * len(message.data)


def _settle_us(message: Message, units: Mapping[str, Unit]) -> int:
    """Return how long a unit settles after this message; nothing is listed after a recall whose time nobody knows."""
    programs = units[message.unit].programs
    if programs is None or message.kind is not MessageKind.RECALL or message.data[0] & _KIND != PROGRAM_CHANGE:
        return 0
    return programs.settle_us or 0


def _is_release(message: Message) -> bool:
    return message.kind is MessageKind.TRIGGER and message.value == "release"


def _must_be_released(message: Message) -> bool:
    return message.kind is MessageKind.TRIGGER and not _is_release(message) and message.data[0] & _KIND == NOTE_ON
