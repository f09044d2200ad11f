"""The machine's MIDI ports for a gig that must not stop: which are there is always at hand, and nothing here waits.

What was found with a JACK server that was killed, stopped and started again (jackd2 1.9.21, python-rtmidi 1.5.8):

- A receiver that goes and comes back under the same name is not joined again; what is sent in between vanishes without
  an error. The port has to be opened anew.
- A client of a server that has gone keeps its old list of ports for ever and sends without an error, until its ring of
  16 KiB is full: then the call never returns. Closing it may not return either (a server in synchronous mode of which a
  client was killed), and neither call gives Python's lock away, so no thread of the process moves any more.
- Opening another client tears the dead ones down behind their owners' backs; closing one of those then crashes.

So no MIDI library is loaded here at all. Each open port is carried by a small program of its own (`carrier`), joined by
pipes that are never waited for, and one more watches which ports there are. Whatever happens to one of them, it ends or
is ended, and another is started. A pipe costs some 50 µs each way.

On a system without such pipes (Windows) ports are opened in this process; its MIDI has no server that could end.
"""

import contextlib
import json
import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

from scenebook.errors import PortError
from scenebook.midi import carrier
from scenebook.midi.names import port_named
from scenebook.midi.ports import POLL_S, InPort, OutPort, closed_error

__all__ = ["WatchedPorts"]

_OPEN_S: Final = 5.0  # for a carrier to start and open its port, on a busy machine
_END_S: Final = 2.0  # for a carrier to end by itself
_AGAIN_S: Final = 0.2  # before a watcher that has ended is started again
_WRITE_S: Final = 0.05  # for a message longer than a pipe takes at once
_FIRST_LOOK_S: Final = 3.0
_PREFERRED: Final = ("API_UNIX_JACK", "API_MACOSX_CORE", "API_LINUX_ALSA")


_Leave = Callable[["subprocess.Popen[bytes]"], None]


class _There(NamedTuple):
    """What a system has: names of outputs and of inputs."""

    outputs: tuple[str, ...] = ()
    inputs: tuple[str, ...] = ()


class WatchedPorts:
    """The ports of this machine, watched from its making until `close`. Any thread may ask."""

    def __init__(self) -> None:
        """Start the watcher; its first look is waited for, a few seconds at most."""
        self._there: Mapping[str, _There] = {}
        self._changes = 0
        self._ended = False
        self._looked = threading.Event()
        self._leaving: list[subprocess.Popen[bytes]] = []
        self._listening: dict[int, _CarriedIn] = {}
        self._sending: tuple[_CarriedOut, ...] = ()
        self._ear, self._mouth = os.pipe()
        for end in (self._ear, self._mouth):
            os.set_blocking(end, False)
        self._watcher = _started("watch")
        self._thread = threading.Thread(target=self._watch, name="ports", daemon=True)
        self._thread.start()
        self._looked.wait(_FIRST_LOOK_S)

    def outputs(self) -> tuple[str, ...]:
        """Return the names of the ports that can be sent to, as last seen.

        One that has come back so fast that it never seemed to be gone is not among them until what was open to it is
        closed: nothing arrives there any more.
        """
        cut = {port.name for port in self._sending if port.is_cut and not port.is_closed}
        return tuple(dict.fromkeys(name for _, name in self._named(0) if name not in cut))

    def inputs(self) -> tuple[str, ...]:
        """Return the names of the ports that can be read, as last seen; our own are not among them."""
        return tuple(dict.fromkeys(name for _, name in self._named(1)))

    @property
    def changes(self) -> int:
        """How often what is there has changed."""
        return self._changes

    def open_output(self, name: str) -> OutPort:
        """Open a port for sending; its name may be shortened. It takes a tenth of a second and more.

        Raises:
            PortError: it is not there, several are meant, or the system refuses.
        """
        full, system = self._found(name, 0, "output port")
        port = _CarriedOut(full, _opened("out", system, full), self._leave)
        self._sending = (*(each for each in self._sending if not each.is_closed), port)
        return port

    def open_input(self, name: str) -> InPort:
        """Open a port for reading; its name may be shortened.

        Raises:
            PortError: it is not there, several are meant, or the system refuses.
        """
        full, system = self._found(name, 1, "input port")
        port = _CarriedIn(full, _opened("in", system, full), self._leave)
        self._listening = {**self._listening, port.descriptor: port}
        self.wake()
        return port

    def wait(self, seconds: float) -> None:
        """Sleep so long; return earlier when a message has come in or `wake` was called."""
        self._listening = {n: port for n, port in self._listening.items() if port.descriptor == n}
        try:
            if self._ear in select.select([self._ear, *self._listening], [], [], max(0.0, seconds))[0]:
                os.read(self._ear, 4_096)
        except (OSError, ValueError):  # closed by another thread meanwhile
            time.sleep(min(seconds, POLL_S))

    def wake(self) -> None:
        """End a `wait`, from any thread."""
        with contextlib.suppress(OSError):  # full: then it wakes anyway; closed: nobody waits
            os.write(self._mouth, b"!")

    def close(self) -> None:
        """End the watcher and every carrier that is left."""
        self._ended = True
        if self._watcher.stdin is not None:
            self._watcher.stdin.close()  # it then ends, and so does the thread that hears it
        self._thread.join(_END_S)
        for heard in list(self._listening.values()):
            heard.close()
        for sent_to in self._sending:
            sent_to.close()
        _reaped(self._leaving, _END_S)
        for end in (self._ear, self._mouth):
            os.close(end)

    def _named(self, way: int) -> list[tuple[str, str]]:
        there = self._there
        pairs = [(system, name) for system in _PREFERRED if system in there for name in there[system][way]]
        return [(system, name) for system, name in pairs if not name.startswith(carrier.CLIENT)]

    def _found(self, name: str, way: int, kind: str) -> tuple[str, str]:
        _reaped(self._leaving, 0)
        named = self._named(way)
        full = port_named(name, [port for _, port in named], kind=kind)
        return full, next(system for system, port in named if port == full)

    def _watch(self) -> None:
        """Hear the watcher, and start it again when it has ended: it ends with JACK's server."""
        while not self._ended:
            assert self._watcher.stdout is not None
            for line in self._watcher.stdout:
                self._hear(line)
            _let_go(self._watcher, self._leaving)
            time.sleep(0 if self._ended else _AGAIN_S)
            if not self._ended:
                self._watcher = _started("watch")

    def _hear(self, line: bytes) -> None:
        if line == b"\n":
            self._looked.set()
            return
        said: dict[str, Any] = json.loads(line)
        there = _There() if carrier.GONE in said else _There(tuple(said["out"]), tuple(said["in"]))
        self._cut(said.get(carrier.LOOSE, ()))
        if self._there.get(said["system"], _There()) != there:
            self._there = {**self._there, said["system"]: there}
            self._changes += 1
            self.wake()

    def _leave(self, process: "subprocess.Popen[bytes]") -> None:
        """Let go of a carrier; what it was joined to may be opened anew."""
        _let_go(process, self._leaving)
        self._changes += 1
        self.wake()

    def _cut(self, loose: Sequence[str]) -> None:
        """Note which of our own ports lead nowhere any more."""
        for port in self._sending:
            if port.client in loose and not port.is_cut:
                port.is_cut = True
                self._changes += 1
                self.wake()


class _CarriedOut(OutPort):
    """An output at the far end of a pipe; it is cut where its carrier's port has lost what it was joined to."""

    is_cut = False

    def __init__(self, name: str, process: "subprocess.Popen[bytes]", leave: _Leave) -> None:
        assert process.stdin is not None
        self.name, self._process, self._leave = name, process, leave
        self._pipe: int | None = process.stdin.fileno()
        os.set_blocking(self._pipe, False)

    def send(self, message: bytes) -> None:
        if self._pipe is None:
            raise closed_error(self.name)
        if not message:
            raise ValueError("message: found no bytes; one whole MIDI message is accepted")
        framed = carrier.frame(message)
        try:
            written = os.write(self._pipe, framed)
        except BlockingIOError:
            raise PortError(f"the port '{self.name}' takes nothing more") from None
        except OSError:
            raise PortError(f"the port '{self.name}' is gone") from None
        if written < len(framed):
            self._send_rest(framed[written:])

    def _send_rest(self, data: bytes) -> None:
        """Send what a pipe did not take at once: only of messages longer than 4 KiB."""
        end = time.monotonic() + _WRITE_S
        while data and time.monotonic() < end:
            assert self._pipe is not None
            with contextlib.suppress(BlockingIOError):
                data = data[os.write(self._pipe, data) :]
        if data:
            raise PortError(f"the port '{self.name}' takes nothing more")

    @property
    def is_closed(self) -> bool:
        return self._pipe is None

    @property
    def client(self) -> str:
        return carrier.client_name(self._process.pid)

    def close(self) -> None:
        if self._pipe is not None:
            self._pipe = None
            self._leave(self._process)


class _CarriedIn(InPort):
    """An input at the far end of a pipe."""

    def __init__(self, name: str, process: "subprocess.Popen[bytes]", leave: _Leave) -> None:
        assert process.stdout is not None
        self.name, self._process, self._leave = name, process, leave
        self.descriptor: int = process.stdout.fileno()
        os.set_blocking(self.descriptor, False)
        self._buffer = bytearray()

    def poll(self) -> list[bytes]:
        if self.descriptor < 0:
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
        if self.descriptor >= 0:
            self.descriptor = -1
            self._leave(self._process)


def _started(*arguments: str) -> "subprocess.Popen[bytes]":
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


def _opened(way: str, system: str, name: str) -> "subprocess.Popen[bytes]":
    """Start a carrier and wait until its port is open."""
    process = _started(way, system, name)
    answer = _answer(process)
    if answer == b"+":
        return process
    leaving: list[subprocess.Popen[bytes]] = []
    _let_go(process, leaving)
    _reaped(leaving, 0.1)
    raise PortError(
        f"the MIDI system refuses: {answer.decode(errors='replace')}" if answer else "the MIDI system does not answer",
        where=f"port '{name}'",
        remedy="Look with `scenebook ports` at what is there, and whether another program holds the port",
    )


def _answer(process: "subprocess.Popen[bytes]") -> bytes:
    """Return a carrier's first frame, or nothing where it ends or says nothing in time. No byte more is read."""
    assert process.stdout is not None
    end, got, wanted = time.monotonic() + _OPEN_S, b"", 2
    while len(got) < wanted:
        left = end - time.monotonic()
        if left <= 0 or not select.select([process.stdout], [], [], left)[0]:
            return b""
        more = os.read(process.stdout.fileno(), wanted - len(got))
        if not more:
            return b""
        got += more
        if len(got) == 2:
            wanted = 2 + int.from_bytes(got, "big")
    return got[2:]


def _let_go(process: "subprocess.Popen[bytes]", leaving: "list[subprocess.Popen[bytes]]") -> None:
    """Close the pipes of a carrier, upon which it ends by itself; who starts or ends the next looks after it."""
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with contextlib.suppress(OSError):
                pipe.close()
    leaving.append(process)


def _reaped(leaving: "list[subprocess.Popen[bytes]]", seconds: float) -> None:
    """Take the carriers that have ended off the list; after `seconds` the rest is ended by force, unless it is 0."""
    end = time.monotonic() + seconds
    for process in list(leaving):
        if seconds and process.poll() is None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(max(0.0, end - time.monotonic()))
            if process.poll() is None:
                process.kill()
                process.wait()
        if process.poll() is not None:
            leaving.remove(process)
