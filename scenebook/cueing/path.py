"""The cheapest way of one unit through a gig (rules C1, C2): where to recall, where to reach a variant, where to stay.

Bytes are counted plain, so units do not touch each other and each has a path of its own. The search is exact: it keeps
the cheapest way to each state that the rest of the gig can tell apart, cue by cue.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from scenebook.cueing.charted import Charted
from scenebook.cueing.steps import FREE, RECALL, Cost, Demand, Recalls, State, Step, UnitSteps
from scenebook.states.stage import Way
from scenebook.states.targets import Target

__all__ = ["UnitPath"]

_new = tuple.__new__  # a named tuple's own constructor takes twice as long, and the search makes very many
_Key = tuple[int | None, str | None, int, int]  # a State, or as much of it as can be told


class _Node(NamedTuple):
    cost: Cost
    state: State
    step: Step | None
    parent: "_Node | None"


class UnitPath(UnitSteps):
    """Finds the cheapest path of one unit."""

    def __init__(self, chart: Charted) -> None:
        super().__init__(chart)
        self._described = sorted(self.lanes.presets)
        self._with_variants = [slot for slot, preset in self.lanes.presets.items() if preset.variants]
        by_hand_in_presets = bool(chart.by_hand_mask & self.lanes.stored_mask)  # they may stand where a recall put them
        self._exact = chart.ignores_repeat or chart.recall_way in (Way.FOOT, Way.HAND) or by_hand_in_presets

    def steps(self, demands: Sequence[Demand], start: State) -> list[Step]:
        """Return one step for each demand, of the least cost summed over all of them.

        No two neighbours may be the same: where nothing new is asked, no step is better than the one before it.

        Raises:
            SceneError: at some cue nothing reaches the target; the number of that demand is in its path.
        """
        if not self.lanes.presets and all(demand.target.preset is None for demand in demands):
            return list(self._only_path(demands, start))
        layer: dict[_Key, _Node] = {start: _Node(FREE, start, None, None)}
        coming = _named_next(demands)
        for number, demand in enumerate(demands):
            self._reason = None
            layer = self._next_layer(layer, demand, coming[number], at_home=number == 0)
            if not layer:
                raise self._refusal(number)
        return _walked_back(min(layer.values(), key=lambda node: node.cost))

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
                cost = _sum(node.cost, step.cost) if step.cost is not FREE else node.cost
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
        return (0, hole, 0, self.chart.recall_us(0), 1, RECALL, 0)

    def _fix_price(self, slot: int, demand: Demand) -> tuple[int, int, int]:
        effect, target = self.lanes.effect(slot), demand.target
        stored = self.lanes.stored_mask
        fixes = self.lanes.difference(effect.value, effect.known, target.value, stored)
        if fixes & ~effect.known & ~self.lanes.explicit_mask or fixes & self.chart.blocked_mask:
            return (1 << 62, 0, 0)
        return self._price(fixes, demand, main_was_on=self._is_on(effect.value))


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
