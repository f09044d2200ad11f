"""A rig on stage, as its units would be: receivers that hear what a caller's plans send, and a player who looks.

The receivers are the proof's, fed with nothing but the bytes of the plans; what they must come to is the proof's plain
reading of the scenes. A port may take only some of a plan's messages: the rest waits until it goes, or is dropped.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from scenebook.cueing.cues import Action, ByHand, Message, MessageKind
from scenebook.live.places import SAFE, Place
from scenebook.live.plans import Plan
from scenebook.live.programme import Programme
from scenebook.live.snapshot import Form
from scenebook.live.tonight import Tonight, applied, rebuilt
from scenebook.model import Gig, GigSet, Library, Scene, SetEntry, Song
from scenebook.model.messages import channel_of
from scenebook.proof.comparison import Comparison
from scenebook.proof.reading import Reading, read_gig
from scenebook.proof.receivers import Receiver
from tests.support.build import GIG, RIG

__all__ = ["Stage", "readings"]

BYTE_US = 320
MUCH_LATER = 10**9


def readings(library: Library, gig: str, rig: str, tonight: Tonight, programme: Programme) -> dict[Place, Reading]:
    """Return what each place asks, by the plain reading; the places are the programme's, in its order."""
    there = applied(library, gig, rig, tonight, stays=programme.stays)
    evening, board = there.gigs[gig], there.rigs[rig]
    found = dict(zip((s.place for s in programme.steps), read_gig(there, evening, board)[1], strict=True))
    rows = list(zip(programme.spares, evening.spares, strict=True))
    if evening.house:
        rows.append((programme.house, SetEntry(song=evening.house)))
    for row, entry in rows:
        alone = rebuilt(entry, gap=None, segue=False)
        found |= zip((step.place for step in row), _read_alone(there, gig, rig, alone)[1:], strict=True)
    if board.safe:
        song = Song(scenes={"now": Scene(units=board.safe)})
        there = rebuilt(there, songs={**there.songs, "quiet state": song})
        found[SAFE] = _read_alone(there, gig, rig, SetEntry(song="quiet state"))[1]
    else:
        quiet = [step.place for step in programme.house if step.full.scene in ("quiet", "safe")]
        found[SAFE] = found[quiet[0]] if quiet else found[programme.home.place]
    return found


def _read_alone(library: Library, gig: str, rig: str, entry: SetEntry) -> list[Reading]:
    was = library.gigs[gig]
    evening: Gig = rebuilt(was, sets=(GigSet(name="alone", songs=(entry,)),), spares=(), house=None)
    return read_gig(library, evening, library.rigs[rig])[1]


class Stage:
    """The units of an evening, and what stands in the way to them."""

    def __init__(self, library: Library, gig: str = GIG, rig: str = RIG) -> None:
        self._library, self._gig, self._rig = library, gig, rig
        self._receivers: dict[str, Receiver] = {}
        self._fired: defaultdict[str, Counter[str]] = defaultdict(Counter)  # since the place was entered
        self._missed: set[str] = set()  # ports that did not get all since then
        self.waiting: list[tuple[int, Message]] = []  # with when it starts
        self._sounding: set[tuple[str, str]] = set()  # triggers whose note has gone and whose release has not

    def stand(self, tonight: Tonight, programme: Programme) -> None:
        """Let tonight hold: who is there, who hears what, what the scenes ask."""
        there = applied(self._library, self._gig, self._rig, tonight, stays=programme.stays)
        self._tonight, _ = read_gig(there, there.gigs[self._gig], there.rigs[self._rig])
        self._asked = readings(self._library, self._gig, self._rig, tonight, programme)
        alone = {loop.inside[0] for loop in self._tonight.loops if not loop.shared}
        self._comparisons = {}
        self._hearing: defaultdict[tuple[str, int | None], list[str]] = defaultdict(list)
        for name, unit in self._tonight.units.items():
            place = self._tonight.placements[name]
            self._comparisons[name] = Comparison.of(unit, alone=name in alone, deaf=place.port is None)
            self._receivers.setdefault(name, Receiver(unit, there.settings.tuning))
            for channel in (None, *place.channels) if place.port else ():
                self._hearing[place.port or "", channel].append(name)
        self._disturbed = {
            name for name in self._tonight.units for text in programme.warnings if text.startswith(f"{name!r} hears")
        }
        self._missed = set(self._ports)  # who comes now was not there when the place was entered

    @property
    def messages(self) -> list[Message]:
        """The messages that wait for their time."""
        return [message for _, message in self.waiting]

    def enter(self) -> None:
        """Begin a new place: its triggers have not fired."""
        self._fired.clear()
        self._missed.clear()

    def obey(self, plan: Plan, takes: Mapping[str, int], *, entered: bool) -> None:
        """Hear a plan; each port takes only so many of its messages now, all where nothing is said."""
        named = {each.port for each in plan.ports}
        self._drop(named)
        if entered:
            self.enter()
            self._missed = set(self._ports) - named
        for each in plan.ports:
            for name in self._on(each.port):
                self._receivers[name].begin()
            timed = list(_timed(each.messages))
            count = takes.get(each.port, len(timed))
            for start, message in timed[:count]:
                self._hear(start, message)
            self.waiting += timed[count:]

    def let_go(self, count: int) -> None:
        """Let some of what waits go, in order."""
        for start, message in self.waiting[:count]:
            self._hear(start, message)
        del self.waiting[:count]

    def lose(self, port: str) -> None:
        """Lose a port: what waits for it is gone."""
        self.waiting = [(start, message) for start, message in self.waiting if message.port != port]
        self._sounding = {each for each in self._sounding if self._port_of(each[0]) != port}
        self._missed.add(port)

    def look(self, checks: Sequence[ByHand]) -> None:
        """Set by hand what a player is told to look at: what messages flip, and what stands alone in a loop."""
        for move in checks:
            comparison = self._comparisons.get(move.unit)
            if comparison and move.action is Action.CHECK and move.member in comparison.toggling | comparison.loose:
                self._receivers[move.unit].values[move.member] = move.after

    def differences(self, place: Place, ports: Mapping[str, Form]) -> list[str]:
        """Return what is not as a place asks on ports that got all of a plan, and which triggers fired wrongly."""
        reading, found = self._asked[place], []
        for name, unit in self._tonight.units.items():
            port = self._tonight.placements[name].port
            if (
                port is None
                or name in self._disturbed
                or port not in ports
                or any(message.port == port for message in self.messages)
            ):
                continue
            lean = ports[port] is Form.LEAN
            differ, _ = self._comparisons[name].differences(reading.units[name], self._receivers[name], lean=lean)
            found += [f"{place} {name}: {what}" for what in differ]
            sent = {t for t, each in unit.triggers.items() if (each.note, each.controller, each.bytes) != (None,) * 3}
            wanted = {trigger for who, trigger in reading.triggers if who == name} & sent
            for trigger in sent:
                fired, due = self._fired[name][trigger], int(trigger in wanted)
                if fired > due or (fired < due and port not in self._missed):
                    found.append(f"{place} {name}: {trigger} fired {fired} times, and is to fire {due} times")
        return found

    @property
    def _ports(self) -> list[str]:
        return [port for each in self._tonight.placements.values() if (port := each.port)]

    def _port_of(self, unit: str) -> str | None:
        place = self._tonight.placements.get(unit)
        return place.port if place else None

    def _on(self, port: str) -> Iterator[str]:
        return (name for name, place in self._tonight.placements.items() if place.port == port)

    def _drop(self, ports: set[str]) -> None:
        """Drop what waits on ports that a new plan names; a release of a note that sounds keeps its time."""
        stays = []
        for start, message in self.waiting:
            if message.port not in ports:
                stays.append((start, message))
            elif message.value == "release" and (message.unit, message.member) in self._sounding:
                self._hear(MUCH_LATER, message)
        self.waiting = stays

    def _hear(self, start: int, message: Message) -> None:
        if message.kind is MessageKind.TRIGGER:
            key = message.unit, message.member
            (self._sounding.discard if message.value == "release" else self._sounding.add)(key)
        end = start + BYTE_US * len(message.data)
        for name in self._hearing.get((message.port, channel_of(message.data)), ()):
            receiver = self._receivers[name]
            before = receiver.fired.copy()
            receiver.hear(start, end, message.data)
            self._fired[name].update(receiver.fired - before)


def _timed(messages: Sequence[Message]) -> Iterator[tuple[int, Message]]:
    return ((message.at_us, message) for message in messages)
