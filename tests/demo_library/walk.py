"""Walk a library: every scene in every gig with its rig, every setting, and how a member is worked on a rig."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from scenebook.model import MAIN, Control, Gig, Library, Rig, Scene, SetEntry, Song, Switch, Unit

__all__ = ["Place", "Said", "needs", "placed", "rig_units", "said", "scenes", "steps", "way"]


class Place(NamedTuple):
    """A scene of a song."""

    song: str
    scene: str
    what: Scene

    def __str__(self) -> str:
        return f"{self.song}, {self.scene}"


class Said(NamedTuple):
    """What a scene says of one unit."""

    place: Place
    name: str
    unit: Unit
    setting: Mapping[str, str]

    def __str__(self) -> str:
        return f"{self.place}, {self.name}"


class Step(NamedTuple):
    """A scene as it is reached at a gig: after which scene, at the start of its song or not, and by a segue or not."""

    gig: Gig
    rig: Rig
    entry: SetEntry
    song: Song
    place: Place
    before: Place | None
    starts_song: bool
    by_segue: bool
    free: float  # bars before it
    bars: float | None  # of the part before it

    def __str__(self) -> str:
        return f"{self.gig.place}: {self.place}"


def scenes(library: Library) -> Iterator[Place]:
    for song_name, song in library.songs.items():
        for name, scene in song.scenes.items():
            yield Place(song_name, name, scene)


def said(library: Library) -> Iterator[Said]:
    for place in scenes(library):
        for name, setting in place.what.units.items():
            yield Said(place, name, library.units[name], setting)


def steps(library: Library) -> Iterator[Step]:
    """Yield every scene of every gig in the order in which it is played."""
    for gig in library.gigs.values():
        assert gig.rig is not None
        before: Place | None = None
        by_segue, free, bars = False, 0.0, None
        for entry in gig.entries:
            song = library.songs[entry.song]
            for index, part in enumerate(entry.form or song.played):
                place = Place(entry.song, part.scene, song.scenes[part.scene])
                yield Step(
                    gig,
                    library.rigs[gig.rig],
                    entry,
                    song,
                    place,
                    before,
                    not index,
                    by_segue and not index,
                    free,
                    bars,
                )
                before, free, bars = place, part.free, part.bars
            by_segue = entry.segue


def rig_units(library: Library) -> Iterator[tuple[str, Rig, str, Unit]]:
    for rig_name, rig in library.rigs.items():
        for name in rig.carried:
            yield rig_name, rig, name, library.units[name]


def placed(library: Library) -> Iterator[tuple[str, Rig, str, Unit]]:
    """Yield the units that hear messages on a rig."""
    return (each for each in rig_units(library) if each[1].placement(each[2]).channel is not None)


def way(rig: Rig, name: str, unit: Unit, member: str) -> str:
    """Return the first way of rule S1 that applies, in words of its own."""
    alone = any(inside == (name,) for loops in rig.loops.values() for inside in loops.values())
    if alone and member == MAIN:
        return "loop"
    thing = unit.members[member]
    has_midi = rig.placement(name).channel is not None
    if has_midi and thing.message is not None:
        return "message"
    return _switch_way(thing, has_midi=has_midi) if isinstance(thing, Switch) else _control_way(thing)


def _switch_way(thing: Switch, *, has_midi: bool) -> str:
    if has_midi and thing.toggle is not None:
        return "toggling message"
    if thing.foot:
        return "foot"
    return "contact" if thing.contact else "hand" if thing.hand else "preset only"


def _control_way(thing: Control) -> str:
    return "hand" if thing.by_hand else "pedal" if thing.pedal else "preset only"


def needs(library: Library, scene: Scene) -> Iterator[tuple[str, str]]:
    """Yield (unit, switch or "preset") for all that a scene names as on or recalls (rule S7)."""
    for name, setting in scene.units.items():
        for member, text in setting.items():
            if member == "preset" or (text == "on" and member in library.units[name].switches):
                yield name, member
