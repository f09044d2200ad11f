"""Spoil a proved list in small ways, and hold what the proof reports against what a second receiver sees (P4)."""

import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from scenebook.model import Library, Unit
from scenebook.proof import Prover, SentCue, SentMessage
from tests.support.second_receiver import BYTE, State, Stream, messages_of, state_after, table_of

__all__ = ["Mutation", "Tally", "mutations", "tally"]

STRAY = (b"\xb0\x66\x01", b"\xbf\x50\x7f", b"\xc0\x05", b"\xf8", b"\xf0\x7d\x01\xf7")


@dataclass(frozen=True)
class Mutation:
    """One change of a list: what it is, at which place of the list, and the cue as it is then."""

    name: str
    place: int
    cue: SentCue


@dataclass
class Tally:
    """How many mutations were tried, changed a state, were caught; which the two sides do not agree on."""

    tried: int = 0
    state_changing: int = 0
    caught: int = 0
    falsely_reported: int = 0
    disagreements: list[str] = field(default_factory=list)
    by_kind: dict[str, list[int]] = field(default_factory=dict)  # tried, state-changing, caught

    def __str__(self) -> str:
        return (
            f"{self.tried} tried, {self.state_changing} change a state, {self.caught} of them caught, "
            f"{self.falsely_reported} falsely reported"
        )


def mutations(sent: Sequence[SentCue], *, seed: int = 1, at_most: int | None = None) -> Iterator[Mutation]:
    """Yield the list's mutations; a random choice of them where there are more than `at_most`."""
    found = [each for place, cue in enumerate(sent) for each in _of_cue(place, cue, sent, random.Random(seed + place))]
    if at_most is not None and len(found) > at_most:
        found = random.Random(seed).sample(found, at_most)
    yield from found


def _of_cue(place: int, cue: SentCue, sent: Sequence[SentCue], chance: random.Random) -> Iterator[Mutation]:
    for index, message in enumerate(cue.messages):
        for name, instead in _of_message(message):
            yield _changed(name, place, cue, index, index + 1, instead)
        if index + 1 < len(cue.messages) and cue.messages[index + 1] != message:
            one, two = cue.messages[index : index + 2]
            yield _changed("swap", place, cue, index, index + 2, (two, one))
    elsewhere = [message for other in sent for message in other.messages]
    ports = sorted({message.port for message in elsewhere})
    strays = [SentMessage(port, 0, data) for port in ports for data in STRAY]
    again = chance.choices(elsewhere, k=3) if elsewhere else []
    for stray in [*strays, *(message._replace(wait_us=0) for message in again)]:
        index = chance.randint(0, len(cue.messages))
        yield _changed("stray", place, cue, index, index, (stray,))


def _of_message(message: SentMessage) -> Iterator[tuple[str, tuple[SentMessage, ...]]]:
    is_bank = len(message.data) == 3 and message.data[0] >> 4 == 0xB and message.data[1] in (0, 32)
    yield "drop Bank Select" if is_bank else "drop", ()
    yield "duplicate", (message, message._replace(wait_us=0))
    if message.wait_us:
        yield "wait 1 us less", (message._replace(wait_us=message.wait_us - 1),)
    for at, byte in enumerate(message.data):
        others = (byte ^ 1, byte ^ 0x40) if byte < 0x80 else (byte ^ 1, byte ^ 0x20) if byte < 0xF0 else ()
        for other in others:
            changed = message.data[:at] + bytes([other]) + message.data[at + 1 :]
            yield "data byte" if byte < 0x80 else "status", (message._replace(data=changed),)


def _changed(name: str, place: int, cue: SentCue, start: int, end: int, instead: tuple[SentMessage, ...]) -> Mutation:
    messages = (*cue.messages[:start], *instead, *cue.messages[end:])
    return Mutation(name, place, cue._replace(messages=messages))


def tally(
    library: Library,
    gig: str,
    rig: str,
    sent: Sequence[SentCue],
    *,
    full: bool = False,
    seed: int = 1,
    at_most: int | None = None,
) -> Tally:
    """Try mutations of a proved list, byte check off; the second receiver says which of them change a state."""
    prover = Prover(library, gig, rig)
    witness = _Witness(prover, full=full)
    counted = Tally()
    honest = witness.states(sent)
    for mutation in mutations(sent, seed=seed, at_most=at_most):
        spoiled = [*sent[: mutation.place], mutation.cue, *sent[mutation.place + 1 :]]
        changes = witness.differ(honest, spoiled, mutation.place)
        heard = [mutation.cue] if full else spoiled
        reported = not prover.prove(heard, full=full, check_bytes=False, whole=not full).ok
        _count(counted, mutation, changes=changes, reported=reported)
    return counted


def _count(counted: Tally, mutation: Mutation, *, changes: bool, reported: bool) -> None:
    counted.tried += 1
    counted.state_changing += changes
    counted.caught += changes and reported
    counted.falsely_reported += reported and not changes
    row = counted.by_kind.setdefault(mutation.name, [0, 0, 0])
    for place, yes in enumerate((True, changes, changes and reported)):
        row[place] += yes
    if changes != reported:
        said = "reported, and no state changed" if reported else "a state changed, and nothing was reported"
        messages = "; ".join(f"{m.port} +{m.wait_us} {m.data.hex(' ')}" for m in mutation.cue.messages)
        counted.disagreements.append(f"cue {mutation.cue.number}, {mutation.name}: {said}: {messages}")


class _Witness:
    """The second receivers of a rig. What scenes ask tells only which parts of a state count, not what they are."""

    def __init__(self, prover: Prover, *, full: bool) -> None:
        self.full = full
        self.readings = {reading.key: reading for reading in prover.readings}
        placed = prover.tonight.placements
        self.units = {n: (u, placed[n], table_of(u)) for n, u in prover.tonight.units.items() if placed[n].port}
        self.alone = {loop.inside[0] for loop in prover.tonight.loops if not loop.shared}
        self.counting = {n: _counting(unit, alone=n in self.alone) for n, (unit, _, _) in self.units.items()}

    def states(
        self, sent: Sequence[SentCue], begin: dict[str, State] | None = None
    ) -> list[tuple[Any, dict[str, State]]]:
        """Return for each cue what counts of the state after it, and the whole state."""
        found: list[tuple[Any, dict[str, State]]] = []
        before: dict[str, State] = begin or {}
        for cue in sent:
            streams = _streams(cue)
            after = {
                name: state_after(
                    unit, place, streams[place.port or ""], None if self.full else before.get(name), table
                )
                for name, (unit, place, table) in self.units.items()
            }
            view = [self._view(name, cue, state, before.get(name)) for name, state in after.items()]
            found.append(((view, self._strange(streams, after)), after))
            before = after
        return found

    def differ(self, honest: list[tuple[Any, dict[str, State]]], spoiled: Sequence[SentCue], place: int) -> bool:
        """Tell whether anything that counts is different at the spoiled cue or, in lean, after it."""
        begin = honest[place - 1][1] if place and not self.full else None
        for offset, cue in enumerate(spoiled[place : place + 1] if self.full else spoiled[place:]):
            (view, after) = self.states([cue], begin)[0]
            if view != honest[place + offset][0]:
                return True
            if not self.full and all(_same(after[n], honest[place + offset][1][n]) for n in after):
                return False
            begin = after
        return False

    def _view(self, name: str, cue: SentCue, state: State, before: State | None) -> Any:
        key = None if cue.entry is None or cue.form is None else (cue.entry, cue.form)
        asked = self.readings[key].units[name]
        presets, toggles, members = self.counting[name]
        at_home = key is None
        if self.full or at_home:  # nobody promises how a toggling switch stands
            for member in toggles & asked.values.keys() - state["members"].keys():
                state["members"][member] = asked.values[member]
        view: list[Any] = [state["fired"], sorted(state["held"])]
        if asked.slot is not None and presets != "hidden":
            unsaid = presets is not None and asked.slot in presets
            view.append((state["slot"], None if unsaid else state["variant"]))
        for member in members:
            now = state["members"].get(member)
            if member in asked.values:
                stands = name in self.alone and member == "main" and now is None
                view.append(asked.values[member] if stands else now)
            else:
                moved = now != state["alone"].get(member)
                if asked.slot is None and not (self.full or at_home) and before is not None:
                    moved = now != before["members"].get(member)
                view.append(moved)
        return view

    def _strange(self, streams: dict[str, Stream], after: dict[str, State]) -> int:
        """Count the messages that nobody who hears them understands."""
        count = 0
        for port, stream in streams.items():
            known = set().union(*(after[n]["understood"] for n, (_, p, _) in self.units.items() if p.port == port), ())
            count += sum((at, message) not in known for at, _, message in messages_of(stream) if message[0] < 0xF8)
        return count


def _same(one: State, other: State) -> bool:
    """Tell whether two states will answer alike to all that follows."""
    return all(one[key] == other[key] for key in ("slot", "variant", "members", "bank", "waiting", "lists"))


def _streams(cue: SentCue) -> dict[str, Stream]:
    clocks: defaultdict[str, int] = defaultdict(int)
    streams: defaultdict[str, list[tuple[int, bytes]]] = defaultdict(list)
    for message in cue.messages:
        start = clocks[message.port] + message.wait_us
        streams[message.port].append((start, message.data))
        clocks[message.port] = start + BYTE * len(message.data)
    return streams  # type: ignore[return-value]


def _counting(unit: Unit, *, alone: bool) -> tuple[Any, set[str], list[str]]:
    """Return what of a unit's state counts: slots whose variant does not, toggles, and members not worked by hand.

    "hidden" for slots: presets are recalled by hand, so nothing is said of them or of what they store.
    """
    said = unit.model_dump()
    hidden, footed = set[str](), set[int]()
    for preset, original in zip(said["presets"], unit.presets, strict=True):
        variants = preset["variants"].values()
        if any(each["controller"] is None and each["bytes"] is None for each in variants):
            footed.add(unit.programs.slots[original.slot] if unit.programs else 0)
            hidden |= {member for each in (preset, *variants) for member in each["stores"]}
    by_hand = said["programs"] is None or not said["programs"]["program_change"]
    hidden |= unit.stored if by_hand else set()
    members, toggles = [], set()
    for name in set(unit.members) - hidden:
        way = said["switches"].get(name) or said["controls"][name]
        if "toggle" in way and way["toggle"] and not way["message"]:
            toggles.add(name)
        worked = way.get("foot") or way["hand"] or way.get("contact") is not None or way.get("pedal")
        if "scale" in way and way["hand"] is None and not way["message"] and not way["pedal"]:
            worked = True
        if way["message"] or way.get("toggle") or (name in unit.stored and not worked) or (alone and name == "main"):
            members.append(name)
    return ("hidden" if by_hand else footed), toggles, members
