"""What hands have to do in place of messages, while one of the rig's ports is not there: how its units stand. Pure."""

from collections.abc import Iterator

from scenebook.cueing.cues import Action, Message, MessageKind
from scenebook.live.snapshot import PortNow, PortState, Role, Snapshot
from scenebook.model import MAIN
from scenebook.sheets.view import Do, Shape
from scenebook.sheets.words import message_words, unit_of
from scenebook.web.known import Known

__all__ = ["away", "by_hand", "missed"]


def away(snapshot: Snapshot) -> tuple[PortNow, ...]:
    """Return the ports that nothing goes out on; none for a stand that follows, since another one sends there."""
    if snapshot.role is Role.FOLLOWING:
        return ()
    return tuple(each for each in snapshot.ports if each.state is not PortState.THERE)


def missed(snapshot: Snapshot) -> tuple[str, ...]:
    """Return the ports that would have got something for the step that stands, and are not there."""
    cue = snapshot.step.lean if snapshot.in_turn else snapshot.step.full
    asked = {message.port for message in cue.messages}
    return tuple(each.port for each in away(snapshot) if each.port in asked)


def by_hand(known: Known, snapshot: Snapshot) -> Iterator[tuple[str, tuple[Do, ...]]]:
    """Yield for each port that is not there a heading, and how all of its units must stand, a line for each.

    It is the whole state, whatever was done by hand at the cues before. What a look at the lamps asks for already is
    left out.
    """
    for port in away(snapshot):
        lines = {**_sent_to(known, snapshot, port.port)}
        for unit, words in _flipped(snapshot, port.port):
            lines.setdefault(unit, []).append(words)
        dos = tuple(Do(Shape.TO, _line(known, unit, words), "", "", "") for unit, words in lines.items())
        fired = tuple(_fired(known, snapshot, port.port))
        if dos or fired:
            why = f"{port.port} is gone" if port.state is PortState.GONE else f"nothing reaches {port.port}"
            yield f"By hand, {why}: it must stand so", (*dos, *fired)


def _messages(snapshot: Snapshot, port: str) -> Iterator[Message]:
    return (message for message in snapshot.step.full.messages if message.port == port)


def _sent_to(known: Known, snapshot: Snapshot, port: str) -> dict[str, list[str]]:
    """Return what the full list of a port comes to, by unit: its recall first; each member as it is set last."""
    found: dict[str, dict[str, str]] = {}
    for message in _messages(snapshot, port):
        if message.kind is MessageKind.TRIGGER:
            continue
        members = found.setdefault(message.unit, {})
        is_recall = message.kind in (MessageKind.RECALL, MessageKind.VARIANT)
        key = f" {message.kind}" if is_recall else message.member
        members.pop(key, None)
        members[key] = message_words(unit_of(known.library.units, message.unit), message)
    return {unit: _recall_first(known, unit, members) for unit, members in found.items()}


def _recall_first(known: Known, unit: str, members: dict[str, str]) -> list[str]:
    recalled = [words for key, words in members.items() if key.startswith(" ")]
    rest = [words for key, words in members.items() if not key.startswith(" ")]
    return ([f"recall {', '.join(recalled)} on {known.short.get(unit, unit)}"] if recalled else []) + rest


def _line(known: Known, unit: str, words: list[str]) -> str:
    if words[0].startswith("recall "):
        return words[0] + (f": {', '.join(words[1:])}" if words[1:] else "")
    return f"{known.short.get(unit, unit)}: {', '.join(words)}"


def _flipped(snapshot: Snapshot, port: str) -> Iterator[tuple[str, str]]:
    """Yield the switches that messages of a port only flip, so that no list sets them: unit, and how one stands."""
    programme = snapshot.programme
    flips = {
        (message.unit, message.member)
        for step in programme.by_place.values()
        for message in step.lean.messages
        if message.port == port
    }
    seen = {(move.unit, move.member) for move in snapshot.check}
    for move in snapshot.step.full.by_hand:
        which = move.unit, move.member
        if move.action is Action.CHECK and which in flips and which not in seen:
            yield move.unit, move.after if move.member in ("", MAIN) else f"{move.member} {move.after}"


def _fired(known: Known, snapshot: Snapshot, port: str) -> Iterator[Do]:
    """Yield what fires once on entry, unless it is only offered to send again what stood."""
    for message in () if snapshot.offer else _messages(snapshot, port):
        if message.kind is MessageKind.TRIGGER and message.value != "release":
            yield Do(Shape.HOLD, f"{known.short.get(message.unit, message.unit)}: {message.value}, once", "", "", "")
