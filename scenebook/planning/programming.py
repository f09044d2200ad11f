"""What to store in each programmable unit of a rig, so that its slots follow the set.

Where feet recall, a song starts a bank, and no bank change falls inside a song: the same sound stands in several slots,
since a copy is cheaper than a walk. Where slots run out, songs share banks, then slots. Where messages recall, nobody
walks, and each sound is stored once, as first played. Where a recall would be heard as a hole, the sound becomes a
variant of the slot before it, as far as the unit has variants. Presets that the library describes stay in their slots:
scenes name them.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from scenebook.model import Library, Preset, Unit
from scenebook.planning.copying import begun_as_copies
from scenebook.planning.grouping import best_groups, hosts_of
from scenebook.planning.slot_plans import Hole, Programming, SlotPlan, UnitProgramming, Use, VariantPlan, way_words
from scenebook.planning.slots import Thrift, banks_of, placed
from scenebook.planning.sounds import Run, Sound, sounds_of, storable

__all__ = ["Hole", "Programming", "SlotPlan", "UnitProgramming", "Use", "VariantPlan", "programming"]

_AT_ONCE = 9  # sounds of one song that are grouped together, exactly: a set of 9 has 21,147 partitions


def programming(
    library: Library, rig: str, gigs: Sequence[str] | None = None, *, copies: bool | None = None
) -> Programming:
    """Return what to store for the named gigs, or all; of a library without gigs, for each song's scenes in order.

    With `copies` each song has slots of its own, as far as there are slots; without, each sound is stored once. Unless
    it is said, units that feet or hands recall get copies, and those that messages recall do not.

    Raises:
        ScenebookError: a gig that was named has a replacement that cannot be made on this rig.
    """
    sounds = sounds_of(library, rig, gigs)
    units = []
    for name, songs in sounds.by_unit.items():
        by_message = name in sounds.by_message
        spread = not by_message if copies is None else copies
        units.append(_Programmer(name, sounds.units[name], by_message=by_message, copies=spread).plan(songs))
    without = tuple(name for name in library.rigs[rig].carried if name not in sounds.units)
    return Programming(rig, sounds.gigs, tuple(units), without, sounds.refused, sounds.left_out)


@dataclass
class _Group:
    """Sounds of one song that share a slot: one is the preset itself (or a variant of it), the others variants."""

    sounds: list[Sound] = field(default_factory=list)

    def key(self) -> "_Key":
        return frozenset(self.sounds), self.sounds[0]


_Key = tuple[frozenset[Sound], Sound]


class _Song(NamedTuple):
    name: str
    groups: tuple[_Group, ...]
    uses: Mapping[Sound, tuple[Use, ...]]
    holes: tuple[Hole, ...]

    def group_keys(self) -> list[_Key]:
        return [group.key() for group in self.groups]


class _Placed(NamedTuple):
    """Where groups stand: the slot of each group of each song, and what is stored with its slots."""

    thrift: Thrift
    slots: Sequence[Sequence[int | None]]
    stored: tuple[Sequence[_Song], Sequence[Sequence[int | None]]]


class _Programmer:
    """Plans the slots of one unit."""

    def __init__(self, name: str, unit: Unit, *, by_message: bool, copies: bool) -> None:
        assert unit.programs is not None, "only units with programs are asked"
        self._by_message, self._copies = by_message, copies
        self._name, self._unit, self._programs = name, unit, unit.programs
        self._presets = {unit.preset_at(preset.slot)[0]: preset for preset in unit.presets}
        self._ways = tuple(dict.fromkeys(way_words(v) for p in unit.presets for v in p.variants.values()))
        self._stored = storable(unit)

    def plan(self, songs: Mapping[str, Sequence[Run]]) -> UnitProgramming:
        """Return the unit's slots for songs in set order."""
        alone = {name: hosts_of(_sounds_in(runs)) for name, runs in songs.items()}
        asked = _alike([each for name, runs in songs.items() if (each := self._song(name, runs, alone[name])).groups])
        spread = self._spread(asked) if self._copies else None
        if spread is None and not self._copies:  # nobody walks, so that one song's sound may serve another's scene
            all_of_them = hosts_of([sound for runs in songs.values() for sound in _sounds_in(runs)])
            asked = _alike(
                [each for name, runs in songs.items() if (each := self._song(name, runs, all_of_them)).groups]
            )
        thrift, slots, stored = spread or self._once(asked)
        kept = tuple(self._kept(songs))
        told = {self._programs.label(slot) for slot, preset in self._presets.items() if _is_plain(preset)}
        return UnitProgramming(
            self._name,
            self._programs.bank_of,
            self._programs.count,
            thrift,
            kept,
            tuple(begun_as_copies(list(self._slots(*stored)), kept, told)),
            tuple(hole for song in asked for hole in song.holes),
            tuple(song.name for song, own in zip(asked, slots, strict=True) if self._changes_bank(own)),
            tuple(dict.fromkeys(_lost(asked, slots))),
            self._by_message,
            self._once_count(songs) if spread else len(stored[1]),
            _unset(songs),
        )

    def _once_count(self, songs: Mapping[str, Sequence[Run]]) -> int:
        other = _Programmer(self._name, self._unit, by_message=self._by_message, copies=False)
        return len(other.plan(songs).slots)

    # ---- one song

    def _song(self, name: str, runs: Sequence[Run], hosts: Mapping[Sound, Sound]) -> _Song:
        several = _several(hosts, runs)
        uses: dict[Sound, dict[Use, None]] = {}
        steps: Counter[tuple[Sound, Sound]] = Counter()
        between: Counter[tuple[str, str, Sound, Sound]] = Counter()
        for run in runs:
            for part in run.parts:
                if part.sound is not None:
                    use = Use(name, part.scene, run.gig if part.scene in several else "")
                    uses.setdefault(hosts[part.sound], {})[use] = None
            for one, two in pairwise(run.parts):
                if one.sound and two.sound and hosts[one.sound] != hosts[two.sound]:
                    steps[hosts[one.sound], hosts[two.sound]] += 1
                    between[one.scene, two.scene, hosts[one.sound], hosts[two.sound]] += 1
        hole = self._programs.hole_ms
        groups = self._grouped(list(uses), steps if hole else Counter())
        at = {sound: number for number, group in enumerate(groups) for sound in group.sounds}
        holes = [Hole(name, a, b, hole, n) for (a, b, s, t), n in between.items() if hole and at[s] != at[t]]
        return _Song(name, groups, {sound: tuple(each) for sound, each in uses.items()}, tuple(holes))

    def _grouped(self, sounds: list[Sound], steps: Counter[tuple[Sound, Sound]]) -> tuple[_Group, ...]:
        """Return the sounds in groups, one a slot, so that fewest recalls make holes; longest songs piece by piece."""
        groups: list[_Group] = []
        for start in range(0, len(sounds), _AT_ONCE):
            piece = sounds[start : start + _AT_ONCE]
            bank = self._programs.bank_of if self._copies else None
            best = best_groups(piece, steps, bank=bank, may_share=self._may_share)
            groups += [self._based(_Group(list(own))) for own in best]
        return tuple(groups)

    def _may_share(self, sounds: Sequence[Sound]) -> bool:
        """Whether sounds can share a slot: enough variants, and only one of them is more than what is said of it."""
        if len(sounds) == 1:
            return True
        whole = {sound.preset for sound in sounds if not self._is_told(sound)}
        bases = [sound for sound in sounds if sound.variant is None]
        return len(sounds) - bool(bases) <= len(self._ways) and len(whole) <= 1

    def _is_told(self, sound: Sound) -> bool:
        """Whether what the library says of a sound is all there is to it, so that a variant elsewhere can store it."""
        preset = self._presets.get(sound.preset) if sound.preset is not None else None
        more = preset is not None and bool(preset.pitches or preset.footswitches or preset.variants)
        return sound.variant is None and not more and self._stored <= sound.words.keys()

    def _based(self, group: _Group) -> _Group:
        """Put the sound first that is the preset itself: one that no variant could store, else the first played."""
        plain = [sound for sound in group.sounds if sound.variant is None]
        base = next((sound for sound in plain if not self._is_told(sound)), plain[0] if plain else None)
        if base is not None:
            group.sounds.remove(base)
            group.sounds.insert(0, base)
        return group

    # ---- all songs

    def _spread(self, songs: list[_Song]) -> _Placed | None:
        """Return slots of each song's own, by the freest way of spending them for which there is room; None without."""
        taken = frozenset(self._presets)
        own = list(range(len(songs)))
        for thrift, hosts in ((Thrift.BANKS, own), (Thrift.PACKED, own), (Thrift.SHARED, _song_hosts(songs))):
            hosting = sorted(set(hosts))
            found = placed([len(songs[number].groups) for number in hosting], self._programs, taken, thrift)
            if None not in found:
                at = dict(zip(hosting, found, strict=True))
                slots = [_slots_in(song, songs[host], at[host]) for song, host in zip(songs, hosts, strict=True)]
                return _Placed(thrift, slots, (songs, slots))
        return None

    def _once(self, songs: list[_Song]) -> _Placed:
        """Return each group in one slot: a described preset's where one holds it, else one that holds all of it."""
        hosts = _group_hosts([group for song in songs for group in song.groups])
        served: dict[_Key, int | None] = {}
        playing: dict[_Key, list[_Song]] = {}
        for song, group in ((each, group) for each in songs for group in each.groups):
            served[group.key()] = self._serving(group)
            if served[group.key()] is None:
                playing.setdefault(hosts[group.key()].key(), []).append(_only(song, group))
        rooms = placed([1] * len(playing), self._programs, frozenset(self._presets), Thrift.FEWEST)
        at = {key: room[0] if room else None for key, room in zip(playing, rooms, strict=True)}
        slots = [
            tuple(served[key] if served[key] is not None else at[hosts[key].key()] for key in song.group_keys())
            for song in songs
        ]
        merged = [_merged(hosts[key], own) for key, own in playing.items()]
        return _Placed(Thrift.FEWEST, slots, (merged, [(slot,) for slot in at.values()]))

    def _serving(self, group: _Group) -> int | None:
        """Return the slot of a described preset that holds a group as it is, the others as variants of it."""
        base, *others = group.sounds
        for slot, preset in self._presets.items() if base.variant is None else ():
            words = self._stored_words(preset)
            kept = [{**words, **variant.stores} for variant in preset.variants.values()]
            asked = base.preset in (None, slot) and all(other.preset is None for other in others)
            if asked and _says(words, base) and all(any(_says(each, other) for each in kept) for other in others):
                return slot
        return None

    def _stored_words(self, preset: Preset) -> dict[str, str]:
        rest = dict.fromkeys(self._stored & self._unit.switches.keys(), "off") if preset.rest else {}
        return {**rest, **preset.stores}

    def _changes_bank(self, slots: Sequence[int | None]) -> bool:
        """Whether feet have to change the bank inside a song; a message carries it along."""
        return self._copies and len(banks_of([slot for slot in slots if slot is not None], self._programs)) > 1

    # ---- what is said of them

    def _slots(self, songs: Sequence[_Song], slots: Sequence[Sequence[int | None]]) -> Iterator[SlotPlan]:
        """Yield what is to be stored, in the order of slots; what several songs share, once with all its uses."""
        plans: dict[int, SlotPlan] = {}
        for song, own in zip(songs, slots, strict=True):
            for group, slot in zip(song.groups, own, strict=True):
                if slot is None or slot in self._presets:
                    continue
                new = self._slot_plan(slot, group, song)
                old = plans.get(slot)
                plans[slot] = _both(old, new) if old else new
        yield from (plans[slot] for slot in sorted(plans))

    def _slot_plan(self, slot: int, group: _Group, song: _Song) -> SlotPlan:
        base, *others = group.sounds
        source = self._presets.get(base.preset) if base.preset is not None else None
        stores, uses = base.words, song.uses[base]
        if base.variant is not None:  # the preset itself stays as it is described, and all are its variants
            others, stores, uses = group.sounds, source.stores if source else {}, ()
        first = next(use for sound in group.sounds for use in song.uses[sound])
        named = (uses or (first,))[0]
        name = f"{named.song}: {named.scene}" + (f" ({named.gig})" if named.gig else "")
        variants = tuple(self._variants(others, source, stores, song))
        label = self._programs.label(slot)
        return SlotPlan(slot, label, name, _preset_words(source), self._in_order(stores), variants, uses)

    def _variants(
        self, sounds: Sequence[Sound], source: Preset | None, base: Mapping[str, str], song: _Song
    ) -> Iterator[VariantPlan]:
        own = source.variants if source else {}
        taken = {way_words(own[sound.variant]) for sound in sounds if sound.variant in own}
        free = [way for way in self._ways if way not in taken]
        for sound in sounds:
            uses = song.uses[sound]
            known = own.get(sound.variant) if sound.variant else None
            told = {**(known.stores if known else {}), **sound.words}
            changes = {m: text for m, text in told.items() if base.get(m) != text}
            way = way_words(known) if known else free.pop(0)
            name = sound.variant if known and sound.variant else uses[0].scene
            yield VariantPlan(name, way, self._in_order(changes), uses)

    def _kept(self, songs: Mapping[str, Sequence[Run]]) -> Iterator[SlotPlan]:
        """Yield the presets that stay in their slots, each with the scenes that name it."""
        naming: dict[tuple[int | None, str | None], dict[Use, None]] = {}
        for song, runs in songs.items():
            for part in (part for run in runs for part in run.parts if part.sound):
                assert part.sound is not None
                naming.setdefault((part.sound.preset, part.sound.variant), {})[Use(song, part.scene)] = None
        for slot, preset in sorted(self._presets.items()):
            variants = tuple(
                VariantPlan(name, way_words(each), each.stores, tuple(naming.get((slot, name), ())))
                for name, each in preset.variants.items()
            )
            uses, label = tuple(naming.get((slot, None), ())), self._programs.label(slot)
            stores, off = self._in_order(preset.stores), preset.rest == "off"
            yield SlotPlan(slot, label, preset.name, "", stores, variants, uses, kept=True, rest_off=off)

    def _in_order(self, stores: Mapping[str, str]) -> dict[str, str]:
        return {member: stores[member] for member in self._unit.members if member in stores}


def _sounds_in(runs: Sequence[Run]) -> list[Sound]:
    return [part.sound for run in runs for part in run.parts if part.sound is not None]


def _unset(songs: Mapping[str, Sequence[Run]]) -> dict[str, tuple[Use, ...]]:
    """Return what no slot stores and scenes set, with those scenes."""
    found: dict[str, dict[Use, None]] = {}
    for song, part in ((song, part) for song, runs in songs.items() for run in runs for part in run.parts):
        for member in part.unset:
            found.setdefault(member, {})[Use(song, part.scene)] = None
    return {member: tuple(uses) for member, uses in found.items()}


def _is_plain(preset: Preset) -> bool:
    """Whether a preset is nothing but what it stores, so that a copy of it brings nothing else along."""
    return bool(preset.stores) and not (preset.pitches or preset.footswitches or preset.variants)


def _says(words: Mapping[str, str], sound: Sound) -> bool:
    return all(words.get(member) == text for member, text in sound.words.items())


def _lost(songs: Sequence[_Song], slots: Sequence[Sequence[int | None]]) -> Iterator[Use]:
    for song, own in zip(songs, slots, strict=True):
        for group, slot in zip(song.groups, own, strict=True):
            if slot is None:
                yield from (use for sound in group.sounds for use in song.uses[sound])


def _group_hosts(groups: Sequence[_Group]) -> dict[_Key, _Group]:
    """Return for each group the first that has all its sounds, the largest ones tried first; in the order played."""
    kept: list[_Group] = []
    hosts: dict[_Key, _Group] = {}
    for group in sorted(groups, key=lambda each: -len(each.sounds)):
        host = next((each for each in kept if set(group.sounds) <= set(each.sounds)), None)
        if host is None:
            kept.append(host := group)
        hosts.setdefault(group.key(), host)
    return {group.key(): hosts[group.key()] for group in groups}


def _only(song: _Song, group: _Group) -> _Song:
    return song._replace(uses={sound: song.uses[sound] for sound in group.sounds})


def _merged(host: _Group, songs: Sequence[_Song]) -> _Song:
    """Return a group as a song of its own, with the uses that all songs have for it."""
    uses: dict[Sound, dict[Use, None]] = {sound: {} for sound in host.sounds}
    for song in songs:
        for sound, own in song.uses.items():
            uses[sound] |= dict.fromkeys(own)
    return _Song(songs[0].name, (host,), {sound: tuple(each) for sound, each in uses.items()}, ())


def _several(hosts: Mapping[Sound, Sound], runs: Sequence[Run]) -> set[str]:
    """Return the scenes that sound otherwise at one gig than at another."""
    sounds: dict[str, dict[str, set[Sound]]] = {}
    for run in runs:
        for part in run.parts:
            if part.sound is not None:
                sounds.setdefault(part.scene, {}).setdefault(run.gig, set()).add(hosts[part.sound])
    return {scene for scene, at in sounds.items() if any(own != next(iter(at.values())) for own in at.values())}


def _alike(songs: Sequence[_Song]) -> list[_Song]:
    """Return songs in which equal groups are one object, so that their variants stand in one order."""
    first: dict[_Key, _Group] = {}
    return [
        song._replace(groups=tuple(first.setdefault(group.key(), group) for group in song.groups)) for song in songs
    ]


def _song_hosts(songs: Sequence[_Song]) -> list[int]:
    """Return for each song the first one that has all its groups: itself, where no other does."""
    keys = [{group.key() for group in song.groups} for song in songs]
    hosts: list[int] = []
    for number, own in enumerate(keys):
        hosts.append(next((at for at in range(number) if hosts[at] == at and own <= keys[at]), number))
    return hosts


def _slots_in(song: _Song, host: _Song, slots: Sequence[int] | None) -> tuple[int, ...]:
    at = dict(zip((group.key() for group in host.groups), slots or (), strict=True))
    return tuple(at[group.key()] for group in song.groups)


def _both(old: SlotPlan, new: SlotPlan) -> SlotPlan:
    variants = tuple(
        a._replace(uses=tuple(dict.fromkeys((*a.uses, *b.uses))))
        for a, b in zip(old.variants, new.variants, strict=True)
    )
    return old._replace(uses=tuple(dict.fromkeys((*old.uses, *new.uses))), variants=variants)


def _preset_words(preset: Preset | None) -> str:
    return f"{preset.slot} {preset.name}".strip() if preset else ""
