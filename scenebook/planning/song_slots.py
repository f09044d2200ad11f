"""A song's sounds as the slots that they ask for: groups of sounds that share one, and which group serves another's."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scenebook.planning.slot_plans import Hole, Use
from scenebook.planning.sounds import Run, Sound

__all__ = [
    "Group",
    "Key",
    "SongSlots",
    "alike",
    "as_song",
    "group_hosts",
    "only",
    "several_sounds",
    "slots_in",
    "song_hosts",
]


@dataclass
class Group:
    """Sounds of one song that share a slot: one is the preset itself (or a variant of it), the others variants."""

    sounds: list[Sound] = field(default_factory=list)

    def key(self) -> "Key":
        """Return what makes groups equal: their sounds, and which of them is the preset itself."""
        return frozenset(self.sounds), self.sounds[0]


Key = tuple[frozenset[Sound], Sound]


class SongSlots(NamedTuple):
    """A song with the groups that ask for a slot each, the scenes of each sound, and the recalls that are heard."""

    name: str
    groups: tuple[Group, ...]
    uses: Mapping[Sound, tuple[Use, ...]]
    holes: tuple[Hole, ...]

    def group_keys(self) -> list[Key]:
        """Return the key of each group."""
        return [group.key() for group in self.groups]


def group_hosts(groups: Sequence[Group]) -> dict[Key, Group]:
    """Return for each group the first that has all its sounds, the largest ones tried first; in the order played."""
    kept: list[Group] = []
    hosts: dict[Key, Group] = {}
    for group in sorted(groups, key=lambda each: -len(each.sounds)):
        host = next((each for each in kept if set(group.sounds) <= set(each.sounds)), None)
        if host is None:
            kept.append(host := group)
        hosts.setdefault(group.key(), host)
    return {group.key(): hosts[group.key()] for group in groups}


def only(song: SongSlots, group: Group) -> SongSlots:
    """Return a song with the uses of one group alone."""
    return song._replace(uses={sound: song.uses[sound] for sound in group.sounds})


def as_song(host: Group, songs: Sequence[SongSlots]) -> SongSlots:
    """Return a group as a song of its own, with the uses that all songs have for it."""
    uses: dict[Sound, dict[Use, None]] = {sound: {} for sound in host.sounds}
    for song in songs:
        for sound, own in song.uses.items():
            uses[sound] |= dict.fromkeys(own)
    return SongSlots(songs[0].name, (host,), {sound: tuple(each) for sound, each in uses.items()}, ())


def several_sounds(hosts: Mapping[Sound, Sound], runs: Sequence[Run]) -> set[str]:
    """Return the scenes that sound otherwise at one gig than at another."""
    sounds: dict[str, dict[str, set[Sound]]] = {}
    for run in runs:
        for part in run.parts:
            if part.sound is not None and not part.fixed:
                sounds.setdefault(part.scene, {}).setdefault(run.gig, set()).add(hosts[part.sound])
    return {scene for scene, at in sounds.items() if any(own != next(iter(at.values())) for own in at.values())}


def alike(songs: Sequence[SongSlots]) -> list[SongSlots]:
    """Return songs in which equal groups are one object, so that their variants stand in one order."""
    first: dict[Key, Group] = {}
    return [
        song._replace(groups=tuple(first.setdefault(group.key(), group) for group in song.groups)) for song in songs
    ]


def song_hosts(songs: Sequence[SongSlots]) -> list[int]:
    """Return for each song the first one that has all its groups: itself, where no other does."""
    keys = [{group.key() for group in song.groups} for song in songs]
    hosts: list[int] = []
    for number, own in enumerate(keys):
        hosts.append(next((at for at in range(number) if hosts[at] == at and own <= keys[at]), number))
    return hosts


def slots_in(song: SongSlots, host: SongSlots, slots: Sequence[int] | None) -> tuple[int, ...]:
    """Return the slot of each group of a song whose slots another song has."""
    at = dict(zip((group.key() for group in host.groups), slots or (), strict=True))
    return tuple(at[group.key()] for group in song.groups)
