"""The cheapest way of one unit through a gig (rules C1, C2): where to recall, where to reach a variant, where to stay.

Bytes are counted plain, so units do not touch each other and each has a path of its own. The search is exact: it keeps
the cheapest way to each state that the rest of the gig can tell apart, cue by cue.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from scenebook.cueing.charted import Charted
from scenebook.errors import NoWayError, SceneError, SettleError, UnsaidError
from scenebook.model.protocol import BYTE_US
from scenebook.states.lanes import lane_indexes
from scenebook.states.stage import Way
from scenebook.states.targets import Target

__all__ = ["Cost", "Demand", "State", "Step", "UnitPath", "start_state"]

Cost = tuple[int, int, int, int, int, int, int]
"""By-hand us on the cue, hole us, by-hand us in all, wire and settle us, programs (C1); then ties: rank, slots."""
_FREE: Cost = (0, 0, 0, 0, 0, 0, 0)
_VARIANT, _RECALL = 1, 2
_new = tuple.__new__  # a named tuple's own constructor takes twice as long, and the search makes very many
Recalls = tuple[int, ...]
_Key = tuple[int | None, str | None, int, int]  # a State, or as much of it as can be told


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


class _Node(NamedTuple):
    cost: Cost
    state: State
    step: Step | None
    parent: "_Node | None"


def start_state(chart: Charted, home: Target) -> State:
    """Return what is known before cue 0: what hands have checked by the lamp; nothing that a message or preset sets."""
    by_preset = chart.lanes.stored_mask & chart.blocked_mask
    free = chart.by_hand_mask & chart.lanes.hand_mask & ~home.known  # knobs stand somewhere: SOMEWHERE in each
    known = home.known & ~chart.lanes.explicit_mask & ~by_preset
    return State(None, None, home.value | free, known | free)


class UnitPath:
    """Finds the cheapest path of one unit. `edges` counts the steps that were priced."""

    def __init__(self, chart: Charted) -> None:
        self.chart, self.lanes, self.edges = chart, chart.lanes, 0
        self._described = sorted(self.lanes.presets)
        self._with_variants = [slot for slot, preset in self.lanes.presets.items() if preset.variants]
        by_hand_in_presets = bool(chart.by_hand_mask & self.lanes.stored_mask)  # they may stand where a recall put them
        self._exact = chart.ignores_repeat or chart.recall_way in (Way.FOOT, Way.HAND) or by_hand_in_presets
        self._reason: SceneError | None = None
        self._first_bits = sum(1 << (index << 3) for index in range(len(self.lanes.members)))

    def steps(self, demands: Sequence[Demand], start: State) -> list[Step]:
        """Return one step for each demand, of the least cost summed over all of them.

        No two neighbours may be the same: where nothing new is asked, no step is better than the one before it.

        Raises:
            SceneError: at some cue nothing reaches the target; the number of that demand is in its path.
        """
        if not self.lanes.presets and all(demand.target.preset is None for demand in demands):
            return list(self._only_path(demands, start))
        layer: dict[_Key, _Node] = {start: _Node(_FREE, start, None, None)}
        coming = _named_next(demands)
        for number, demand in enumerate(demands):
            self._reason = None
            layer = self._next_layer(layer, demand, coming[number], at_home=number == 0)
            if not layer:
                raise self._refusal(number)
        return _walked_back(min(layer.values(), key=lambda node: node.cost))

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
        return Step(recalls, variant, fixes, middle, after, _FREE)

    def _only_path(self, demands: Sequence[Demand], state: State) -> Iterator[Step]:
        """Yield the steps of a unit without presets: there is nothing to choose."""
        for number, demand in enumerate(demands):
            self._reason = None
            step = self._step(state, demand, (), None)
            if step is None:
                raise self._refusal(number)
            state = step.after
            yield step

    def _next_layer(
        self, layer: dict[_Key, _Node], demand: Demand, coming: int | None, *, at_home: bool
    ) -> dict[_Key, _Node]:
        """Return the cheapest way to each state after a cue; `at_home`: cue 0, where nothing must fall on a beat."""
        following: dict[_Key, _Node] = {}
        for node in layer.values():
            for step in self._steps_from(node.state, demand, coming):
                cost = _sum(node.cost, step.cost) if step.cost is not _FREE else node.cost
                if at_home:
                    cost = (0, *cost[1:])
                key = self._told_apart(step.after, coming)
                known = following.get(key)
                if known is None or cost < known.cost:
                    following[key] = _new(_Node, (cost, step.after, step, node))
        return following

    def _told_apart(self, state: State, coming: int | None) -> _Key:
        """Return what of a state the rest can tell: a preset matters where it is named next or holds variants."""
        preset = state.preset
        if preset is None or preset == coming or self._exact or preset in self._with_variants:
            return state
        return -1, None, state.value, state.known

    def _steps_from(self, state: State, demand: Demand, coming: int | None) -> Iterator[Step]:
        """Yield every step that is worth a thought: stay, reach a variant, recall, recall and reach a variant."""
        target = demand.target
        if target.preset is not None and not target.left_unit:
            choices = self._choices_named(state, target)
        else:
            stay = self._step(state, demand, (), None)
            if stay is not None:
                yield stay
            stored = self.lanes.stored_mask
            if target.left_unit or stored & ~target.known or stored & target.left:
                return
            choices = self._choices_open(state, demand, coming, stay)
        for recalls, variant in choices:
            step = self._step(state, demand, recalls, variant)
            if step is not None:
                yield step

    def _choices_named(self, state: State, target: Target) -> Iterator[tuple[Recalls, str | None]]:
        slot = target.preset
        assert slot is not None, "the target names a preset"
        if state.preset == slot and state.variant == target.variant:
            yield (), None
        if state.preset == slot and target.variant is not None:
            yield (), target.variant
        yield self._recalls(state, slot), target.variant

    def _choices_open(
        self, state: State, demand: Demand, coming: int | None, stay: Step | None
    ) -> Iterator[tuple[Recalls, str | None]]:
        if self._with_variants:
            yield from (((), name) for name in self._variants(state.preset))
        for slot in self._slots_worth(demand, coming, stay):
            recalls = self._recalls(state, slot)
            yield recalls, None
            if self._with_variants:
                yield from ((recalls, name) for name in self._variants(slot))

    def _variants(self, slot: int | None) -> list[str]:
        preset = self.lanes.presets.get(slot) if slot is not None else None
        return list(preset.variants) if preset else []

    def _recalls(self, state: State, slot: int) -> Recalls:
        if self.chart.ignores_repeat and state.preset in (slot, None):  # unknown: it may stand there already
            return self.chart.other_slot(slot), slot
        return (slot,)

    def _slots_worth(self, demand: Demand, coming: int | None, stay: Step | None) -> list[int]:
        """Return the slots worth an open recall: those that something later depends on, and the cheapest other.

        All other slots end in the same state at a higher price. Where staying costs no more than the barest recall, no
        other can be cheaper either.
        """
        if self._exact:
            return sorted({*self._described, *([coming] if coming is not None else [])})
        worth = {*self._with_variants, *([coming] if coming is not None else [])}
        if stay is None or stay.cost > self._barest(demand):
            fixes = [(self._fix_price(slot, demand), slot) for slot in self._described if slot not in worth]
            worth.update([min(fixes)[1]] if fixes else [])
        return sorted(worth)

    def _barest(self, demand: Demand) -> Cost:
        hole = self.chart.hole_us if demand.heard_before and demand.heard_after else 0
        return (0, hole, 0, self.chart.recall_us(0), 1, _RECALL, 0)

    def _fix_price(self, slot: int, demand: Demand) -> tuple[int, int, int]:
        effect, target = self.lanes.effect(slot), demand.target
        stored = self.lanes.stored_mask
        fixes = self.lanes.difference(effect.value, effect.known, target.value, stored)
        if fixes & ~effect.known & ~self.lanes.explicit_mask or fixes & self.chart.blocked_mask:
            return (1 << 62, 0, 0)
        return self._price(fixes, demand, main_was_on=self._is_on(effect.value))

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
            cost: Cost = (0, 0, 0, 3 * BYTE_US * self._count(fixes), 0, 0, 0) if fixes else _FREE
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
                return self._refuse(NoWayError, f"nothing reaches variant {variant!r} on this rig", "")
        if preset is not None and (dark := fixes & ~known & ~self.lanes.explicit_mask):
            return self._refuse(
                UnsaidError,
                f"after recalling {chart.slot_name(preset)!r} nobody knows how {self._names(dark)} stands",
                "Write it into that preset's stores, or give the preset rest: off",
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
            self._reason = kind(found, where=self.chart.name, remedy=remedy)
        return False

    def _refusal(self, number: int) -> SceneError:
        reason = self._reason or NoWayError("nothing reaches what the scene asks", where=self.chart.name)
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
        on_cue, by_hand, wire = self._price(fixes, demand, main_was_on=self._is_on(value)) if fixes else (0, 0, 0)
        hole = 0
        if recalls:
            more = self._recall_price(state, demand, recalls)
            on_cue, by_hand, wire = on_cue + more[0], by_hand + more[1], wire + more[2]
            if demand.heard_before and demand.heard_after:
                hole = self.chart.hole_us * len(recalls)
        if variant is not None and preset is not None:
            more = self._variant_price(state, demand, recalls, variant)
            on_cue, by_hand, wire = on_cue + more[0], by_hand + more[1], wire + more[2]
        rank = _RECALL * len(recalls) + _VARIANT * (variant is not None)
        by_message = self.chart.recall_way is Way.MESSAGE
        return (on_cue, hole, by_hand, wire, len(recalls) if by_message else 0, rank, sum(recalls))

    def _price(self, fixes: int, demand: Demand, *, main_was_on: bool) -> tuple[int, int, int]:
        """Return (by-hand us on the cue, by-hand us, wire us) of setting the lanes in `fixes`."""
        chart, wanted = self.chart, demand.target.value
        if not fixes & ~chart.plain_mask:
            return 0, 0, 3 * BYTE_US * self._count(fixes)
        on_cue = by_hand = wire = 0
        for index in lane_indexes(fixes):
            if chart.by_hand_mask >> (index << 3) & 1:
                taken = chart.hand_us[index]
                by_hand += taken
                if demand.heard_before or (index == self.lanes.main and demand.heard_after and not main_was_on):
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
        """Tell whether a recall by foot, and a press for a variant, must fall on the cue.

        Each does where the unit sounds before the cue, or where that very press makes it sound (rule C9).
        """
        if demand.heard_before or not demand.heard_after:
            return demand.heard_before, demand.heard_before
        recalled = self._is_on(self._middle(state, recalls, None).value)
        varied = self._is_on(self._middle(state, recalls, variant).value)
        return recalled and not self._is_on(state.value), varied and not recalled

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


def _sum(one: Cost, other: Cost) -> Cost:
    a, b, c, d, e, f, g = one
    h, i, j, k, m, n, o = other
    return a + h, b + i, c + j, d + k, e + m, f + n, g + o


def _named_next(demands: Sequence[Demand]) -> list[int | None]:
    """Return for each cue the preset that is named next after it."""
    coming: list[int | None] = [None] * len(demands)
    following: int | None = None
    for number in range(len(demands) - 1, -1, -1):
        coming[number] = following
        if demands[number].target.preset is not None:
            following = demands[number].target.preset
    return coming


def _walked_back(node: _Node) -> list[Step]:
    steps: list[Step] = []
    while node.step is not None and node.parent is not None:
        steps.append(node.step)
        node = node.parent
    return steps[::-1]
