"""Knobs that neighbouring scenes of a gig want in two places while their unit sounds, and what would end that.

Between songs hands are free and nothing is heard, so only scenes of one song, or of two joined by a segue, are
neighbours here.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
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

    `compromise` is a number of its scale: a position within the tolerance of all that is wanted where there is one
    (`off` is 0), else the middle, and `off` says how far that stands from the outermost. A choice has none.
    `second` is a unit of like role that ends it, if any: one that the rig carries and that is silent then, else one of
    the library that it does not carry (owned first, then the lightest).
    """

    gig: str
    unit: str
    control: str
    scale: Scale
    tolerance: float
    wanted: tuple[Wanted, ...]  # in the order in which they are first met
    times: int  # how often two neighbours differ
    compromise: float | None
    off: float
    second: str | None
    second_is_carried: bool


def knobs(library: Library, rig: str, gigs: Sequence[str] | None = None) -> tuple[Knob, ...]:
    """Return the knobs wanted in two places in one gig; gig by gig, what differs most often first.

    A knob is a control worked by hand. Cues at which a scene cannot be set on the rig are passed over, and so are gigs
    whose replacements cannot be made on it.
    """
    found: list[Knob] = []
    for name, gig in chosen_gigs(library, gigs).items():
        try:
            stage = stage_of(library, rig, gig)
        except ScenebookError:
            continue
        found += sorted(_in_gig(library, stage, name, gig), key=lambda knob: -knob.times)
    return tuple(found)


class _Clash(NamedTuple):
    """Two neighbouring cues at which a knob is wanted in two places."""

    points: tuple[Point, Point]
    standings: tuple[Standing, Standing]


def _in_gig(library: Library, stage: Stage, name: str, gig: Gig) -> Iterator[Knob]:
    standings = Standings(library, stage)
    clashes: dict[tuple[int, int], list[_Clash]] = {}
    for before, after in pairwise(_walked(standings, gig_points(library, gig))):
        if after[0].afresh:
            continue
        clash = _Clash((before[0], after[0]), (before[1], after[1]))
        for place in _differing(standings, *clash.standings):
            clashes.setdefault(place, []).append(clash)
    for (index, lane), found in clashes.items():
        yield _knob(library, standings, name, index, lane, found)


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


def _differing(standings: Standings, before: Standing, after: Standing) -> Iterator[tuple[int, int]]:
    """Yield (unit, lane) of each knob that two standings want in two places, of the units that sound in both."""
    if before.targets == after.targets:
        return
    for index in _bits(before.sounds & after.sounds):
        was, now, lanes = before.targets[index], after.targets[index], standings.lanes[index]
        if was is now:
            continue
        mask = lanes.hand_mask & was.known & now.known
        for lane in lane_indexes(lanes.difference(was.value, was.known, now.value, mask) & mask):
            values = (was.value >> (lane << 3) & 0xFF, now.value >> (lane << 3) & 0xFF)
            if lanes.ways[lane] is Way.HAND and SOMEWHERE not in values:
                yield index, lane


def _bits(number: int) -> Iterator[int]:
    while number:
        yield (number & -number).bit_length() - 1
        number &= number - 1


def _knob(library: Library, standings: Standings, gig: str, index: int, lane: int, clashes: Sequence[_Clash]) -> Knob:
    carried, lanes = standings.stage.carried[index], standings.lanes[index]
    control = lanes.things[lane]
    assert isinstance(control, Control), "only controls are knobs"
    wanted: dict[tuple[str, str, float], Wanted] = {}
    for clash in clashes:
        for point, standing in zip(clash.points, clash.standings, strict=True):
            target = standing.targets[index]
            stands = target.value >> (lane << 3) & 0xFF
            text, value = (
                target.words.get(lanes.members[lane]) or lanes.text(lane, stands),
                lanes.position(lane, stands),
            )
            key = point.song_name, point.part.scene, value
            wanted.setdefault(key, Wanted(*key[:2], text, value))
    compromise, off = _between([each.value for each in wanted.values()], control)
    second = _second(library, standings.stage, carried.name, clashes)
    return Knob(
        gig,
        carried.name,
        lanes.members[lane],
        control.scale,
        control.slack,
        tuple(wanted.values()),
        len(clashes),
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


def _second(library: Library, stage: Stage, name: str, clashes: Sequence[_Clash]) -> tuple[str | None, bool]:
    """Return a unit with the most roles of `name` that could be the second, and whether it is carried and silent."""
    roles = set(library.units[name].roles) - {Role.UTILITY}
    like = {other: len(roles.intersection(unit.roles)) for other, unit in library.units.items() if other != name}
    silent = [
        each.name
        for each in stage.carried
        if like.get(each.name)
        and not any(standing.sounds >> each.index & 1 for clash in clashes for standing in clash.standings)
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
