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
from scenebook.planning.worth import all_stand_ins, chosen_gigs
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
    has none. `second` is a unit that ends it, if any: a stand-in says that it has the knob, or it is of like role and
    has the same. One that the rig carries and that is silent then, else one of the library that it does not carry
    (owned first, then the likest, the lightest).
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
    second = _second(library, standings.stage, carried.name, lanes.members[lane], turns)
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


def _second(library: Library, stage: Stage, name: str, knob: str, turns: Sequence[_Turn]) -> tuple[str | None, bool]:
    """Return the unit that could be the second of a knob, and whether it is carried and silent at these turns."""
    fits = _fits(library, name, knob)
    silent = [
        each.name
        for each in stage.carried
        if each.name in fits and not any(seen.standing.sounds >> each.index & 1 for turn in turns for seen in turn.seen)
    ]
    if silent:
        return max(silent, key=lambda other: fits[other]), True
    return _nearest(library, {other: fit for other, fit in fits.items() if other not in stage.by_name}), False


_Fit = tuple[float, int]  # likeness by a stand-in, 0 where none says; roles in common


def _fits(library: Library, name: str, knob: str) -> dict[str, _Fit]:
    """Return the units that can stand in place of a unit's knob, as a stand-in says that carries the knob over.

    So can one of like role with the same control: of that name and scale.
    """
    unit = library.units[name]
    roles, control = set(unit.roles) - {Role.UTILITY}, unit.controls[knob]
    likeness: dict[str, float] = {}
    for each in all_stand_ins(library):
        if each.part == name and knob in each.controls:
            likeness[each.by] = max(each.likeness, likeness.get(each.by, 0.0))
    found: dict[str, _Fit] = {}
    for other, thing in library.units.items():
        common, same = len(roles.intersection(thing.roles)), thing.controls.get(knob)
        is_same = bool(common) and same is not None and same.scale is control.scale
        if other != name and (is_same or other in likeness):
            found[other] = likeness.get(other, 0.0), common
    return found


def _nearest(library: Library, fits: Mapping[str, _Fit]) -> str | None:
    """Return an owned unit before any other; then the likest, the one with most roles in common, the lightest."""

    def order(name: str) -> tuple[bool, float, int, bool, float]:
        unit, (likeness, common) = library.units[name], fits[name]
        return not unit.owned, -likeness, -common, unit.weight_g is None, unit.weight_g or 0

    return min(fits, key=order, default=None)
