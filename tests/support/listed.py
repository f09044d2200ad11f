"""What a compiled list costs (C1), from the messages and moves that it really lists, and whether they get there."""

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

from scenebook.cueing.cues import Action, ByHand, Cue, CueList, Message, MessageKind
from scenebook.model import Library
from scenebook.model.protocol import BANK_SELECT_MSB
from tests.support.brute_force import BYTE, FREE, Asked, Bench, Cost, State, cues_of

__all__ = ["listed_cost"]

_NO_MOVES = (Action.CHECK, Action.HOLD, Action.CHANGE, Action.FIRE)


class _Done(NamedTuple):
    """What one unit does at one cue, by the list."""

    recalls: list[int]
    variant: str | None
    fixes: list[str]
    messages: list[Message]
    hands: list[ByHand]


def listed_cost(library: Library, compiled: CueList) -> tuple[Cost, list[str]]:
    """Return the cost of a list, summed over its cues and units, and each thing that it does not reach."""
    benches = [Bench(library, compiled.rig, name) for name in library.rigs[compiled.rig].carried]
    states = [bench.start() for bench in benches]
    total, missed = FREE, list[str]()
    hands = _by_unit_and_cue(compiled.cues)
    for cue, asked in zip(compiled.cues, cues_of(library, compiled.gig, benches), strict=True):
        for index, bench in enumerate(benches):
            done = _done(bench, cue, hands[bench.name, cue.number])
            heard = asked[index][1]
            if heard[1] != cue.states[index].sounds:
                missed.append(f"cue {cue.number}: whether {bench.name} sounds")
            states[index], cost = _played(bench, states[index], done, heard)
            cost = (0, *cost[1:]) if cue.number == 0 else cost
            total = tuple(a + b for a, b in zip(total, cost, strict=True))  # type: ignore[assignment]
            missed += [f"cue {cue.number}: {bench.name} {m}" for m in _missed(bench, states[index], *asked[index])]
    return total, missed


def _by_unit_and_cue(cues: Sequence[Cue]) -> dict[tuple[str, int], list[ByHand]]:
    """Return the moves by hand in the order in which they are made, by the cue that needs them."""
    found: defaultdict[tuple[str, int], list[ByHand]] = defaultdict(list)
    for cue in cues:
        for move in cue.by_hand:
            if move.action not in _NO_MOVES:
                found[move.unit, move.for_cue].append(move)
    return found


def _done(bench: Bench, cue: Cue, hands: list[ByHand]) -> _Done:
    messages = [message for message in cue.messages if message.unit == bench.name]
    recalls, variant, bank = list[int](), None, 0
    for message in messages:
        if message.kind is MessageKind.RECALL and message.data[0] & 0xF0 == 0xB0:
            bank = message.data[2] << 7 if message.data[1] == BANK_SELECT_MSB else bank | message.data[2]
        elif message.kind is MessageKind.RECALL:
            recalls.append(message.data[1])
        elif message.kind is MessageKind.VARIANT:
            variant = message.value
    assert bank == 0, "the gigs here have no more than one bank"
    for move in hands:
        if move.action is Action.RECALL:
            recalls.append(bench.slot(move.after.split()[0]))
        elif move.member == "variant":
            variant = move.after
    members = [*(m.member for m in messages), *(m.member for m in hands)]
    moved = [member for member in members if member not in ("preset", "variant")]
    return _Done(recalls, variant, moved, messages, hands)


def _played(bench: Bench, state: State, done: _Done, heard: tuple[bool, bool]) -> tuple[State, Cost]:
    """Return how the unit stands after a cue, and what the cue cost."""
    middle = state
    for slot in done.recalls:
        middle = bench.recalled(middle, slot)
    end = bench.reached(middle, done.variant) if done.variant is not None else middle
    values = {**end["members"]}
    for message in done.messages:
        if message.member in bench.ways:
            values[message.member] = bench.value(message.member, message.value, 120)
    for move in done.hands:
        if move.member in bench.ways:
            values[move.member] = bench.value(move.member, move.after.split(" (")[0], 120)
    after = {**end, "members": values}
    must = _on_cue(bench, done, (state, middle, end, after), heard)
    on_cue = sum(m.us for m in done.hands if heard[0] or m.member in must)
    hole = bench.hole_us() * len(done.recalls) if all(heard) else 0
    wire = BYTE * sum(len(m.data) for m in done.messages) + bench.settle_us() * len(done.recalls)
    programs = sum(m.data[0] & 0xF0 == 0xC0 for m in done.messages)
    return after, (on_cue, hole, sum(m.us for m in done.hands), wire, programs)


def _on_cue(bench: Bench, done: _Done, states: Sequence[State], heard: tuple[bool, bool]) -> set[str]:
    """Return what must fall on the cue: what makes the unit sound, and what a recall or variant there would undo."""
    start, middle, end, after = states
    must = {"main"} if heard[1] and _begins(end, after) else set()
    by_message = {message.kind for message in done.messages}
    if MessageKind.RECALL in by_message or (done.recalls and (heard[0] or (heard[1] and _begins(start, middle)))):
        must |= {"preset", "variant", *bench.stored}
    if done.variant is not None and (
        MessageKind.VARIANT in by_message or "variant" in must or (heard[1] and _begins(middle, end))
    ):
        must |= {"variant", *bench.touched(end["preset"], done.variant)}
    return must


def _begins(before: State, after: State) -> bool:
    return before["members"].get("main", True) is not True and after["members"].get("main", True) is True


def _missed(bench: Bench, state: State, asked: Asked, heard: tuple[bool, bool]) -> list[str]:
    if asked["left_unit"]:
        return []
    missed = bench.differing(state, asked, heard[1])
    stands = state["preset"], state["variant"]
    return missed + ["preset"] * (asked["preset"] is not None and stands != (asked["preset"], asked["variant"]))
