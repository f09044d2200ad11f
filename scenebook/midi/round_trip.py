"""Carry messages round a link and bring back every byte, with no queue overflowing and no wait without end."""

import time
from collections.abc import Sequence
from typing import Final

from scenebook.midi.links import Link
from scenebook.midi.ports import POLL_S, InPort
from scenebook.model.protocol import BYTE_US

__all__ = ["exchange"]

# How many bytes may be under way at once. Far below the smallest queue on the way (ALSA's pool of 500 events,
# JACK's ring of 16 KiB), and enough to fill a MIDI lead for a third of a second.
_WINDOW: Final = 1_024
_STALL_S: Final = 1.0  # nothing for so long, and for twice the time it takes on a lead: what is under way is lost
_QUIET_S: Final = 0.005  # after the last byte: does anything more follow?


def exchange(link: Link, messages: Sequence[bytes], deadline: float) -> bytes:
    """Send `messages` back to back and return every byte that came back, in order.

    Reads while sending and never has more under way than the queues hold. Ends as soon as as many bytes have come
    as were sent and nothing more follows; where bytes are lost, when nothing has come for a second or so; at the
    latest after `deadline` seconds. Nothing is repaired and nothing left out: comparing is the caller's part.

    Raises:
        PortError: a port is closed, or the system refuses.
    """
    flight = _Flight(link.back, seconds=deadline)
    for message in messages:
        flight.wait_for_room(len(message))
        if flight.is_over:
            break
        link.out.send(message)
        flight.took_off(len(message))
    flight.wait_for_all()
    return bytes(flight.back)


class _Flight:
    """What is under way between the two sides of a link, and what has come back so far."""

    def __init__(self, port: InPort, *, seconds: float) -> None:
        self.back = bytearray()
        self._port = port
        self._last_change = time.monotonic()
        self._end = self._last_change + seconds
        self._sent = 0
        self._lost = 0
        self._has_stalled = False
        self._given_up = False

    @property
    def is_over(self) -> bool:
        return self._given_up or time.monotonic() >= self._end

    def took_off(self, size: int) -> None:
        self._sent += size
        self._last_change = time.monotonic()

    def wait_for_room(self, size: int) -> None:
        """Wait until `size` more bytes fit; a message longer than the window goes when nothing else is under way."""
        while self._under_way() > 0 and self._under_way() + size > _WINDOW and not self.is_over:
            self._look()
            if self._stalls():
                # Once, and the rest may get through. Twice, and the other side is gone: JACK's ring of bytes would
                # fill up, and python-rtmidi waits in it for ever.
                self._given_up = self._has_stalled
                self._has_stalled = True
                self._lost += self._under_way()

    def wait_for_all(self) -> None:
        """Wait until as much has come back as was sent, then see whether more follows."""
        while self._under_way() > 0 and not self.is_over and not self._stalls():
            self._look()
        quiet_until = time.monotonic() + _QUIET_S
        while time.monotonic() < quiet_until:
            self._look()

    def _under_way(self) -> int:
        return self._sent - self._lost - len(self.back)

    def _stalls(self) -> bool:
        patience = _STALL_S + 2 * self._under_way() * BYTE_US / 1_000_000
        return time.monotonic() - self._last_change > patience

    def _look(self) -> None:
        """Take what has arrived, or sleep a moment."""
        heard = b"".join(self._port.poll())
        if heard:
            self.back += heard
            self._last_change = time.monotonic()
            self._has_stalled = False
        else:
            time.sleep(POLL_S)
