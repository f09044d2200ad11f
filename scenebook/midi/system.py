"""Reach the machine's own MIDI ports through python-rtmidi, by polling, never by a callback.

A callback would wait for the interpreter lock inside the system's MIDI thread, and messages are lost without
an error; a large queue that is looked into often loses none. Every foreign exception becomes a PortError here.
`MidiSystem` is the seam: another library serves as well once it fills in those methods.
"""

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from typing import Any, Final, Protocol

from scenebook.errors import PortError
from scenebook.midi.carrier import UnjoinedError, join
from scenebook.midi.names import CLIENT, is_ours
from scenebook.midi.ports import InPort, OutPort, closed_error

__all__ = ["MidiSystem", "RtMidiSystem", "find_systems"]

_QUEUE: Final = 100_000  # messages; python-rtmidi's own limit of 1,024 loses half of a burst
# JACK swallows what is sent in a connection's first moment, and what is under way when it ends: up to 10 ms of it on a
# busy machine (seen in 1 of 25 lists each).
_JOINED_S: Final = {"JACK": 0.1}

# Name in our words, then python-rtmidi's name of the constant. The first that answers serves.
_APIS: Final = (
    ("JACK", "API_UNIX_JACK"),
    ("CoreMIDI", "API_MACOSX_CORE"),
    ("ALSA", "API_LINUX_ALSA"),
    ("Windows MM", "API_WINDOWS_MM"),
)


class MidiSystem(Protocol):
    """What is asked of a MIDI system; every method raises PortError and nothing foreign."""

    @property
    def name(self) -> str:
        """The system in plain words, such as "JACK"."""

    def outputs(self, token: str = "") -> list[str]:
        """Return the names of the ports that can be sent to, without our own but for one with `token` in its name."""

    def inputs(self) -> list[str]:
        """Return the names of the ports that can be read, without our own."""

    def open_output(self, name: str) -> OutPort:
        """Open the port of exactly that name for sending."""

    def open_input(self, name: str) -> InPort:
        """Open the port of exactly that name for reading."""

    def make_input(self, name: str) -> InPort:
        """Make a port of our own that others, and we, can send to."""


def find_systems() -> tuple[list[MidiSystem], str]:
    """Return the MIDI systems that answer on this machine, the preferred one first, and why, if none does.

    Nothing is raised: a machine without MIDI is an ordinary one.
    """
    try:
        import rtmidi
    except ImportError:
        return [], "python-rtmidi, which reaches the system's ports, is not installed or does not load"
    compiled = rtmidi.get_compiled_api()
    tried = [
        RtMidiSystem(name, number) for name, constant in _APIS if (number := getattr(rtmidi, constant)) in compiled
    ]
    found: list[MidiSystem] = [system for system in tried if system.answers()]
    names = ", ".join(system.name for system in tried) or "nothing, since python-rtmidi was built without any"
    return found, "" if found else f"no MIDI system answers on this machine (tried: {names})"


class RtMidiSystem:
    """One of the systems that python-rtmidi can talk to, by its number there."""

    def __init__(self, name: str, api: int) -> None:
        """Keep the name for people and the number for python-rtmidi; nothing is opened."""
        self.name = name
        self._api = api

    def answers(self) -> bool:
        """Return whether the system is there and takes a client."""
        try:
            self.inputs()
        except PortError:
            return False
        return True

    def outputs(self, token: str = "") -> list[str]:
        """Return the names of the ports that can be sent to, without our own.

        Nobody means those: what is sent to a port that a running gig listens by reaches no unit. Only a proof sends to
        the port that it has made itself; `token` is in its name.
        """
        names = self._names(self._client("MidiOut"))
        return [name for name in names if not is_ours(name) or (token and token in name)]

    def inputs(self) -> list[str]:
        """Return the names of the ports that can be read, without our own."""
        return [name for name in self._names(self._client("MidiIn")) if not is_ours(name)]

    def open_output(self, name: str) -> OutPort:
        """Open the port of exactly that name for sending.

        Raises:
            PortError: it is not there any more, the list of ports does not hold still, or another program holds it.
        """
        client = self._client("MidiOut")
        self._connect(client, name, "out")
        apart = _JOINED_S.get(self.name, 0.0)
        time.sleep(apart)
        return _SystemOut(name, client, apart)

    def open_input(self, name: str) -> InPort:
        """Open the port of exactly that name for reading.

        Raises:
            PortError: it is not there any more, the list of ports does not hold still, or another program holds it.
        """
        client = self._client("MidiIn")
        self._connect(client, name, "in")
        return _SystemIn(name, client)

    def make_input(self, name: str) -> InPort:
        """Make a port of our own that others, and we, can send to.

        Raises:
            PortError: the system makes no virtual ports (Windows MM), or refuses.
        """
        client = self._client("MidiIn")
        try:
            with _translated(f"a port of our own by {self.name}"):
                client.open_virtual_port(name)
        except PortError:
            client.delete()
            raise
        return _SystemIn(name, client)

    def _client(self, kind: str) -> Any:
        import rtmidi

        options = {"queue_size_limit": _QUEUE} if kind == "MidiIn" else {}
        with _translated(self.name), _quiet():
            client = getattr(rtmidi, kind)(self._api, name=CLIENT, **options)
        if kind == "MidiIn":
            # Exclusive messages, clock and active sensing would be thrown away unless asked for.
            client.ignore_types(sysex=False, timing=False, active_sense=False)
        return client

    def _names(self, client: Any) -> list[str]:
        try:
            with _translated(self.name):
                return list(client.get_ports())
        finally:
            client.delete()

    def _connect(self, client: Any, name: str, our_end: str) -> None:
        try:
            with _translated(f"port '{name}'"):
                join(client, name, our_end)
        except UnjoinedError as error:
            client.delete()
            raise PortError(f"the port '{name}' {error}", remedy="Look with `scenebook ports`") from None
        except PortError:
            client.delete()
            raise


class _SystemOut(OutPort):
    def __init__(self, name: str, client: Any, apart: float) -> None:
        self.name = name
        self._client: Any | None = client
        self._apart, self._may_close = apart, 0.0

    def send(self, message: bytes) -> None:
        if self._client is None:  # python-rtmidi itself does not look, and would crash
            raise closed_error(self.name)
        if not message:
            raise ValueError("message: found no bytes; one whole MIDI message is accepted")
        with _translated(f"port '{self.name}'"):
            self._client.send_message(message)
        self._may_close = time.monotonic() + self._apart

    def close(self) -> None:
        if self._client is not None:
            time.sleep(max(0.0, self._may_close - time.monotonic()))
        _delete(self._client)
        self._client = None


class _SystemIn(InPort):
    def __init__(self, name: str, client: Any) -> None:
        self.name = name
        self._client: Any | None = client

    def poll(self) -> list[bytes]:
        if self._client is None:
            raise closed_error(self.name)
        messages = []
        with _translated(f"port '{self.name}'"):
            while (item := self._client.get_message()) is not None:
                messages.append(bytes(item[0]))
        return messages

    def close(self) -> None:
        _delete(self._client)
        self._client = None


def _delete(client: Any | None) -> None:
    """End the client now: without this the system keeps the port until the garbage is collected."""
    if client is not None:
        with _quiet():
            client.close_port()
            client.delete()


@contextlib.contextmanager
def _translated(where: str) -> Iterator[None]:
    """Turn what python-rtmidi raises into a PortError with the same reason."""
    import rtmidi

    try:
        yield
    except rtmidi.RtMidiError as error:
        reason = str(error).strip().rstrip(".") or type(error).__name__
        raise PortError(
            f"the MIDI system refuses: {reason}",
            where=where,
            remedy="Look with `scenebook ports` at what is there, and whether another program holds the port",
        ) from error


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep the C libraries of ALSA and JACK from writing to the terminal that a system is not there.

    They write to file descriptor 2 directly, so only the descriptor itself can be turned away.
    """
    if sys.stderr is not None:  # None: a desktop started the program with nothing to write to
        sys.stderr.flush()
    try:
        kept = os.dup(2)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(nowhere)
        os.close(kept)
