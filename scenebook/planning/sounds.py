"""What each programmable unit of a rig must sound like, song by song in set order, as far as its presets can store it.

Read from the very standings that are compiled (states/), so that what is stored is what the scenes ask for.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

from scenebook.cueing.points import Point, gig_points, song_points
from scenebook.errors import BadValueError, ScenebookError
from scenebook.model import MAIN, Control, Gig, Library, SetEntry, Unit
from scenebook.model.amounts import fixed
from scenebook.model.values import TIMES, note_ms, read_value, uses_tempo
from scenebook.planning.worth import chosen_gigs
from scenebook.states.lanes import Lanes, LaneValues, lane_indexes
from scenebook.states.stage import Way, stage_of
from scenebook.states.standing import Standings
from scenebook.states.targets import Target

__all__ = ["Part", "Run", "Sound", "Sounds", "said_value", "sounds_of", "storable"]


@dataclass(frozen=True)
class Sound:
    """What a unit must sound like in a scene, as far as a preset can hold it.

    `preset` is the slot (from 0) that the scene asks for, None where it leaves that open; `values` gives each member
    that a preset of the unit stores and the scene determines as a number, so that equal sounds are equal; `words` are
    the same as the unit stores them: times in ms, since a preset has no tempo.
    """

    preset: int | None
    variant: str | None
    values: frozenset[tuple[str, float]]
    words: Mapping[str, str] = field(compare=False, default_factory=dict)

    def holds(self, other: "Sound") -> bool:
        """Whether a slot with this sound serves another: it says no less, and nothing else."""
        same = (other.preset, other.variant) in ((self.preset, self.variant), (None, None))
        return same and other.values <= self.values


class Part(NamedTuple):
    """One entry of a song's form: the scene, and the sound, or None where the unit is not heard.

    `unset` names what the scene itself sets and no preset of the unit stores, the main switch apart. `open_to` are the
    members that a recall may set where the preset is open: those that the scene determines and does not leave; None
    where it is not open. `fixed`: no slot is to be stored for it (recallable.py).
    """

    scene: str
    sound: Sound | None
    unset: tuple[str, ...] = ()
    open_to: frozenset[str] | None = None
    fixed: bool = False


class Run(NamedTuple):
    """A song once through, as one gig plays it."""

    gig: str
    parts: tuple[Part, ...]


class Sounds(NamedTuple):
    """What a rig's units must sound like: by unit, then by song in set order, each way in which the song is played.

    `by_message` names the units whose presets messages recall, `stored` by unit the members that its presets store.
    `refused` names scenes that cannot be set on the rig, and `left_out` gigs that cannot be played on it, with why.
    """

    by_unit: Mapping[str, Mapping[str, Sequence[Run]]]
    units: Mapping[str, Unit]
    by_message: frozenset[str]
    gigs: tuple[str, ...]
    refused: tuple[tuple[str, str, str], ...]
    left_out: tuple[tuple[str, str], ...]
    stored: Mapping[str, frozenset[str]]


def storable(unit: Unit) -> frozenset[str]:
    """Return the members that a preset of the unit stores: those that any described one does.

    A unit of whose presets nothing is said stores all but its main switch.
    """
    return unit.stored or frozenset(unit.members) - {MAIN}


def said_value(unit: Unit, member: str, text: str) -> float | str:
    """Return a member's value as a number of its scale, as far as it is one: another writing is no other value."""
    thing = unit.members.get(member)
    if isinstance(thing, Control):
        try:
            return round(read_value(text, thing.scale, choices=thing.choices), 3)
        except BadValueError:  # a note value, which has no length without a tempo
            pass
    return text.strip().casefold()


def sounds_of(
    library: Library,
    rig: str,
    gigs: Sequence[str] | None = None,
    stored: Mapping[str, frozenset[str]] = MappingProxyType({}),
) -> Sounds:
    """Return what each unit with programs must sound like in the named gigs, or all: sets, then spares, then house.

    `stored` gives by unit the members that its presets store, where that is not what `storable` says.

    Raises:
        ScenebookError: a gig that was named has a replacement that cannot be made on this rig.
    """
    found: dict[str, dict[str, list[Run]]] = {}
    units: dict[str, Unit] = {}
    refused: dict[tuple[str, str], str] = {}
    left_out: list[tuple[str, str]] = []
    walks: list[_Walk] = []
    chosen = chosen_gigs(library, gigs)
    for name, gig in chosen.items():
        try:
            walks.append(_Walk(library, rig, name, gig, refused, stored))
        except ScenebookError as error:
            if gigs:
                raise
            left_out.append((name, str(error)))
    for walk in walks:
        units |= walk.units
    for of_what in (_Walk.sets, _Walk.spares):  # spare songs and house sounds of all gigs come last
        for walk in walks:
            for unit, song, run in of_what(walk):
                found.setdefault(unit, {}).setdefault(song, []).append(run)
    there = tuple(name for name in chosen if name not in dict(left_out))
    in_order = {name: found.get(name, {}) for name in units}
    by_message = frozenset[str]().union(*(walk.by_message for walk in walks))
    unsettable = tuple((*key, why) for key, why in refused.items())
    kept = {name: stored.get(name, storable(unit)) for name, unit in units.items()}
    return Sounds(in_order, units, by_message, there, unsettable, tuple(left_out), kept)


class _Walk:
    """One gig on the rig."""

    def __init__(
        self,
        library: Library,
        rig: str,
        name: str,
        gig: Gig,
        refused: dict[tuple[str, str], str],
        stored: Mapping[str, frozenset[str]],
    ) -> None:
        self._library, self._name, self._gig, self._refused = library, name, gig, refused
        stage = stage_of(library, rig, gig)
        self._standings = Standings(library, stage)
        self._asked = [c for c in stage.carried if c.unit.programs and c.recall not in (None, Way.PRESET)]
        self.units = {carried.name: carried.unit for carried in self._asked}
        self.by_message = {carried.name for carried in self._asked if carried.recall is Way.MESSAGE}
        self._stored = {name: stored.get(name, storable(unit)) for name, unit in self.units.items()}

    def sets(self) -> Iterator[tuple[str, str, Run]]:
        """Yield (unit, song, run) for every song of the sets."""
        points = gig_points(self._library, self._gig)
        for number in dict.fromkeys(point.entry for point in points):
            yield from self._song([point for point in points if point.entry == number])

    def spares(self) -> Iterator[tuple[str, str, Run]]:
        """Yield (unit, song, run) for spare songs and house sounds, each from home."""
        house = [SetEntry(song=self._gig.house)] if self._gig.house else []
        for entry in (*self._gig.spares, *house):
            yield from self._song(song_points(self._library, entry))

    def _song(self, points: Sequence[Point]) -> Iterator[tuple[str, str, Run]]:
        parts: dict[str, list[Part]] = {carried.name: [] for carried in self._asked}
        standing = self._standings.home
        for point in points:
            scene = point.part.scene
            try:
                standing = self._standings.of(point.song, point.song_name, scene, point.tempo, standing)
            except ScenebookError as error:
                self._refused.setdefault((point.song_name, scene), str(error))
                continue
            for carried in self._asked:
                heard = standing.sounds >> carried.index & 1
                lanes, target = self._standings.lanes[carried.index], standing.targets[carried.index]
                kept = self._stored[carried.name]
                part = _part(scene, lanes, target, kept, point.tempo) if heard else Part(scene, None)
                parts[carried.name].append(part)
        for name, played in parts.items():
            if played:
                yield name, points[0].song_name, Run(self._name, tuple(played))


def _part(scene: str, lanes: Lanes, target: Target, stored: frozenset[str], tempo: float | None) -> Part:
    unset = tuple(m for m in lanes.unit.members if m in target.words and m not in (*stored, MAIN))
    is_open = target.preset is None and not target.left_unit
    known = (lanes.members[index] for index in lane_indexes(target.known & ~target.left))
    return Part(scene, _sound(lanes, target, stored, tempo), unset, frozenset(known) if is_open else None)


def _sound(lanes: Lanes, target: Target, stored: frozenset[str], tempo: float | None) -> Sound:
    said = LaneValues(lanes, target.value, target.known, target.words)
    values: set[tuple[str, float]] = set()
    words: dict[str, str] = {}
    for index in lane_indexes(target.known):
        member = lanes.members[index]
        if member not in stored:
            continue
        lane = target.value >> (index << 3) & 0xFF
        text = _as_stored(lanes, index, lane, said[member], tempo if member in target.words else None)
        words[member] = text
        values.add((member, _number(lanes, index, lane, text)))
    return Sound(target.preset, target.variant, frozenset(values), words)


def _as_stored(lanes: Lanes, index: int, lane: int, text: str, tempo: float | None) -> str:
    """Return a value as a preset stores it: a note value as the ms that it comes to at the song's tempo."""
    thing = lanes.things[index]
    if not isinstance(thing, Control) or thing.scale not in TIMES or not uses_tempo(text):
        return text
    if tempo is not None:
        return f"{fixed(note_ms(text, tempo))} ms"
    if lanes.ways[index] is not Way.MESSAGE:
        return lanes.measured(index, lane)
    low, high = thing.range or (0.0, 1.0)  # left as it was: the step alone tells how long
    return f"{fixed(low + (high - low) * lane / 127)} ms"


def _number(lanes: Lanes, index: int, lane: int, text: str) -> float:
    thing = lanes.things[index]
    if not isinstance(thing, Control) or lanes.ways[index] is Way.MESSAGE:
        return float(lane)
    return round(read_value(text, thing.scale, tuning=lanes.tuning, choices=thing.choices), 3)
