"""What one unit may do at one cue and what it costs (rules S5, C1, C9): recalls, then a variant, then what differs."""

from typing import NamedTuple

from scenebook.cueing.charted import Charted
from scenebook.errors import NoWayError, SceneError, SettleError, UnsaidError
from scenebook.model.protocol import BYTE_US
from scenebook.states.lanes import lane_indexes
from scenebook.states.stage import Way
from scenebook.states.targets import Target

__all__ = ["FREE", "RECALL", "Cost", "Demand", "Recalls", "State", "Step", "UnitSteps", "start_state"]

Cost = tuple[int, int, int, int, int, int, int]
"""By-hand us on the cue, hole us, by-hand us in all, wire and settle us, programs (C1); then ties: rank, slots."""
FREE: Cost = (0, 0, 0, 0, 0, 0, 0)
_VARIANT, RECALL = 1, 2
_new = tuple.__new__  # a named tuple's own constructor takes twice as long, and the search makes very many
Recalls = tuple[int, ...]


class State(NamedTuple):
    """What is known of a unit: the preset recalled last and its variant, and its members' lanes."""

    preset: int | None
    variant: str | None
    value: int
    known: int


class Demand(NamedTuple):
    """What one cue asks of one unit: its target, and whether it is heard before and after."""

    target: Target
    heard_before: bool
    heard_after: bool


class Step(NamedTuple):
    """What one unit does at a cue: recalls, then a variant, then the lanes in `fixes`; `middle` is the state before."""

    recalls: Recalls
    variant: str | None
    fixes: int
    middle: State
    after: State
    cost: Cost


def start_state(chart: Charted, home: Target) -> State:
    """Return what is known before cue 0: what hands have checked by the lamp; nothing that a message or preset sets."""
    by_preset = chart.lanes.stored_mask & chart.blocked_mask
    free = chart.by_hand_mask & chart.lanes.hand_mask & ~home.known  # knobs stand somewhere: SOMEWHERE in each
    known = home.known & ~chart.lanes.explicit_mask & ~by_preset
    return State(None, None, home.value | free, known | free)


class UnitSteps:
    """Works out steps of one unit and their prices. `edges` counts the steps that were priced."""

    def __init__(self, chart: Charted) -> None:
        self.chart, self.lanes, self.edges = chart, chart.lanes, 0
        self._reason: SceneError | None = None
        self._recalls_plainly = chart.recall_way is Way.MESSAGE and chart.settle_us is not None
        self._first_bits = sum(1 << (index << 3) for index in range(len(self.lanes.members)))

    def forced(self, state: State, target: Target, preset: int | None, variant: str | None) -> Step:
        """Return the step of a full list: recall what lean has recalled last, then set all that differs."""
        recalls: Recalls = () if preset is None else (preset,)
        if preset is not None and self.chart.ignores_repeat:
            recalls = (self.chart.other_slot(preset), preset)
        middle = self._middle(state, recalls, variant)
        value, known = middle.value, middle.known
        fixes = self.lanes.difference(value, known, target.value, target.known)
        fixes &= (known | self.lanes.explicit_mask) & ~self.chart.blocked_mask  # the rest is for the eye to check
        if not self._is_settled(recalls, variant, preset, fixes):
            raise self._refusal(0)
        after = State(preset, variant, value & ~fixes | target.value & fixes, known | fixes)
        return Step(recalls, variant, fixes, middle, after, FREE)

    def _after_effect(self, value: int, known: int, slot: int, variant: str | None) -> tuple[int, int]:
        effect = self.lanes.effect(slot, variant)
        touched = effect.known | effect.unknown
        return value & ~touched | effect.value, (known | effect.known) & ~effect.unknown

    def _step(self, state: State, demand: Demand, recalls: Recalls, variant: str | None) -> Step | None:
        """Return a step and its price, or None where it does not reach the target (and keep the reason)."""
        self.edges += 1
        target = demand.target
        middle = self._middle(state, recalls, variant) if recalls or variant else state
        preset, now, value, known = middle
        fixes = 0
        if not target.left_unit:
            asked = target.known if demand.heard_after else target.known & ~self.chart.patient_mask
            fixes = self.lanes.difference(value, known, target.value, asked)
        if not (recalls or variant or fixes & ~self.chart.plain_mask):  # the usual case: nothing, or some controllers
            cost: Cost = (0, 0, 0, 3 * BYTE_US * self._count(fixes), 0, 0, 0) if fixes else FREE
        elif self._recalls_plainly and not (variant or fixes & ~self.chart.plain_mask or len(recalls) > 1):
            hole = self.chart.hole_us if demand.heard_before and demand.heard_after else 0
            wire = self.chart.recall_us(recalls[0]) + 3 * BYTE_US * self._count(fixes)
            cost = (0, hole, 0, wire, 1, RECALL, recalls[0])
        elif not self._is_possible(fixes, known, recalls, variant, preset):
            return None
        else:
            cost = self._cost(state, demand, recalls, variant, preset, value, fixes)
        after = middle
        if fixes:
            after = _new(State, (preset, now, value & ~fixes | target.value & fixes, known | fixes))
        return _new(Step, (recalls, variant, fixes, middle, after, cost))

    def _middle(self, state: State, recalls: Recalls, variant: str | None) -> State:
        """Return what is known after recalls and a variant, before anything else is set (rule S5)."""
        preset, now, value, known = state
        for slot in recalls:
            value, known = self._after_effect(value, known, slot, None)
            preset, now = slot, None
        if variant is not None and preset is not None:
            value, known = self._after_effect(value, known, preset, variant)
            now = variant
        return State(preset, now, value, known)

    def _is_possible(self, fixes: int, known: int, recalls: Recalls, variant: str | None, preset: int | None) -> bool:
        chart = self.chart
        if recalls and chart.recall_way in (Way.PRESET, None):
            return self._refuse(
                NoWayError,
                "nothing recalls its presets on this rig",
                "Give it a port and channel in the rig, or say that foot or hand recalls",
            )
        if variant is not None and preset is not None:
            stored = self.lanes.variant(preset, variant)
            if chart.variant_messages(preset, variant) is None and not stored.foot:
                return self._refuse(
                    NoWayError,
                    f"nothing reaches variant {variant!r} on this rig",
                    "Give the unit a port and channel in the rig, or say in the unit that a foot reaches it",
                )
        if preset is not None and (dark := fixes & ~known & ~self.lanes.explicit_mask):
            or_rest = "" if dark & ~self.lanes.switch_mask else ", or give the preset rest: off"
            return self._refuse(
                UnsaidError,
                f"after recalling {chart.slot_name(preset)!r} nobody knows how {self._names(dark)} stands",
                f"Write it into that preset's stores{or_rest}",
            )
        if stuck := fixes & chart.blocked_mask | fixes & chart.toggle_mask & ~known:
            return self._refuse(
                NoWayError,
                f"nothing works {self._names(stuck)} on this rig",
                "Name a preset that stores it so, or say in the unit how it is worked",
            )
        return self._is_settled(recalls, variant, preset, fixes)

    def _is_settled(self, recalls: Recalls, variant: str | None, preset: int | None, fixes: int) -> bool:
        """Whether it is known how long to wait where a message follows a recall."""
        chart = self.chart
        if not recalls or chart.settle_us is not None:
            return True
        follows = bool(fixes & ~chart.by_hand_mask) or (len(recalls) > 1 and chart.recall_way is Way.MESSAGE)
        if variant is not None and preset is not None:
            follows = follows or chart.variant_messages(preset, variant) is not None
        return not follows or self._refuse(
            SettleError,
            f"a message follows the recall of {chart.slot_name(recalls[-1])!r}, and no settle time is known",
            "Write settle_ms into the unit's programs",
        )

    def _refuse(self, kind: type[SceneError], found: str, remedy: str) -> bool:
        if self._reason is None or not isinstance(self._reason, UnsaidError):
            self._reason = kind(found, where=f"unit {self.chart.name!r}", remedy=remedy)
        return False

    def _refusal(self, number: int) -> SceneError:
        reason = self._reason or NoWayError("nothing reaches what the scene asks", where=f"unit {self.chart.name!r}")
        return type(reason)(reason.found, where=reason.where, remedy=reason.remedy, path=(number,))

    def _names(self, mask: int) -> str:
        return ", ".join(repr(self.lanes.members[index]) for index in lane_indexes(mask))

    def _cost(
        self,
        state: State,
        demand: Demand,
        recalls: Recalls,
        variant: str | None,
        preset: int | None,
        value: int,
        fixes: int,
    ) -> Cost:
        bound = self.bound_to_cue(state, demand, recalls, variant) if fixes & self.chart.by_hand_mask else 0
        was_on = self._is_on(value)
        on_cue, by_hand, wire = self._price(fixes, demand, main_was_on=was_on, bound=bound) if fixes else (0, 0, 0)
        hole = 0
        if recalls:
            more = self._recall_price(state, demand, recalls)
            on_cue, by_hand, wire = on_cue + more[0], by_hand + more[1], wire + more[2]
            if demand.heard_before and demand.heard_after:
                hole = self.chart.hole_us * len(recalls)
        if variant is not None and preset is not None:
            more = self._variant_price(state, demand, recalls, variant)
            on_cue, by_hand, wire = on_cue + more[0], by_hand + more[1], wire + more[2]
        rank = RECALL * len(recalls) + _VARIANT * (variant is not None)
        by_message = self.chart.recall_way is Way.MESSAGE
        return (on_cue, hole, by_hand, wire, len(recalls) if by_message else 0, rank, sum(recalls))

    def _price(self, fixes: int, demand: Demand, *, main_was_on: bool, bound: int = 0) -> tuple[int, int, int]:
        """Return (by-hand us on the cue, by-hand us, wire us) of setting the lanes in `fixes`.

        Those in `bound` follow something that falls on the cue.
        """
        chart, wanted = self.chart, demand.target.value
        if not fixes & ~chart.plain_mask:
            return 0, 0, 3 * BYTE_US * self._count(fixes)
        on_cue = by_hand = wire = 0
        for index in lane_indexes(fixes):
            if chart.by_hand[index]:
                taken = chart.hand_us[index]
                by_hand += taken
                begins = index == self.lanes.main and demand.heard_after and not main_was_on
                if demand.heard_before or begins or bound >> (index << 3) & 1:
                    on_cue += taken
            else:
                wire += chart.wire_us(index, wanted >> (index << 3) & 0xFF)
        return on_cue, by_hand, wire

    def _recall_price(self, state: State, demand: Demand, recalls: Recalls) -> tuple[int, int, int]:
        chart = self.chart
        if chart.recall_way is Way.MESSAGE:
            return 0, 0, sum(map(chart.recall_us, recalls))
        here, taken = state.preset, 0
        for slot in recalls:
            taken, here = taken + chart.walk(here, slot)[1], slot
        heard, _ = self.must_fall_on_cue(state, demand, recalls, None)
        return (taken if heard else 0), taken, (chart.settle_us or 0) * len(recalls)

    def must_fall_on_cue(
        self, state: State, demand: Demand, recalls: Recalls, variant: str | None
    ) -> tuple[bool, bool]:
        """Tell whether a recall, and what reaches a variant, must fall on the cue.

        Each does where the unit sounds before the cue, or where that very press makes it sound (rule C9); messages
        always do, and so does what follows a recall that does.
        """
        if demand.heard_before:
            return True, True
        recall = bool(recalls) and self.chart.recall_way is Way.MESSAGE
        recalled = self._is_on(self._middle(state, recalls, None).value)
        if recalls and demand.heard_after:
            recall = recall or (recalled and not self._is_on(state.value))
        if variant is None:
            return recall, False
        middle = self._middle(state, recalls, variant)
        sent = middle.preset is not None and self.chart.variant_messages(middle.preset, variant) is not None
        begins = demand.heard_after and self._is_on(middle.value) and not recalled
        return recall, recall or sent or begins

    def bound_to_cue(self, state: State, demand: Demand, recalls: Recalls, variant: str | None) -> int:
        """Return the lanes that a recall or a variant on the cue itself moves: what sets them again follows it."""
        if not (recalls or variant):
            return 0
        recall, reach = self.must_fall_on_cue(state, demand, recalls, variant)
        bound = self.lanes.stored_mask if recall else 0
        if reach and variant is not None:
            bound |= self.moved(recalls, variant, state.preset)
        return bound

    def moved(self, recalls: Recalls, variant: str | None, preset: int | None) -> int:
        """Return the lanes that recalls, or a variant reached in `preset`, may move."""
        if recalls:
            return self.lanes.stored_mask
        if variant is None or preset is None:
            return 0
        effect = self.lanes.effect(preset, variant)
        return effect.known | effect.unknown

    def _variant_price(self, state: State, demand: Demand, recalls: Recalls, variant: str) -> tuple[int, int, int]:
        preset = recalls[-1] if recalls else state.preset
        assert preset is not None, "a variant is reached inside a preset"
        messages = self.chart.variant_messages(preset, variant)
        if messages is not None:
            return 0, 0, BYTE_US * sum(map(len, messages))
        _, heard = self.must_fall_on_cue(state, demand, recalls, variant)
        return (self.chart.press_us if heard else 0), self.chart.press_us, 0

    def _count(self, mask: int) -> int:
        """Return how many lanes have a bit in `mask`: each lane is folded onto its first bit."""
        mask |= mask >> 4
        mask |= mask >> 2
        mask |= mask >> 1
        return (mask & self._first_bits).bit_count()

    def _is_on(self, value: int) -> bool:
        return self.lanes.main is None or bool(value >> (self.lanes.main << 3) & 0xFF)
