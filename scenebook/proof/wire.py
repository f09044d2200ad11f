"""When each message of a cue is heard: from bytes and waits, never from the wall clock (C7, P4)."""

from collections.abc import Sequence
from typing import NamedTuple

from scenebook.model.protocol import BYTE_US
from scenebook.model.stream import heard
from scenebook.proof.lists import SentMessage

__all__ = ["Timed", "first_difference", "timed"]


class Timed(NamedTuple):
    """A whole message: µs from the cue to the start of its first byte and to the end of its last, and its bytes."""

    start: int
    end: int
    message: bytes


def timed(sent: Sequence[SentMessage], arrived: bytes | None) -> tuple[list[Timed], bytes]:
    """Return what is heard on one port at a cue, with its times, and the bytes that came.

    What arrived is read; where a byte was sent says when. Bytes beyond those that were sent follow at once. Each cue is
    read by itself: no status runs on from the cue before.
    """
    starts: list[int] = []
    clock = 0
    for message in sent:
        clock += message.wait_us
        for _ in message.data:
            starts.append(clock)
            clock += BYTE_US
    data = b"".join(message.data for message in sent) if arrived is None else arrived
    starts += range(clock, clock + BYTE_US * max(0, len(data) - len(starts)), BYTE_US)
    return [Timed(starts[item.start], starts[item.end - 1] + BYTE_US, item.message) for item in heard(data)], data


def first_difference(sent: bytes, arrived: bytes) -> str | None:
    """Say where what came back first differs from what was sent; nothing if it does not."""
    if sent == arrived:
        return None
    for place, (out, back) in enumerate(zip(sent, arrived, strict=False), 1):
        if out != back:
            return f"byte {place} was sent as {out:02X} and came back as {back:02X}"
    return f"{len(sent)} bytes were sent and {len(arrived)} came back"
