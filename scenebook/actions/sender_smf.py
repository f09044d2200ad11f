"""Write the lists of a sender as a Standard MIDI File: a marker for each list, a track for each port.

A list begins on a bar line, two seconds a bar. A tick is a millisecond; no two messages of a port share one.
"""

from collections.abc import Iterator, Sequence

from scenebook.cueing.cues import Message
from scenebook.cueing.sender import SenderLists
from scenebook.midi.smf import SmfEvent, SmfFile, SmfTrack, marker, smf_bytes, tempo, time_signature
from scenebook.model.protocol import BYTE_US

__all__ = ["sender_file", "sender_smf"]

_DIVISION, _US_PER_QUARTER = 500, 500_000  # so that a tick is a millisecond
_TICK_US = _US_PER_QUARTER // _DIVISION
_BAR = 4 * _DIVISION


def sender_smf(stored: SenderLists) -> bytes:
    """Return the lists as the bytes of a Standard MIDI File (format 1)."""
    return smf_bytes(sender_file(stored))


def sender_file(stored: SenderLists) -> SmfFile:
    """Return the lists as a file: markers "bank 1, switch 2: Harbour: verse" in the first track, then messages."""
    marks = [SmfEvent(0, time_signature(4, 4)), SmfEvent(0, tempo(_US_PER_QUARTER))]
    sent: dict[str, list[SmfEvent]] = {port: [] for port in stored.ports}
    begin = end = 0
    for each in stored.lists:
        marks.append(SmfEvent(begin, marker(f"{each.label}: {each.name}")))
        for port, tick, data in _placed(each.messages):
            sent[port].append(SmfEvent(begin + tick, data))
            end = begin + tick
        begin = (end // _BAR + 1) * _BAR
    first = SmfTrack(f"{stored.unit}, {stored.gig}", tuple(marks), begin)
    return SmfFile(_DIVISION, (first, *(SmfTrack(port, tuple(events), begin) for port, events in sent.items())))


def _placed(messages: Sequence[Message]) -> Iterator[tuple[str, int, bytes]]:
    """Yield (port, tick, bytes): each message when its time has come and the one before it has gone."""
    clocks: dict[str, int] = {}
    for message in messages:
        tick = max(-(-message.at_us // _TICK_US), clocks.get(message.port, 0))
        clocks[message.port] = tick + max(1, -(-BYTE_US * len(message.data) // _TICK_US))
        yield message.port, tick, message.data
