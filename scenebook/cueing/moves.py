"""From one unit's step at a cue to its moves: messages in their groups, and what hands and feet do."""

from typing import NamedTuple

from scenebook.cueing.charted import Charted, Planned
from scenebook.cueing.cues import Action, MessageKind
from scenebook.cueing.path import UnitPath
from scenebook.cueing.steps import Demand, Step
from scenebook.model import MAIN
from scenebook.states.lanes import lane_indexes
from scenebook.states.stage import Way
from scenebook.states.targets import Target

__all__ = ["HandMove", "UnitMoves", "checks", "moves_of", "trigger_moves"]

_ACTIONS = {Way.FOOT: Action.PRESS, Way.HAND: Action.TURN, Way.PEDAL: Action.PEDAL}


class HandMove(NamedTuple):
    """A move by hand, not yet placed. `on_cue`: it must fall on the cue, since the unit sounds."""

    action: Action
    member: str
    before: str
    after: str
    us: int
    presses: int
    on_cue: bool
    turns_off: bool = False
    follows: bool = False  # it comes after a recall or a variant by hand of the same unit, which would undo it


class UnitMoves(NamedTuple):
    """All moves of one unit at one cue, in the groups that order them (rule C6)."""

    chart: Charted
    number: int  # of the unit, along the chain
    recalls: tuple[Planned, ...]
    variant: tuple[Planned, ...]
    offs: tuple[Planned, ...]
    controls: tuple[Planned, ...]
    ons: tuple[Planned, ...]
    triggers: tuple[Planned, ...]
    by_hand: tuple[HandMove, ...]
    silence_us: int  # heard, since the unit sounds before and after
    cuts_tail: bool
    left_again: frozenset[str]  # left members that are sent again after a recall


_NONE: tuple[Planned, ...] = ()
_NOBODY: frozenset[str] = frozenset()


def moves_of(path: UnitPath, index: int, step: Step, demand: Demand, before: Step | None) -> UnitMoves:
    """Return the moves of one step."""
    chart, lanes, target = path.chart, path.lanes, demand.target
    offs: list[Planned] = []
    controls: list[Planned] = []
    ons: list[Planned] = []
    hands: list[HandMove] = []
    recalls = _recalls(path, step, demand, before, hands) if step.recalls else _NONE
    variant = _variant(path, step, demand, before, hands) if step.variant else _NONE
    moved = bound = 0
    if (step.recalls or step.variant) and step.fixes & chart.by_hand_mask:
        stood = before.after if before else step.middle
        moved = path.moved(step.recalls, step.variant, stood.preset) if hands else 0
        bound = path.bound_to_cue(stood, demand, step.recalls, step.variant)
    for lane in lane_indexes(step.fixes):
        if chart.by_hand[lane]:
            move = _hand_move(path, lane, step, demand)
            on_cue = move.on_cue or bool(bound >> (lane << 3) & 1)
            hands.append(move._replace(on_cue=on_cue, follows=bool(moved >> (lane << 3) & 1)))
            continue
        planned = _planned(chart, lane, target)
        kind = planned.kind
        (controls if kind is MessageKind.CONTROL else ons if kind is MessageKind.ON else offs).append(planned)
    recalled = len(step.recalls) if demand.heard_before and demand.heard_after else 0
    again = target.left & step.fixes if step.recalls else 0
    left_again = frozenset(lanes.members[lane] for lane in lane_indexes(again)) if again else _NOBODY
    return UnitMoves(
        chart,
        index,
        recalls,
        variant,
        tuple(offs),
        tuple(controls),
        tuple(ons),
        _NONE,
        tuple(hands),
        chart.silence_us * recalled,
        chart.cuts_tails and recalled > 0,
        left_again,
    )


def trigger_moves(chart: Charted, index: int, names: list[str], moves: UnitMoves | None) -> UnitMoves:
    """Return a unit's moves with its triggers added (rule C8)."""
    planned, hands = [], list(moves.by_hand) if moves else []
    for name in names:
        messages = chart.trigger_messages(name)
        if messages is None:
            hands.append(HandMove(Action.FIRE, name, "", name, chart.press_us, 1, on_cue=True))
        else:
            planned.append(Planned(MessageKind.TRIGGER, name, name, *messages))
    if moves is None:
        moves = UnitMoves(chart, index, _NONE, _NONE, _NONE, _NONE, _NONE, _NONE, (), 0, False, _NOBODY)
    return moves._replace(triggers=tuple(planned), by_hand=tuple(hands))


def checks(chart: Charted, target: Target, *, heard: bool) -> tuple[HandMove, ...]:
    """Return the positions of a unit to be checked by the lamp: every determined member that no message sets (C4).

    Of a unit that is not `heard` only its main switch counts.
    """
    lanes = chart.lanes
    mask = target.known & ~lanes.explicit_mask & (-1 if heard else ~chart.patient_mask)
    return tuple(
        HandMove(Action.CHECK, lanes.members[lane], "", _text(chart, target, lane), 0, 0, on_cue=False)
        for lane in lane_indexes(mask)
        if lanes.ways[lane] is not Way.PRESET
    )


def _text(chart: Charted, target: Target, lane: int) -> str:
    member = chart.lanes.members[lane]
    return target.words.get(member) or chart.lanes.text(lane, target.value >> (lane << 3) & 0xFF)


def _planned(chart: Charted, lane: int, target: Target) -> Planned:
    """Return what sets one lane; the same few are asked for again and again."""
    wanted, member = target.value >> (lane << 3) & 0xFF, chart.lanes.members[lane]
    word = target.words.get(member)
    found: Planned | None = chart.planned.get((lane, wanted, word))
    if found is None:
        kind = MessageKind.CONTROL
        if chart.lanes.switch_mask >> (lane << 3) & 0xFF:
            kind = MessageKind.ON if wanted else MessageKind.OFF
        found = Planned(kind, member, _text(chart, target, lane), chart.messages(lane, wanted))
        chart.planned[lane, wanted, word] = found
    return found


def _recalls(
    path: UnitPath, step: Step, demand: Demand, before: Step | None, hands: list[HandMove]
) -> tuple[Planned, ...]:
    chart = path.chart
    if chart.recall_way is Way.MESSAGE:
        return tuple(
            Planned(MessageKind.RECALL, "preset", chart.slot_name(slot), chart.recall_messages(slot))
            for slot in step.recalls
        )
    state = before.after if before else None
    here = state.preset if state else None
    on_cue = state is not None and path.must_fall_on_cue(state, demand, step.recalls, None)[0]
    for slot in step.recalls:
        presses, taken = chart.walk(here, slot)
        name = chart.slot_name(here) if here is not None and here >= 0 else ""
        follows = bool(hands)  # by way of another program: one after the other
        name_after = chart.slot_name(slot)
        hands.append(HandMove(Action.RECALL, "preset", name, name_after, taken, presses, on_cue, follows=follows))
        here = slot
    return _NONE


def _variant(
    path: UnitPath, step: Step, demand: Demand, before: Step | None, hands: list[HandMove]
) -> tuple[Planned, ...]:
    assert step.variant is not None, "asked only where there is one"
    assert step.middle.preset is not None, "a variant is reached inside a preset"
    messages = path.chart.variant_messages(step.middle.preset, step.variant)
    if messages is not None:
        return (Planned(MessageKind.VARIANT, "variant", step.variant, messages),)
    on_cue = before is not None and path.must_fall_on_cue(before.after, demand, step.recalls, step.variant)[1]
    press = HandMove(Action.PRESS, "variant", "", step.variant, path.chart.press_us, 1, on_cue, follows=bool(hands))
    hands.append(press)
    return _NONE


def _hand_move(path: UnitPath, lane: int, step: Step, demand: Demand) -> HandMove:
    chart, lanes = path.chart, path.lanes
    shift = lane << 3
    was_known, was, wanted = (
        step.middle.known >> shift & 1,
        step.middle.value >> shift & 0xFF,
        demand.target.value >> shift,
    )
    is_switch = bool(lanes.switch_mask >> shift & 0xFF)
    makes_it_sound = lanes.members[lane] == MAIN and demand.heard_after and not was
    before, after = lanes.text(lane, was) if was_known else "", _text(chart, demand.target, lane)
    if before == after:  # the same note value at another tempo
        before, after = lanes.measured(lane, was), f"{after} ({lanes.measured(lane, wanted & 0xFF)})"
    return HandMove(
        _ACTIONS[lanes.ways[lane]],
        lanes.members[lane],
        before,
        after,
        chart.hand_us[lane],
        1,
        demand.heard_before or makes_it_sound,
        is_switch and not wanted & 0xFF,
    )
