"""A real evening under fire: `scenebook stand` in a process, real JACK ports, and whatever a stage does to them.

After each fault the units at the far ends are held against the plain reading of the scene, and the journal against the
place that the stand says it is at. What is wrong is collected, not raised, so that a long run tells all of it.
"""

import os
import random
import socket
import struct
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlsplit

import httpx
import psutil

from scenebook.live.places import HOME, Part, Place
from scenebook.live.programme import programme_of
from scenebook.live.records import replayed
from scenebook.live.tonight import tonight_of
from scenebook.model import Library, Rig
from scenebook.model.messages import channel_of
from scenebook.proof.comparison import Comparison
from scenebook.proof.reading import read_gig
from scenebook.proof.receivers import Receiver
from scenebook.storage.evenings import Evening, evenings
from tests.support.far_end import Box, Pedal
from tests.support.jack import JackServer, jack_server
from tests.support.on_stage import readings
from tests.support.stand_process import StandProcess

__all__ = ["FAULTS", "Soak"]

FAULTS = ("port lost", "JACK restarted", "page dropped", "SIGKILL")
_QUIET_S = 0.08  # JACK's period is 1.3 ms; a machine that has much to do takes longer
_HEARD_S = 3.0
_APART_US = 10_000_000  # between messages, as receivers count it: how they settle is proved elsewhere
_DEADLINE_S = 30.0


class FarEnds:
    """The rig's units, in the state into which what they have heard has put them."""

    def __init__(self, library: Library, gig: str, rig: str) -> None:
        tonight = tonight_of(library.gigs[gig])
        programme = programme_of(library, gig, rig, tonight)
        there, _ = read_gig(library, library.gigs[gig], library.rigs[rig])
        self._asked = readings(library, gig, rig, tonight, programme)
        self._places = there.placements
        self._receivers = {name: Receiver(unit, library.settings.tuning) for name, unit in there.units.items()}
        alone = {loop.inside[0] for loop in there.loops if not loop.shared}
        self._comparisons = {
            name: Comparison.of(unit, alone=name in alone, deaf=self._places[name].port is None)
            for name, unit in there.units.items()
        }
        self._moment = 0

    def hear(self, port: str, messages: Iterable[bytes]) -> None:
        """Obey what came in by a port."""
        for message in messages:
            self._moment += _APART_US
            for name, receiver in self._receivers.items():
                place, channel = self._places[name], channel_of(message)
                if place.port == port and (channel is None or channel in place.channels):
                    receiver.hear(self._moment, self._moment, message)

    def differences(self, place: Place) -> list[str]:
        """Return what does not stand as a place asks; what messages can only flip, the player sees to."""
        found = []
        for name, asked in self._asked[place].units.items():
            comparison, receiver = self._comparisons[name], self._receivers[name]
            if self._places[name].port is None:
                continue
            for member in comparison.toggling | comparison.loose:
                receiver.values[member] = asked.values[member]
            receiver.begin()  # there was more than one step, so what the scene leaves free may stand anywhere
            found += [f"{name}: {what}" for what in comparison.differences(asked, receiver, lean=False)[0]]
        return found


class Soak:
    """An evening of a gig of a library file; a context manager."""

    def __init__(self, library: Path, read: Library, gig: str, folder: Path, *, seed: int = 20261125) -> None:
        rig = read.gigs[gig].rig or ""
        self._path, self._gig, self._rig, self._folder = library, gig, read.rigs[rig], folder
        self._units, self._press = FarEnds(read, gig, rig), _press(self._rig)
        self._chance, self._stack = random.Random(seed), ExitStack()
        self._steps: list[Place] = []  # answered, since the last look at the journal
        self._seen = self._read = 0  # steps in the journal then, and records
        self.wrong: list[str] = []
        self.memory_mb = 0.0  # of the last stand, at its end
        self.survived: Counter[str] = Counter()
        self.steps = 0

    def __enter__(self) -> Self:
        self._name = f"scenebook-soak-{os.getpid()}"
        for key, value in JackServer(self._name, self._folder).environment.items():
            self._set(key, value)
        self._start_jack()
        self._boxes = {port: Box(f"box {port}") for port in self._rig.ports}
        self._pedal = Pedal("floor")
        self._stand = self._begun()
        self._ask("send again")
        self._look("the start")
        return self

    def __exit__(self, *_: object) -> None:
        with self._stand:
            self.memory_mb = psutil.Process(self._stand.process.pid).memory_info().rss / 2**20
            self._stand.end()
        for each in (*self._boxes.values(), self._pedal):
            each.stop()
        self._stack.close()

    def fault(self, what: str) -> None:
        """Let one fault happen, and look whether all is right after it."""
        before = len(self.wrong)
        self._step()
        try:
            _FAULTS[what](self)
            self._look(what)
        except (AssertionError, httpx.HTTPError, OSError) as error:
            self.wrong.append(f"{what}: {type(error).__name__}: {error}")
        self.survived[what] += len(self.wrong) == before

    def leaks(self) -> int:
        """Return how many files, sockets and pipes the stand holds more than when it was started."""
        process, end = psutil.Process(self._stand.process.pid), time.monotonic() + 5
        while (more := int(process.num_fds()) - self._held) > 0 and time.monotonic() < end:
            time.sleep(0.1)
        return max(0, more)

    def _port_is_lost(self) -> None:
        port = self._chance.choice(self._rig.ports)
        self._step()  # some of it may be on its way yet
        self._boxes[port].stop()
        self._stand.wait(lambda state: _state_of(state, port) == "gone")
        self._step()
        self._boxes[port] = Box(f"box {port}")
        self._wait_for_ports()

    def _jack_is_restarted(self) -> None:
        self._jack.kill()
        self._stand.wait(lambda state: all(each["state"] != "there" for each in state["ports"]))
        self._step()
        for each in (*self._boxes.values(), self._pedal):
            each.stop()
        self._start_jack()
        self._boxes = {port: Box(f"box {port}") for port in self._rig.ports}
        self._pedal = Pedal("floor")
        self._wait_for_ports()
        self._look("JACK restarted")
        self._footswitch()

    def _page_is_dropped(self) -> None:
        """Open the page's live updates, read some of them or none, and go away without a word."""
        there = urlsplit(str(self._stand.client.base_url))
        cookie = "; ".join(f"{name}={value}" for name, value in self._stand.client.cookies.items())
        with socket.create_connection((there.hostname or "", there.port or 80), timeout=5) as line:
            line.sendall(
                f"GET /events?view=player HTTP/1.1\r\nHost: {there.netloc}\r\nCookie: {cookie}\r\n\r\n".encode()
            )
            if self._chance.random() < 0.5:
                line.recv(2_000)
            self._step()
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))  # reset, not closed

    def _is_killed(self) -> None:
        """Step as fast as can be, and kill the stand in the middle of it."""
        children = psutil.Process(self._stand.process.pid).children(recursive=True)
        hurry = threading.Thread(target=self._hurry)
        hurry.start()
        time.sleep(self._chance.uniform(0, 0.3))
        self._stand.kill()
        hurry.join()
        _, alive = psutil.wait_procs(children, timeout=5)
        if alive:
            self.wrong.append(f"SIGKILL: {len(alive)} processes of the stand outlived it")
        self._stand = self._begun()
        self._ask("send again")

    def _hurry(self) -> None:
        with suppress(httpx.HTTPError, RuntimeError, OSError):  # the stand dies, or its client is closed
            while True:
                self._ask("next")

    def _step(self) -> None:
        state = self._stand.state()
        place = _place_of(state)
        if state["ahead"] is None:
            self._ask("go", place=HOME)
        elif self._chance.random() < 0.1 and place.part is Part.SET and place.entry > 1:
            self._ask("go", place=Place(Part.SET, self._chance.randrange(place.entry), 0))
        else:
            self._ask("next")

    def _ask(self, verb: str, **said: Any) -> None:
        self._steps.append(_place_of(self._stand.act(verb, **said)))
        self.steps += 1

    def _footswitch(self) -> None:
        """Press until the gig steps: a connection just made may swallow the first message."""
        state, end = self._stand.state(), time.monotonic() + _DEADLINE_S
        if state["ahead"] is None:
            return
        before = _place_of(state)
        while _place_of(self._stand.state()) == before:
            assert time.monotonic() < end, "the footswitch is not heard any more"
            for data in self._press:
                self._pedal.send(data)
            time.sleep(0.3)
        self._steps.append(_place_of(self._stand.state()))
        self.steps += 1

    def _look(self, after: str) -> None:
        """See that all has gone out, that the units stand as the scene asks, and that the journal says the same."""
        state = self._stand.wait(lambda state: bool(state["sent"]["done"]), _DEADLINE_S)
        evening = evenings(self._path, self._gig)[-1]
        for port, box in self._boxes.items():
            sent = _last_sent(evening.records[self._read :], port)
            heard, is_whole = _heard_out(box, sent)
            self._units.hear(port, [bytes.fromhex(each) for each in heard])
            if not is_whole:
                self.wrong.append(f"{after}: {port} was sent {', '.join(sent)}; it has heard {', '.join(heard)}")
        self._read = len(evening.records)
        place = _place_of(state)
        self.wrong += [f"{after}: at {place}: {what}" for what in self._units.differences(place)]
        self._look_at_journal(evening, after, place)

    def _look_at_journal(self, evening: Evening, after: str, place: Place) -> None:
        """Every step that was answered is written; at most one more, that the stand was killed in."""
        standing = replayed(evening.records)
        if standing is None or standing.place != place:
            self.wrong.append(f"{after}: the stand is at {place}, its journal at {standing and standing.place}")
        if evening.torn:
            self.wrong.append(f"{after}: {evening.torn} torn lines in the journal")
        written = [Place(Part(part), *rest) for part, *rest in _steps_in(evening.records)][self._seen :]
        if not _is_inside(self._steps, written) or len(written) > len(self._steps) + 1:
            self.wrong.append(f"{after}: answered {self._steps}, written {written}")
        self._seen += len(written)
        self._steps.clear()

    def _begun(self) -> StandProcess:
        named = [text for port in self._rig.ports for text in ("--port", f"{port}=box {port}")]
        stand = StandProcess(self._path, self._gig, *named)
        stand.wait(lambda state: all(each["state"] == "there" for each in state["ports"]), _DEADLINE_S)
        self._held = int(psutil.Process(stand.process.pid).num_fds())
        return stand

    def _wait_for_ports(self) -> None:
        self._stand.wait(lambda state: all(each["state"] == "there" for each in state["ports"]), _DEADLINE_S)

    def _start_jack(self) -> None:
        self._jack = self._stack.enter_context(jack_server(self._name, self._folder))

    def _set(self, key: str, value: str) -> None:
        was = os.environ.get(key)
        os.environ[key] = value
        self._stack.callback(lambda: os.environ.pop(key) if was is None else os.environ.update({key: was}))


_FAULTS: dict[str, Callable[[Soak], None]] = dict(
    zip(
        FAULTS,
        (Soak._port_is_lost, Soak._jack_is_restarted, Soak._page_is_dropped, Soak._is_killed),
        strict=True,
    )
)


def _last_sent(records: Iterable[dict[str, Any]], port: str) -> list[str]:
    """Return what has gone out by a port the last time, as the journal says it."""
    sent = [record["bytes"] for record in records if record["kind"] == "sent" and record["port"] == port]
    return list(sent[-1]) if sent else []


def _heard_out(box: Box, last: list[str]) -> tuple[list[str], bool]:
    """Return what a box has heard, once nothing more comes, and whether all that went out last is its end."""
    heard, end = _heard(box), time.monotonic() + _HEARD_S
    while True:
        time.sleep(_QUIET_S)
        before, heard = heard, _heard(box)
        is_whole = heard[len(heard) - len(last) :] == last
        if heard == before and (is_whole or time.monotonic() > end):
            del box.heard[:]
            return heard, is_whole


def _heard(box: Box) -> list[str]:
    """Return what a box has heard without real-time bytes."""
    return [each for each in list(box.heard) if each < "F8"]


def _state_of(state: dict[str, Any], port: str) -> str:
    return str(next(each["state"] for each in state["ports"] if each["port"] == port))


def _place_of(state: dict[str, Any]) -> Place:
    said = state["cue"]["place"]
    return Place(Part(said["part"]), said["entry"], said["form"])


def _steps_in(records: Iterable[dict[str, Any]]) -> list[list[Any]]:
    return [record["place"] for record in records if record["kind"] == "step"]


def _is_inside(some: list[Place], all_of_them: list[Place]) -> bool:
    """Whether the steps that were answered come in the journal in their order, none left out."""
    rest = iter(all_of_them)
    return all(any(each == found for found in rest) for each in some)


def _press(rig: Rig) -> tuple[str, str]:
    """Return the bytes of a footswitch that goes on, pressed and let go."""
    does = next(each for each in rig.steps if each.does == "next")
    channel = (does.channel or 1) - 1
    if does.controller is not None:
        return f"{0xB0 | channel:02X} {does.controller:02X} 7F", f"{0xB0 | channel:02X} {does.controller:02X} 00"
    return f"{0x90 | channel:02X} {does.note or 0:02X} 64", f"{0x80 | channel:02X} {does.note or 0:02X} 40"
