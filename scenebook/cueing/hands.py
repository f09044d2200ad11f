"""When hands and feet do what they must (rules C9, C10): each move at the latest moment with time, else at the cue."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from scenebook.cueing.cues import Action, ByHand, Moment
from scenebook.cueing.moves import HandMove
from scenebook.cueing.points import Point
from scenebook.model.amounts import fixed

__all__ = ["Wanted", "lateness", "placed"]


class Wanted(NamedTuple):
    """A move by hand that cue number `cue` needs of the unit `number` (-1: of the player)."""

    cue: int
    number: int
    unit: str
    move: HandMove


class _Desk:
    """The time that is left before each cue, and the moves listed there."""

    def __init__(self, points: Sequence[Point]) -> None:
        # Cue 0 is home, before all points: nothing there is ever late.
        self.time: list[float | None] = [math.inf, *(point.time_us for point in points)]
        self.moments = [Moment.BEFORE, *(point.moment for point in points)]
        self.reasons = ["", *(point.unknown for point in points)]
        self.listed: list[list[tuple[int, ByHand]]] = [[] for _ in self.time]
        self.taken = [0] * len(self.time)
        self.presses = [0] * len(self.time)

    def list_at(self, cue: int, wanted: Wanted, moment: Moment) -> None:
        move = wanted.move
        by_hand = ByHand(
            move.action, wanted.unit, move.member, move.before, move.after, moment, wanted.cue, move.us, move.presses
        )
        self.listed[cue].append((_rank(wanted), by_hand))
        self.taken[cue] += move.us
        if not self.presses[cue] and _is_on_the_beat(by_hand):
            self.presses[cue] = move.us

    def has_time(self, cue: int, move: HandMove, more_us: int = 0) -> bool:
        time = self.time[cue]
        if time is None:  # a gap of unknown length: hands are free, for how long nobody knows
            return self.moments[cue] is Moment.GAP
        return self.taken[cue] - self.presses[cue] + more_us + move.us <= time

    def late(self, cue: int) -> str:
        return _late(self.time[cue], self.taken[cue] - self.presses[cue], self.reasons[cue])


def placed(
    points: Sequence[Point], wanted: Sequence[Wanted], sounds: Sequence[int]
) -> tuple[list[tuple[ByHand, ...]], list[str]]:
    """Return for each cue its moves by hand in order, and whether it is late.

    `sounds` has a bit for each unit that is heard after each cue, cue 0 (home) first.
    """
    desk = _Desk(points)
    late = [each for each in wanted if not _at_once(each)]
    for each in wanted:
        if _at_once(each):
            desk.list_at(each.cue, each, _moment_of(each, desk.moments[each.cue]))
    for group in _groups(late):
        _place_in_window(desk, group, sounds)
    ordered = [tuple(move for _, move in sorted(listed, key=_order)) for listed in desk.listed]
    return ordered, [desk.late(cue) for cue in range(len(desk.time))]


def lateness(time_us: float | None, unknown: str, moves: Sequence[ByHand]) -> str:
    """Return whether moves that are listed at one cue are late, in the words of a cue; "" in time (rule C10).

    Args:
        time_us: what hands have before the cue: infinite, a length, or None where nobody knows.
        unknown: why nobody knows.
        moves: all that is listed there.
    """
    on_the_beat = next((move.us for move in moves if _is_on_the_beat(move)), 0)
    return _late(time_us, sum(move.us for move in moves) - on_the_beat, unknown)


def _is_on_the_beat(move: ByHand) -> bool:
    """Tell whether it is a press at the cue: one always fits on the beat."""
    is_press = move.action in (Action.PRESS, Action.FIRE) or (move.action is Action.RECALL and move.presses == 1)
    return is_press and move.moment is Moment.CUE


def _late(time_us: float | None, needed_us: int, unknown: str) -> str:
    if needed_us <= 0 or (time_us is not None and needed_us <= time_us):
        return ""
    late = None if time_us is None else f"late by {fixed((needed_us - time_us) / 1e6, 1)} s"
    return late or f"time not known: {unknown}"


def _at_once(wanted: Wanted) -> bool:
    return wanted.move.on_cue or wanted.cue == 0 or wanted.move.action is Action.CHECK


def _moment_of(wanted: Wanted, moment: Moment) -> Moment:
    """Return where a move that is tied to its cue is listed: in a gap nothing is heard, so it may be made there."""
    if moment is Moment.FREE or (wanted.cue > 0 and wanted.move.action in (Action.HOLD, Action.FIRE, Action.CHECK)):
        return Moment.CUE
    return moment


def _groups(wanted: Sequence[Wanted]) -> list[list[Wanted]]:
    """Return moves one by one, but those that follow another of their unit together with it."""
    groups: list[list[Wanted]] = []
    for each in wanted:
        if each.move.follows and groups and groups[-1][0][:2] == each[:2]:
            groups[-1].append(each)
        else:
            groups.append([each])
    return groups


def _place_in_window(desk: _Desk, group: Sequence[Wanted], sounds: Sequence[int]) -> None:
    """List moves at the latest moments with time that keep their order; where there are none, at their cue."""
    places = _latest(desk, group, sounds)
    if not places and len(group) > 1:  # the first may be made before, what follows it is left for the cue
        places = _latest(desk, group[:1], sounds)
    for index, each in enumerate(group):
        if index < len(places):
            desk.list_at(places[index], each, desk.moments[places[index]])
        else:
            desk.list_at(each.cue, each, Moment.CUE)


def _latest(desk: _Desk, group: Sequence[Wanted], sounds: Sequence[int]) -> list[int]:
    """Return a cue for each move of a group, the last as late as can be and none after its follower; or nothing."""
    places: list[int] = []
    planned: dict[int, int] = {}
    last = group[0].cue
    for each in reversed(group):
        for cue in _window(desk, each, sounds):
            if cue <= last and desk.has_time(cue, each.move, planned.get(cue, 0)):
                places.append(cue)
                planned[cue] = planned.get(cue, 0) + each.move.us
                last = cue
                break
        else:
            return []
    return places[::-1]


def _window(desk: _Desk, wanted: Wanted, sounds: Sequence[int]) -> Iterator[int]:
    """Yield the cues before which a move may be made, the latest first: back to where its unit last sounded."""
    for cue in range(wanted.cue, 0, -1):
        sounded = wanted.number >= 0 and sounds[cue - 1] >> wanted.number & 1
        if sounded and desk.moments[cue] is Moment.FREE:
            return
        yield cue
        if sounded:  # in the gap after its last sound nothing is heard, but before that gap it is
            return


def _order(listed: tuple[int, ByHand]) -> tuple[bool, int]:
    rank, move = listed
    return move.moment is Moment.CUE, rank


def _rank(wanted: Wanted) -> int:
    """Order at the cue: offs, ons, recalls, turns, along the chain; another instrument first, checks last."""
    move = wanted.move
    kind = {
        Action.CHANGE: 0,
        Action.PRESS: 1 if move.turns_off else 2,
        Action.FIRE: 2,
        Action.HOLD: 3,
        Action.RECALL: 4,
        Action.CHECK: 6,
    }.get(move.action, 5)
    if move.follows and kind < 4:  # what a recall would undo comes right after it
        return 4500 + wanted.number
    return kind * 1000 + wanted.number
