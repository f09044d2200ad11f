"""Knobs that scenes of a gig want in two places, when there is time to turn them, and what would end that.

Worst is a knob that is turned while its unit sounds. Between songs hands are free and nothing is heard, unless a segue
joins them; and while its unit is silent a knob may be turned too. A knob counts where its unit sounds.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from scenebook.cueing.points import Point, gig_points
from scenebook.errors import ScenebookError
from scenebook.model import Control, Gig, Library, Role
from scenebook.model.values import Scale
from scenebook.planning.worth import chosen_gigs
from scenebook.states.lanes import SOMEWHERE, lane_indexes
from scenebook.states.stage import Stage, Way, stage_of
from scenebook.states.standing import Standing, Standings

__all__ = ["Knob", "Wanted", "knobs"]


class Wanted(NamedTuple):
    """Where one scene wants a knob: as written, and as a number of its scale."""

    song: str
    scene: str
    text: str
    value: float


class Knob(NamedTuple):
    """A knob that is wanted in two places in one gig.

    `times` counts how often it is turned while its unit sounds, `silent` inside a song while the unit is silent,
    `in_gap` between songs. `compromise` is a number of its scale: a position within the tolerance of all that is wanted
    where there is one (`off` is 0), else the middle, and `off` says how far that stands from the outermost. A choice
    has none. `second` is a unit of like role that ends it, if any: one that the rig carries and that is silent then,
    else one of the library that it does not carry (owned first, then the lightest).
    """

    gig: str
    unit: str
    control: str
    scale: Scale
    tolerance: float
    wanted: tuple[Wanted, ...]  # every place in the gig, in the order in which they are first met
    times: int
    silent: int
    in_gap: int
    compromise: float | None
    off: float
    second: str | None
    second_is_carried: bool


def knobs(library: Library, rig: str, gigs: Sequence[str] | None = None) -> tuple[Knob, ...]:
    """Return the knobs wanted in two places in one gig; gig by gig, what is turned most often while it sounds first.

    A knob is a control worked by hand. Cues at which a scene cannot be set on the rig are passed over, and so are gigs
    whose replacements cannot be made on it.
    """
    found: list[Knob] = []
    for name, gig in chosen_gigs(library, gigs).items():
        try:
            stage = stage_of(library, rig, gig)
        except ScenebookError:
            continue
        found += sorted(_in_gig(library, stage, name, gig), key=lambda knob: (-knob.times, -knob.silent, -knob.in_gap))
    return tuple(found)


class _Seen(NamedTuple):
    """A cue at which a unit sounds and a knob of it is wanted somewhere: which cue, after so many gaps, and where."""

    number: int
    gaps: int
    point: Point
    standing: Standing


class _Turn(NamedTuple):
    """Two cues, one after the other for this knob, at which it is wanted in two places; and when there is time."""

    seen: tuple[_Seen, _Seen]
    when: str


_SOUNDING, _SILENT, _GAP = "sounding", "silent", "gap"


class _Knobs:
    """Follows a gig, and keeps where each knob is wanted while its unit sounds."""

    def __init__(self, standings: Standings) -> None:
        self.standings = standings
        self.wanted: dict[tuple[int, int], list[_Seen]] = {}
        self.turns: dict[tuple[int, int], list[_Turn]] = {}
        self._since: dict[int, int] = {}  # the cue from which on each unit has sounded
        self._last: dict[int, int] = {}  # the cue at which it sounded last

    def meet(self, seen: _Seen) -> None:
        """Take in the next cue."""
        for index in _bits(seen.standing.sounds):
            if self._last.get(index) != seen.number - 1:
                self._since[index] = seen.number
            self._last[index] = seen.number
            target, lanes = seen.standing.targets[index], self.standings.lanes[index]
            for lane in lane_indexes(lanes.hand_mask & target.known):
                if lanes.ways[lane] is Way.HAND and target.value >> (lane << 3) & 0xFF != SOMEWHERE:
                    self._meet_knob(index, lane, seen)

    def _meet_knob(self, index: int, lane: int, seen: _Seen) -> None:
        before = self.wanted.setdefault((index, lane), [])
        if before and self._differs(index, lane, before[-1], seen):
            turn = _Turn((before[-1], seen), self._when(index, before[-1], seen))
            self.turns.setdefault((index, lane), []).append(turn)
        before.append(seen)

    def _differs(self, index: int, lane: int, was: _Seen, now: _Seen) -> bool:
        old, new, lanes = was.standing.targets[index], now.standing.targets[index], self.standings.lanes[index]
        if old is new:
            return False
        mask = 0xFF << (lane << 3)
        return bool(lanes.difference(old.value, old.known, new.value, mask) & mask)

    def _when(self, index: int, was: _Seen, now: _Seen) -> str:
        """Return when there is time between two cues: in a gap, while the unit is silent, or only while it sounds."""
        if now.gaps > was.gaps:
            return _GAP
        return _SILENT if self._since[index] > was.number else _SOUNDING


def _in_gig(library: Library, stage: Stage, name: str, gig: Gig) -> Iterator[Knob]:
    found, gaps = _Knobs(Standings(library, stage)), 0
    for number, (point, standing) in enumerate(_walked(found.standings, gig_points(library, gig))):
        gaps += point.afresh
        found.meet(_Seen(number, gaps, point, standing))
    for (index, lane), turns in found.turns.items():
        yield _knob(library, found.standings, name, (index, lane), found.wanted[index, lane], turns)


def _walked(standings: Standings, points: Iterable[Point]) -> Iterator[tuple[Point, Standing]]:
    standing = standings.home
    for point in points:
        try:
            standing = standings.of(
                point.song, point.song_name, point.part.scene, point.tempo, standing, afresh=point.afresh
            )
        except ScenebookError:
            continue
        yield point, standing


def _bits(number: int) -> Iterator[int]:
    while number:
        yield (number & -number).bit_length() - 1
        number &= number - 1


def _knob(
    library: Library,
    standings: Standings,
    gig: str,
    place: tuple[int, int],
    seen: Sequence[_Seen],
    turns: Sequence[_Turn],
) -> Knob:
    index, lane = place
    carried, lanes = standings.stage.carried[index], standings.lanes[index]
    control = lanes.things[lane]
    assert isinstance(control, Control), "only controls are knobs"
    wanted: dict[tuple[str, str, float], Wanted] = {}
    for each in seen:
        target = each.standing.targets[index]
        stands = target.value >> (lane << 3) & 0xFF
        text = target.words.get(lanes.members[lane]) or lanes.text(lane, stands)
        key = each.point.song_name, each.point.part.scene, lanes.position(lane, stands)
        wanted.setdefault(key, Wanted(*key[:2], text, key[2]))
    compromise, off = _between([each.value for each in wanted.values()], control)
    count = Counter(turn.when for turn in turns)
    second = _second(library, standings.stage, carried.name, turns)
    return Knob(
        gig,
        carried.name,
        lanes.members[lane],
        control.scale,
        control.slack,
        tuple(wanted.values()),
        count[_SOUNDING],
        count[_SILENT],
        count[_GAP],
        compromise,
        off,
        *(second if off or compromise is None else (None, False)),
    )


def _between(values: Sequence[float], control: Control) -> tuple[float | None, float]:
    """Return the middle of what is wanted, and how far it is off: 0 where it is within all tolerances."""
    if control.scale is Scale.CHOICE:
        return None, 0.0
    low, high = min(values), max(values)
    off = (high - low) / 2
    return (low + high) / 2, 0.0 if off <= control.slack + 1e-9 else off


def _second(library: Library, stage: Stage, name: str, turns: Sequence[_Turn]) -> tuple[str | None, bool]:
    """Return a unit with the most roles of `name` that could be the second, and whether it is carried and silent."""
    roles = set(library.units[name].roles) - {Role.UTILITY}
    like = {other: len(roles.intersection(unit.roles)) for other, unit in library.units.items() if other != name}
    silent = [
        each.name
        for each in stage.carried
        if like.get(each.name)
        and not any(seen.standing.sounds >> each.index & 1 for turn in turns for seen in turn.seen)
    ]
    if silent:
        return max(silent, key=lambda other: like[other]), True
    return _nearest(
        library, {other: count for other, count in like.items() if count and other not in stage.by_name}
    ), False


def _nearest(library: Library, like: Mapping[str, int]) -> str | None:
    """Return the unit with the most roles in common; then owned ones first, then the lightest."""

    def order(name: str) -> tuple[int, bool, bool, float]:
        unit = library.units[name]
        return -like[name], not unit.owned, unit.weight_g is None, unit.weight_g or 0

    return min(like, key=order, default=None)
