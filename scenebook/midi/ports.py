"""Say what a port is, and provide the one that every machine has: the built-in loopback.

A port is a small class with two or three methods; whoever has another MIDI library writes two of them.
Nothing here touches the system.
"""

import time
from abc import ABC, abstractmethod
from collections import deque
from dataclasses import dataclass
from typing import Final, Literal, Self

from scenebook.errors import PortError

__all__ = ["LOOPBACK", "POLL_S", "InPort", "OutPort", "PortInfo", "closed_error", "loopback_pair"]

LOOPBACK: Final = "built-in loopback"

# Between two looks at an input. Without any sleep the system's own thread starves and loses messages.
POLL_S: Final = 0.000_2


@dataclass(frozen=True, slots=True)
class PortInfo:
    """One port that is there: what it is called, which way it goes as seen from here, and whose it is.

    `direction` is "out" for a port that can be sent to, "in" for one that can be read, "both" for the loopback.
    `kind` is in plain words, such as "JACK" or "built-in loopback".
    """

    name: str
    direction: Literal["in", "out", "both"]
    kind: str


class OutPort(ABC):
    """Somewhere to send messages to. A context manager that closes it."""

    name: str

    @abstractmethod
    def send(self, message: bytes) -> None:
        """Send one whole message.

        Raises:
            PortError: the port is closed, or the system refuses.
            ValueError: `message` is empty.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of the port; closing twice is harmless."""

    def __enter__(self) -> Self:
        """Return the port itself."""
        return self

    def __exit__(self, *exc_info: object) -> None:
        """Close the port."""
        self.close()


class InPort(ABC):
    """Somewhere to read messages from. A context manager that closes it."""

    name: str

    @abstractmethod
    def poll(self) -> list[bytes]:
        """Return the messages that have arrived since the last look, oldest first, without waiting.

        Raises:
            PortError: the port is closed, or the system refuses.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of the port; closing twice is harmless."""

    def read(self, count: int, *, seconds: float) -> list[bytes]:
        """Return at least `count` messages, or what has come after `seconds` where fewer arrive.

        Raises:
            PortError: the port is closed, or the system refuses.
        """
        end = time.monotonic() + seconds
        messages = self.poll()
        while len(messages) < count and time.monotonic() < end:
            time.sleep(POLL_S)
            messages += self.poll()
        return messages

    def __enter__(self) -> Self:
        """Return the port itself."""
        return self

    def __exit__(self, *exc_info: object) -> None:
        """Close the port."""
        self.close()


def loopback_pair() -> tuple[OutPort, InPort]:
    """Return an output and the input on which all that is sent to it arrives, byte for byte and in order."""
    queue: deque[bytes] = deque()
    return _LoopbackOut(queue), _LoopbackIn(queue)


class _LoopbackOut(OutPort):
    name = LOOPBACK

    def __init__(self, queue: deque[bytes]) -> None:
        self._queue: deque[bytes] | None = queue

    def send(self, message: bytes) -> None:
        if self._queue is None:
            raise closed_error(self.name)
        if not message:
            raise ValueError("message: found no bytes; one whole MIDI message is accepted")
        self._queue.append(bytes(message))

    def close(self) -> None:
        self._queue = None


class _LoopbackIn(InPort):
    name = LOOPBACK

    def __init__(self, queue: deque[bytes]) -> None:
        self._queue: deque[bytes] | None = queue

    def poll(self) -> list[bytes]:
        if self._queue is None:
            raise closed_error(self.name)
        return [self._queue.popleft() for _ in range(len(self._queue))]

    def close(self) -> None:
        self._queue = None


def closed_error(name: str) -> PortError:
    """Return the error of a port that is used after it was closed."""
    return PortError(f"the port '{name}' is closed", remedy="Open it again")
