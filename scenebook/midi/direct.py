"""The machine's MIDI ports opened in this process: for systems without pipes that can be polled (Windows).

Its MIDI has no server that could end or be stuck, so nothing has to stand between. Elsewhere see `watching`.
"""

import contextlib
import os
import threading
from typing import Final, Protocol

from scenebook.midi.names import port_named
from scenebook.midi.ports import POLL_S, InPort, OutPort
from scenebook.midi.system import MidiSystem, find_systems
from scenebook.midi.watching import WatchedPorts

__all__ = ["DirectPorts", "MachinePorts", "machine_ports"]

_LOOK_S: Final = 0.5


class MachinePorts(Protocol):
    """What `WatchedPorts` and `DirectPorts` have in common."""

    def outputs(self) -> tuple[str, ...]:
        """Return the names of the ports that can be sent to, as last seen."""

    def inputs(self) -> tuple[str, ...]:
        """Return the names of the ports that can be read, as last seen."""

    @property
    def changes(self) -> int:
        """How often what is there has changed."""

    def open_output(self, name: str) -> OutPort:
        """Open a port for sending. Raises PortError."""

    def open_input(self, name: str) -> InPort:
        """Open a port for reading. Raises PortError."""

    def wait(self, seconds: float) -> None:
        """Sleep so long, or until a message has come in or `wake` is called."""

    def wake(self) -> None:
        """End a `wait`, from any thread."""

    def close(self) -> None:
        """Watch no more."""


def machine_ports(system: str = os.name) -> MachinePorts:
    """Return the ports of this machine for a running gig; whoever asks closes them."""
    return WatchedPorts() if system == "posix" else DirectPorts()


class DirectPorts:
    """The ports of this machine, looked at twice a second."""

    def __init__(self) -> None:
        """Look once, then begin to watch."""
        self._outputs: dict[str, MidiSystem] = {}
        self._inputs: dict[str, MidiSystem] = {}
        self._changes = 0
        self._ended, self._woken = threading.Event(), threading.Event()
        self._look()
        self._thread = threading.Thread(target=self._watch, name="ports", daemon=True)
        self._thread.start()

    def outputs(self) -> tuple[str, ...]:
        """Return the names of the ports that can be sent to, as last seen; our own are not among them."""
        return tuple(self._outputs)

    def inputs(self) -> tuple[str, ...]:
        """Return the names of the ports that can be read, as last seen; our own are not among them."""
        return tuple(self._inputs)

    @property
    def changes(self) -> int:
        """How often what is there has changed."""
        return self._changes

    def open_output(self, name: str) -> OutPort:
        """Open a port for sending; its name may be shortened.

        Raises:
            PortError: it is not there, several are meant, or the system refuses.
        """
        there = self._outputs
        full = port_named(name, list(there))
        return there[full].open_output(full)

    def open_input(self, name: str) -> InPort:
        """Open a port for reading; its name may be shortened.

        Raises:
            PortError: it is not there, several are meant, or the system refuses.
        """
        there = self._inputs
        full = port_named(name, list(there), kind="input port")
        return there[full].open_input(full)

    def wait(self, seconds: float) -> None:
        """Sleep so long, a fifth of a millisecond at most: nobody tells when a message comes in."""
        self._woken.wait(min(seconds, POLL_S))
        self._woken.clear()

    def wake(self) -> None:
        """End a `wait`, from any thread."""
        self._woken.set()

    def close(self) -> None:
        """Watch no more."""
        self._ended.set()
        self._thread.join()

    def _watch(self) -> None:
        while not self._ended.wait(_LOOK_S):
            with contextlib.suppress(Exception):  # the system does not answer now: what was there is thought to be
                self._look()

    def _look(self) -> None:
        systems = find_systems()[0]
        outputs = {name: system for system in reversed(systems) for name in system.outputs()}
        inputs = {name: system for system in reversed(systems) for name in system.inputs()}
        if (list(outputs), list(inputs)) != (list(self._outputs), list(self._inputs)):
            self._outputs, self._inputs = outputs, inputs
            self._changes += 1
            self.wake()
