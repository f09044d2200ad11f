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
import threading
import time
from collections.abc import Mapping, Sequence
from subprocess import Popen
from typing import Any, Final, NamedTuple

from scenebook.midi import carrier, carrying
from scenebook.midi.carrying import CarriedIn, CarriedOut, Leaving, opened
from scenebook.midi.names import is_ours, port_named
from scenebook.midi.ports import POLL_S, InPort, OutPort

__all__ = ["WatchedPorts"]

_END_S: Final = 2.0  # for a carrier to end by itself
_AGAIN_S: Final = 0.2  # before a watcher that has ended is started again
_FIRST_LOOK_S: Final = 3.0
_PREFERRED: Final = ("API_UNIX_JACK", "API_MACOSX_CORE", "API_LINUX_ALSA")


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
        self._ended, self._looked = threading.Event(), threading.Event()
        self._lock = threading.Lock()  # for what follows, and for `_changes`
        self._open: Mapping[int, CarriedIn | CarriedOut] = {}  # by what is readable when there is news of it
        self._ear, self._mouth = os.pipe()
        for end in (self._ear, self._mouth):
            os.set_blocking(end, False)
        self._leaving = Leaving()
        self._watcher: Popen[bytes] | None = None
        self._thread = threading.Thread(target=self._watch, name="ports", daemon=True)
        self._thread.start()
        self._looked.wait(_FIRST_LOOK_S)

    def outputs(self) -> tuple[str, ...]:
        """Return the names of the ports that can be sent to, as last seen; our own are not among them.

        One that has come back so fast that it never seemed to be gone is not among them until what was open to it is
        closed: nothing arrives there any more. Nor is one whose carrier has ended.
        """
        cut = {port.name for port in self._sending() if port.is_cut}
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
        port = CarriedOut(full, opened("out", system, full), self._leave)
        self._keep(port)
        return port

    def open_input(self, name: str) -> InPort:
        """Open a port for reading; its name may be shortened.

        Raises:
            PortError: it is not there, several are meant, or the system refuses.
        """
        full, system = self._found(name, 1, "input port")
        port = CarriedIn(full, opened("in", system, full), self._leave)
        self._keep(port)
        return port

    def wait(self, seconds: float) -> None:
        """Sleep so long; return earlier when a message has come in, a carrier has ended or `wake` was called."""
        there = self._open
        try:
            open_now = [descriptor for descriptor, port in there.items() if not port.is_cut]
            ready = select.select([self._ear, *open_now], [], [], max(0.0, seconds))[0]
            if self._ear in ready:
                os.read(self._ear, 4_096)
        except (OSError, ValueError):  # closed by another thread meanwhile
            time.sleep(max(0.0, min(seconds, POLL_S)))
            return
        for descriptor in ready:
            port = there.get(descriptor)
            if isinstance(port, CarriedOut):  # it says nothing, so this is its end
                self._cut(port)

    def wake(self) -> None:
        """End a `wait`, from any thread."""
        with self._lock, contextlib.suppress(OSError):  # full: then it wakes anyway
            if self._mouth >= 0:
                os.write(self._mouth, b"!")

    def close(self) -> None:
        """End the watcher and every carrier that is left."""
        self._ended.set()
        watcher = self._watcher
        if watcher is not None and watcher.stdin is not None:
            with contextlib.suppress(OSError):
                watcher.stdin.close()  # it then ends, and so does the thread that hears it
        self._thread.join(_END_S)
        for port in self._open.values():
            port.close()
        self._leaving.reap(_END_S)
        with self._lock:
            ends, self._ear, self._mouth = (self._ear, self._mouth), -1, -1
        for end in ends:
            if end >= 0:
                os.close(end)

    def _named(self, way: int) -> list[tuple[str, str]]:
        there = self._there
        pairs = [(system, name) for system in _PREFERRED if system in there for name in there[system][way]]
        return [(system, name) for system, name in pairs if not is_ours(name)]

    def _found(self, name: str, way: int, kind: str) -> tuple[str, str]:
        self._leaving.reap()
        named = self._named(way)
        full = port_named(name, [port for _, port in named], kind=kind)
        return full, next(system for system, port in named if port == full)

    def _sending(self) -> list[CarriedOut]:
        return [port for port in self._open.values() if isinstance(port, CarriedOut)]

    def _watch(self) -> None:
        """Hear the watcher, and start it again when it has ended: it ends with JACK's server. Nothing ends this."""
        while not self._ended.is_set():
            with contextlib.suppress(Exception):  # no process to be had, half a line: look again
                self._watcher = carrying.started("watch")
                self._hear_all(self._watcher)
            if self._watcher is not None:
                self._leaving.let_go(self._watcher)
                self._watcher = None
            self._leaving.reap()
            self._ended.wait(_AGAIN_S)

    def _hear_all(self, watcher: "Popen[bytes]") -> None:
        assert watcher.stdout is not None
        while not self._ended.is_set() and (line := watcher.stdout.readline()):
            self._hear(line)

    def _hear(self, line: bytes) -> None:
        if line == b"\n":
            self._looked.set()
            return
        said: dict[str, Any] = json.loads(line)
        there = _There() if carrier.GONE in said else _There(tuple(said["out"]), tuple(said["in"]))
        self._cut_loose(said.get(carrier.LOOSE, ()))
        if self._there.get(said["system"], _There()) != there:
            self._there = {**self._there, said["system"]: there}
            self._changed()

    def _keep(self, port: CarriedIn | CarriedOut) -> None:
        """Wait for news of a port from now on."""
        with self._lock:
            self._open = {**self._open, port.descriptor: port}
        self.wake()

    def _leave(self, port: CarriedIn | CarriedOut) -> None:
        """Let go of a carrier; what it was joined to may be opened anew."""
        with self._lock:
            self._open = {number: each for number, each in self._open.items() if each is not port}
        self._leaving.let_go(port.process)
        self._changed()

    def _cut_loose(self, loose: Sequence[str]) -> None:
        """Note which of our own ports lead nowhere any more."""
        for port in self._sending():
            if port.client in loose:
                self._cut(port)

    def _cut(self, port: CarriedOut) -> None:
        if not port.is_cut:
            port.is_cut = True
            self._changed()

    def _changed(self) -> None:
        with self._lock:
            self._changes += 1
        self.wake()
