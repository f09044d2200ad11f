"""Ports at the far end of a pipe: each is carried by a process of its own, which is started here and let go of.

Why no MIDI library is loaded in the gig's own process is told in `watching`.
"""

import contextlib
import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from scenebook.errors import PortError
from scenebook.midi import carrier
from scenebook.midi.ports import InPort, OutPort, closed_error

__all__ = ["CarriedIn", "CarriedOut", "Leaving", "opened", "started"]

_OPEN_S: Final = 5.0  # for a carrier to start and open its port, on a busy machine
_WRITE_S: Final = 0.05  # for a message longer than a pipe takes at once

_Process = subprocess.Popen[bytes]


class CarriedOut(OutPort):
    """An output at the far end of a pipe; it is cut where nothing that is sent arrives any more.

    That is so when its carrier has ended, or the carrier's port has lost what it was joined to.
    """

    is_cut = False

    def __init__(self, name: str, process: _Process, leave: Callable[["CarriedOut"], None]) -> None:
        """Take a carrier whose port is open; `leave` is called once when it is to be let go of."""
        assert process.stdin is not None
        assert process.stdout is not None
        self.name, self.process, self._leave = name, process, leave
        self.descriptor: int = process.stdout.fileno()  # says nothing until its carrier ends
        self._pipe: int | None = process.stdin.fileno()
        os.set_blocking(self._pipe, False)

    def send(self, message: bytes) -> None:
        """Send one whole message. Raises PortError."""
        if self._pipe is None:
            raise closed_error(self.name)
        if not message:
            raise ValueError("message: found no bytes; one whole MIDI message is accepted")
        framed = carrier.frame(message)
        try:
            written = os.write(self._pipe, framed)
        except BlockingIOError:
            raise self._full() from None
        except OSError:
            raise self._gone() from None
        if written < len(framed):
            self._send_rest(self._pipe, framed[written:])

    def _send_rest(self, pipe: int, data: bytes) -> None:
        """Send what a pipe did not take at once: only of messages longer than 4 KiB."""
        end = time.monotonic() + _WRITE_S
        try:
            while data:
                if not select.select([], [pipe], [], max(0.0, end - time.monotonic()))[1]:
                    raise self._full()
                data = data[os.write(pipe, data) :]
        except OSError:
            raise self._gone() from None

    def _full(self) -> PortError:
        return PortError(f"the port '{self.name}' takes nothing more")

    def _gone(self) -> PortError:
        return PortError(f"the port '{self.name}' is gone")

    @property
    def is_closed(self) -> bool:
        """Whether it has been let go of."""
        return self._pipe is None

    @property
    def client(self) -> str:
        """The name by which the MIDI system knows the carrier."""
        return carrier.client_name(self.process.pid)

    def close(self) -> None:
        """Let go of the carrier."""
        if self._pipe is not None:
            self._pipe = None
            self._leave(self)


class CarriedIn(InPort):
    """An input at the far end of a pipe; that it has ended shows when it is polled."""

    is_cut = False

    def __init__(self, name: str, process: _Process, leave: Callable[["CarriedIn"], None]) -> None:
        """Take a carrier whose port is open; `leave` is called once when it is to be let go of."""
        assert process.stdout is not None
        self.name, self.process, self._leave = name, process, leave
        self.descriptor: int = process.stdout.fileno()
        self._is_closed = False
        os.set_blocking(self.descriptor, False)
        self._buffer = bytearray()

    def poll(self) -> list[bytes]:
        """Return what has come in. Raises PortError."""
        if self._is_closed:
            raise closed_error(self.name)
        try:
            data = os.read(self.descriptor, 65_536)
        except BlockingIOError:
            return []
        except OSError:
            data = b""
        if not data:
            raise PortError(f"the port '{self.name}' is gone")
        self._buffer += data
        return list(carrier.frames(self._buffer))

    def close(self) -> None:
        """Let go of the carrier."""
        if not self._is_closed:
            self._is_closed = True
            self._leave(self)


class Leaving:
    """Carriers that were let go of: each ends by itself, and is ended where it does not. Any thread."""

    def __init__(self) -> None:
        """Begin with none."""
        self._lock = threading.Lock()
        self._processes: list[_Process] = []

    def let_go(self, process: _Process) -> None:
        """Close the pipes of a carrier, upon which it ends by itself."""
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        with self._lock:
            self._processes.append(process)

    def reap(self, seconds: float = 0.0) -> None:
        """Forget those that have ended; after `seconds` the rest is ended by force, unless it is 0."""
        with self._lock:
            processes, self._processes = self._processes, []
        end = time.monotonic() + seconds
        left = [process for process in processes if not _has_ended(process, end if seconds else None)]
        with self._lock:
            self._processes += left


def _has_ended(process: _Process, end: float | None) -> bool:
    """Return whether a process has ended; with an `end` it has by then."""
    if end is not None and process.poll() is None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(max(0.0, end - time.monotonic()))
        if process.poll() is None:
            process.kill()
            process.wait()
    return process.poll() is not None


def started(*arguments: str) -> _Process:
    """Start a carrier, in a session of its own: a terminal's Ctrl-C ends the gig, and the gig ends its carriers."""
    return subprocess.Popen(
        [sys.executable, "-P", str(Path(carrier.__file__)), *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        bufsize=0 if arguments[0] != "watch" else -1,
        env=os.environ | {"JACK_NO_START_SERVER": "1"},
        start_new_session=True,
    )


def opened(way: str, system: str, name: str) -> _Process:
    """Start a carrier and wait until its port is open.

    Raises:
        PortError: the system refuses, or does not answer.
    """
    process = started(way, system, name)
    answer = _answer(process)
    if answer == b"+":
        return process
    leaving = Leaving()
    leaving.let_go(process)
    leaving.reap(0.1)
    raise PortError(
        f"the MIDI system refuses: {answer.decode(errors='replace')}" if answer else "the MIDI system does not answer",
        where=f"port '{name}'",
        remedy="Look with `scenebook ports` at what is there, and whether another program holds the port",
    )


def _answer(process: _Process) -> bytes:
    """Return a carrier's first frame, or nothing where it ends or says nothing in time. No byte more is read."""
    assert process.stdout is not None
    head = carrier.LENGTH
    end, got, wanted = time.monotonic() + _OPEN_S, b"", head
    while len(got) < wanted:
        left = end - time.monotonic()
        if left <= 0 or not select.select([process.stdout], [], [], left)[0]:
            return b""
        more = os.read(process.stdout.fileno(), wanted - len(got))
        if not more:
            return b""
        got += more
        if len(got) == head:
            wanted = head + int.from_bytes(got, "big")
    return got[head:]
