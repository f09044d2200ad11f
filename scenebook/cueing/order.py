"""The order and the times of one cue's messages (rules C6, C7, C8): one sequence a port, each with its own clock."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from scenebook.cueing.charted import Planned
from scenebook.cueing.cues import Message, MessageKind
from scenebook.cueing.moves import UnitMoves
from scenebook.errors import SettleError
from scenebook.model.messages import running_status_bytes
from scenebook.model.protocol import BYTE_US

__all__ = ["RELEASE_US", "Sequenced", "sequenced"]

_new = tuple.__new__  # a named tuple's own constructor takes twice as long, and a long gig has tens of thousands
RELEASE_US = 100_000  # a trigger's note is released after this long


class Sequenced(NamedTuple):
    """A cue's messages in order, port by port, and what their times add up to."""

    messages: tuple[Message, ...]
    bytes: int
    running_bytes: int  # an estimate: a status equal to the one before it left out
    settled_us: int
    overlap_us: int
    interrupted_us: int


class _Port:
    """The messages of one port, laid one after the other."""

    def __init__(self, name: str) -> None:
        self.name, self.now, self.sent = name, 0, list[Message]()
        self.ready: dict[int, int] = {}
        self.settled = 0

    def send(self, moves: UnitMoves, planned: Iterable[Planned]) -> None:
        name, port, now, send = moves.chart.name, self.name, self.now, self.sent.append
        for kind, member, value, data, _ in planned:
            for message in data:
                send(_new(Message, (port, name, kind, member, value, message, now)))
                now += BYTE_US * len(message)
        self.now = self.settled = now

    def recall(self, moves: UnitMoves, planned: Planned) -> None:
        self.send(moves, (planned,))
        self.ready[moves.number] = self.now + (moves.chart.settle_us or 0)

    def wait_for(self, moves: UnitMoves) -> None:
        self.now = max(self.now, self.ready.get(moves.number, 0))

    def fire(self, moves: UnitMoves) -> list[tuple[int, Message]]:
        """Send a unit's triggers; return their releases, each with the time at which it is due."""
        releases = []
        for kind, member, value, data, release in moves.triggers:
            self.send(moves, (Planned(kind, member, value, data),))
            for message in release:
                late = Message(self.name, moves.chart.name, kind, member, "release", message, 0)
                releases.append((self.now + RELEASE_US, late))
        return releases

    def release(self, releases: list[tuple[int, Message]]) -> None:
        for due, message in sorted(releases, key=lambda each: each[0]):
            self.now = max(self.now, due)
            self.sent.append(message._replace(at_us=self.now))
            self.now += BYTE_US * len(message.data)


def sequenced(units: Sequence[UnitMoves]) -> Sequenced:
    """Return the messages of a cue in the order in which they go out, each with its time.

    Raises:
        SettleError: a trigger follows a recall of a unit whose settle time nobody knows.
    """
    ports: dict[str, list[UnitMoves]] = {}
    for moves in units:
        port = moves.chart.port
        if port in ports:
            ports[port].append(moves)
        else:
            ports[port] = [moves]
    done = [_one_port(name, inside) for name, inside in ports.items()]
    messages = tuple(done[0].sent) if len(done) == 1 else tuple(message for each in done for message in each.sent)
    wires = [[message.data for message in port.sent] for port in done]
    recalled = any(moves.recalls for moves in units)
    return Sequenced(
        messages,
        sum(len(data) for wire in wires for data in wire),
        sum(map(running_status_bytes, wires)),
        max((max(port.settled, *port.ready.values(), 0) for port in done), default=0),
        _overlap(units, messages) if recalled else 0,
        _interrupted(units, messages) if any(moves.left_again for moves in units) else 0,
    )


def _one_port(name: str, units: Sequence[UnitMoves]) -> _Port:
    port = _Port(name)
    recalling = [moves for moves in units if moves.recalls or moves.variant]  # rules C6, C7
    plain = [moves for moves in units if not (moves.recalls or moves.variant)] if recalling else units
    for moves in plain:
        if moves.offs:
            port.send(moves, moves.offs)
    for moves in sorted(recalling, key=lambda moves: -(moves.chart.settle_us or 0)):
        if moves.recalls:
            port.recall(moves, moves.recalls[0])
    for moves in plain:
        if moves.controls:
            port.send(moves, moves.controls)
    for moves in plain:
        if moves.ons:
            port.send(moves, moves.ons)
    if recalling:
        _as_they_become_ready(port, recalling)
    firing = [moves for moves in units if moves.triggers]
    if firing:
        _triggers(port, firing)
    return port


def _as_they_become_ready(port: _Port, recalling: list[UnitMoves]) -> None:
    waiting = [(moves, list(moves.recalls[1:])) for moves in recalling]
    while waiting:
        first = min(waiting, key=lambda each: port.ready.get(each[0].number, 0))
        moves, more = first
        if more:
            port.wait_for(moves)
            port.recall(moves, more.pop(0))
            continue
        waiting.remove(first)
        if moves.variant or moves.offs or moves.controls or moves.ons:
            port.wait_for(moves)
            port.send(moves, moves.variant + moves.offs + moves.controls + moves.ons)


def _triggers(port: _Port, firing: list[UnitMoves]) -> None:
    releases: list[tuple[int, Message]] = []
    for moves in sorted(firing, key=lambda moves: port.ready.get(moves.number, 0)):
        if moves.recalls and moves.chart.settle_us is None:
            raise SettleError(
                "a trigger follows a recall, and no settle time is known",
                where=f"unit {moves.chart.name!r}",
                remedy="Write settle_ms into the unit's programs",
            )
        port.wait_for(moves)
        releases += port.fire(moves)
    settled = port.settled
    port.release(releases)
    port.settled = settled


def _overlap(units: Sequence[UnitMoves], messages: Sequence[Message]) -> int:
    """Return for how long an old sound goes on past a new one: from the first new to the last off."""
    if not any(moves.recalls and moves.offs for moves in units):
        return 0
    new = [m.at_us for m in messages if m.kind in (MessageKind.ON, MessageKind.RECALL)]
    old = [m.at_us + BYTE_US * len(m.data) for m in messages if m.kind is MessageKind.OFF]
    return max(0, max(old, default=0) - min(new, default=0)) if new and old else 0


def _interrupted(units: Sequence[UnitMoves], messages: Sequence[Message]) -> int:
    """Return for how long a left member was away: from its unit's recall until it is sent again."""
    longest = 0
    for moves in units:
        if moves.left_again:
            mine = [m for m in messages if m.unit == moves.chart.name]
            gone = min((m.at_us for m in mine if m.kind is MessageKind.RECALL), default=0)  # by foot: on the cue
            back = max((m.at_us + BYTE_US * len(m.data) for m in mine if m.member in moves.left_again), default=gone)
            longest = max(longest, back - gone)
    return longest
