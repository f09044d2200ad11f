"""The small program that stands between a running gig and one MIDI port, or watches which ports there are.

It is run by its path in a process of its own (see `watching`) and imports nothing of the house, so that it starts in a
twentieth of a second. Whatever the MIDI system does to it, the gig goes on: it can be ended and started again.

- `carrier.py out SYSTEM NAME` sends what it reads from standard input to the port.
- `carrier.py in SYSTEM NAME` writes what comes in by the port to standard output.
- `carrier.py watch` writes a line of JSON whenever other ports are there: {"system": ..., "out": [...], "in": [...]};
  "loose" are the clients of ours whose port has been joined to nothing for two looks, as far as a system tells.

SYSTEM is python-rtmidi's name of the constant. Messages are framed by their length in four bytes; the first frame from
a carrier is "+" once the port is open, or says why it is not. It ends when its standard input does.
"""

import contextlib
import ctypes
import itertools
import json
import os
import random
import select
import signal
import sys
import time
from collections.abc import Iterator
from typing import Any, Final

__all__ = [
    "CLIENT",
    "GONE",
    "LENGTH",
    "LOOSE",
    "UnjoinedError",
    "client_name",
    "frame",
    "frames",
    "join",
    "main",
    "urgent",
]

CLIENT: Final = "scenebook stand"  # `names` knows our ports by it
GONE: Final = "gone"  # what the watcher says in the place of names when JACK's server ends
LOOSE: Final = "loose"
LENGTH: Final = 4  # bytes before each message: SysEx that carries a whole memory may be long
_OPTIONS: Final = 0x01  # JackNoStartServer, jack/types.h
_MIDI_TYPE: Final = b"8 bit raw midi"  # JACK_DEFAULT_MIDI_TYPE, jack/types.h
_IS_INPUT, _IS_OUTPUT = 0x1, 0x2  # JackPortFlags, jack/types.h
_POLL_S: Final = 0.000_2  # without any sleep the system's own thread starves and loses messages
_LOOK_S: Final = 0.1
_RETRY_LOOKS: Final = 10
_PATIENCE_S: Final = 1.0  # for closing at the end: a client of a JACK server that is stuck would wait for ever
_QUEUE: Final = 100_000
_TRIES: Final = 5
# At random, so that two carriers that disturb each other come to rest; and before the wrong port is left, so that the
# list does not shift there and back while the other one opens.
_APART_S: Final = (0.01, 0.05)
# JACK swallows what is sent in a connection's first moment, and what is under way when it ends: up to 10 ms of it on a
# busy machine (seen in 3 of 31 connections).
_JOINED_S: Final = {"API_UNIX_JACK": 0.1}

Seen = tuple[list[str], list[str], list[str]]  # outputs, inputs, clients of ours that are loose
NOTHING: Final[Seen] = ([], [], [])


def client_name(process: int) -> str:
    """Return the name of the client that a carrier makes, by its process number."""
    return f"{CLIENT} {process}"


def frame(message: bytes) -> bytes:
    """Return a message with its length before it."""
    return len(message).to_bytes(LENGTH, "big") + message


def frames(buffer: bytearray) -> Iterator[bytes]:
    """Take the whole messages out of what has been read; a begun one stays."""
    at = 0
    while len(buffer) >= (begin := at + LENGTH):
        end = begin + int.from_bytes(buffer[at:begin], "big")
        if len(buffer) < end:
            break
        yield bytes(buffer[begin:end])
        at = end
    del buffer[:at]


def main(arguments: list[str]) -> int:
    """Carry or watch, as the arguments say, until standard input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal's Ctrl-C is for the gig, which then ends this one
    signal.signal(signal.SIGTERM, _end)  # a JACK client that ends without a word may hold up its server
    if arguments == ["watch"]:
        return _watch()
    way, system, name = arguments
    try:
        client = _opened(way, system, name)
    except Exception as error:  # whatever the library raises: it is said, and the gig decides
        os.write(1, frame(f"{error}".strip().rstrip(".").encode() or b"it does not open"))
        return 1
    urgent()
    os.write(1, frame(b"+"))
    with contextlib.suppress(_Ended):
        (_send if way == "out" else _listen)(client)
    signal.setitimer(signal.ITIMER_REAL, _PATIENCE_S)  # SIGALRM then ends the process, whatever it waits for
    time.sleep(_JOINED_S.get(system, 0.0) if way == "out" else 0.0)
    client.close_port()
    client.delete()
    return 0


def urgent() -> None:
    """Let this thread go before all ordinary ones, as programs for sound do, where the system lets it.

    It is for threads that sleep nearly always: the lowest of the real-time priorities, taken in turn.
    """
    with contextlib.suppress(AttributeError, OSError):  # not on this system, or no right to it
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(os.sched_get_priority_min(os.SCHED_RR)))


class _Ended(Exception):
    """Somebody has ended this process."""


def _end(*_: object) -> None:
    raise _Ended


def _opened(way: str, system: str, name: str) -> Any:
    import rtmidi

    api, ours = getattr(rtmidi, system), client_name(os.getpid())
    if way == "out":
        client = rtmidi.MidiOut(api, name=ours)
    else:
        client = rtmidi.MidiIn(api, name=ours, queue_size_limit=_QUEUE)
        client.ignore_types(sysex=False, timing=False, active_sense=False)
    try:
        join(client, name, way)
    except UnjoinedError as error:
        client.delete()  # a JACK client that ends without a word may hold up its server
        raise RuntimeError(f"it {error}") from None
    time.sleep(_JOINED_S.get(system, 0.0))
    return client


class UnjoinedError(Exception):
    """A port was not joined; the words go on after its name."""


def join(client: Any, name: str, our_end: str) -> None:
    """Join a client of python-rtmidi to the port of exactly that name.

    The library opens by an index in a list that it reads again, and that shifts when another client comes or goes:
    an output was once joined to an input of our own, and all that was sent was lost without a word. So what stands at
    the index is read before and after.

    Raises:
        UnjoinedError: the port is not there, or the list has shifted at each of five tries.
    """
    for _ in range(_TRIES):
        names = client.get_ports()
        if name not in names:  # the library reads name by name, and may miss one while the list shifts
            time.sleep(_APART_S[0])
            continue
        index = names.index(name)
        with contextlib.suppress(ValueError):  # InvalidPortError is one: the list has become shorter
            client.open_port(index, name=our_end)
            if client.get_ports()[index : index + 1] == [name]:
                return
        time.sleep(random.uniform(*_APART_S))
        _part(client)
    if name not in names:
        raise UnjoinedError("is gone")
    raise UnjoinedError("cannot be told from others: the list of ports shifts at each look")


def _part(client: Any) -> None:
    """Leave a port that may be the wrong one, and forget what has come in by it."""
    client.close_port()
    if hasattr(client, "get_message"):
        while client.get_message() is not None:
            pass


def _send(client: Any) -> None:
    buffer = bytearray()
    while data := os.read(0, 65_536):
        buffer += data
        for message in frames(buffer):
            client.send_message(message)


def _listen(client: Any) -> None:
    while not select.select([0], [], [], _POLL_S)[0]:
        heard = b""
        while (item := client.get_message()) is not None:
            heard += frame(bytes(item[0]))
        if heard:
            os.write(1, heard)


def _watch() -> int:
    systems: list[_Jack | _Other] = [_Jack(), _Other("API_MACOSX_CORE"), _Other("API_LINUX_ALSA")]
    said: dict[str, Seen] = {}  # the first look is always told: what an earlier watcher told may hold no more
    looks = 0
    while True:
        for system in systems:
            if not system.is_open and looks % _RETRY_LOOKS == 0 and system.open() and looks and system.wants_anew:
                return 0  # a library that has failed before is not trusted: begin again in a new process
            seen = system.seen() if system.is_open else NOTHING
            if said.get(system.name) != seen:
                said[system.name] = seen
                _say(system.name, *seen)
        if not looks:
            os.write(1, b"\n")  # the first look is done, whatever was found
        looks += 1
        if select.select([0], [], [], _LOOK_S)[0]:
            return 0


def _say(system: str, outputs: list[str], inputs: list[str], loose: list[str]) -> None:
    os.write(1, json.dumps({"system": system, "out": outputs, "in": inputs, LOOSE: loose}).encode() + b"\n")


class _Jack:
    """JACK's ports by its own library: python-rtmidi does not tell that the server has ended, and names stay for ever.

    The client is never activated, so that it takes no part in the sound.
    """

    name = "API_UNIX_JACK"
    wants_anew = True

    def __init__(self) -> None:
        self._client: int | None = None
        self._loose: list[str] = []
        self._ended: Any = None  # the callback has to live as long as the client

    @property
    def is_open(self) -> bool:
        return self._client is not None

    def open(self) -> bool:
        try:
            self._library = jack = ctypes.CDLL("libjack.so.0" if sys.platform != "darwin" else "libjack.0.dylib")
        except OSError:  # JACK is not installed
            return False
        jack.jack_client_open.restype = ctypes.c_void_p
        for call in (jack.jack_get_ports, jack.jack_port_by_name, jack.jack_port_get_all_connections):
            call.restype = ctypes.c_void_p
        self._client = jack.jack_client_open(CLIENT.encode(), _OPTIONS, None)
        if self._client is None:
            return False
        self._ended = ctypes.CFUNCTYPE(None, ctypes.c_void_p)(self._gone)
        jack.jack_on_shutdown(ctypes.c_void_p(self._client), self._ended, None)
        return True

    def _gone(self, _: Any) -> None:
        """In JACK's own thread, at the moment at which the server ends: say so, and leave nothing of its library."""
        os.write(1, json.dumps({"system": self.name, GONE: True}).encode() + b"\n")
        os._exit(0)

    def seen(self) -> Seen:
        outputs, inputs = self._names(_IS_INPUT), self._names(_IS_OUTPUT)  # what others read, we can send to
        before, self._loose = self._loose, [name for name in inputs if name.startswith(CLIENT) and self._is_loose(name)]
        return outputs, inputs, [name.partition(":")[0] for name in self._loose if name in before]

    def _is_loose(self, name: str) -> bool:
        jack, client = self._library, ctypes.c_void_p(self._client)
        port = jack.jack_port_by_name(client, name.encode())
        joined = jack.jack_port_get_all_connections(client, ctypes.c_void_p(port)) if port else None
        if joined:
            jack.jack_free(ctypes.c_void_p(joined))
        return port is not None and not joined

    def _names(self, flag: int) -> list[str]:
        jack = self._library
        found = jack.jack_get_ports(ctypes.c_void_p(self._client), None, _MIDI_TYPE, ctypes.c_ulong(flag))
        if not found:
            return []
        texts = ctypes.cast(found, ctypes.POINTER(ctypes.c_char_p))
        ended = itertools.takewhile(lambda text: text is not None, map(texts.__getitem__, itertools.count()))
        names = [text.decode(errors="replace") for text in ended]
        jack.jack_free(ctypes.c_void_p(found))
        return names


class _Other:
    """The ports of a system that has no server which could end."""

    wants_anew = False

    def __init__(self, name: str) -> None:
        self.name = name
        self._clients: tuple[Any, ...] = ()

    @property
    def is_open(self) -> bool:
        return bool(self._clients)

    def open(self) -> bool:
        with contextlib.suppress(Exception):  # not built in, not there, no rights: no ports by it
            import rtmidi

            if (api := getattr(rtmidi, self.name)) in rtmidi.get_compiled_api():
                self._clients = (rtmidi.MidiOut(api, name=CLIENT), rtmidi.MidiIn(api, name=CLIENT))
        return self.is_open

    def seen(self) -> Seen:
        outputs, inputs = (list(client.get_ports()) for client in self._clients)
        return outputs, inputs, []


if __name__ == "__main__":
    os._exit(main(sys.argv[1:]))  # without the interpreter's end, which would tear down what may be stuck
