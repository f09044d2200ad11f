"""What to store in each programmable unit of a rig, so that its slots follow the set.

A song starts a bank, and no bank change falls inside a song. Where a recall would be heard as a hole, the sound becomes
a variant of the slot before it, as far as the unit has variants. The same sound may stand in several slots; where slots
run out, songs share banks, then slots. Presets that the library describes stay in their slots: scenes name them.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from scenebook.model import Library, Preset, Unit
from scenebook.model.units import Variant
from scenebook.planning.grouping import best_groups, hosts_of
from scenebook.planning.slots import Thrift, banks_of, placed
from scenebook.planning.sounds import Run, Sound, sounds_of, storable

__all__ = ["Hole", "Programming", "SlotPlan", "UnitProgramming", "Use", "VariantPlan", "programming"]

_AT_ONCE = 9  # sounds of one song that are grouped together, exactly: a set of 9 has 21,147 partitions


class Use(NamedTuple):
    """A scene that uses a slot or a variant; `gig` where it has another sound at another of the chosen gigs."""

    song: str
    scene: str
    gig: str = ""


class VariantPlan(NamedTuple):
    """A variant to store inside a slot: how it is reached, and what it changes."""

    name: str
    way: str
    stores: Mapping[str, str]
    uses: tuple[Use, ...]


class SlotPlan(NamedTuple):
    """What one slot stores. `copy_of` names the preset that it begins as a copy of, "" for one made anew.

    `kept` marks a preset that stays as the library describes it; `rest_off`: every other stored switch is off.
    """

    slot: int
    label: str
    name: str
    copy_of: str
    stores: Mapping[str, str]
    variants: tuple[VariantPlan, ...]
    uses: tuple[Use, ...]
    kept: bool = False
    rest_off: bool = False


class Hole(NamedTuple):
    """A recall that is heard inside a song: between which scenes, for how many ms, how often in the chosen gigs."""

    song: str
    before: str
    after: str
    ms: float
    times: int


@dataclass(frozen=True)
class UnitProgramming:
    """One unit's slots: first those that stay, by slot, then those to store, in set order.

    `split` names songs inside which a bank changes, `no_room` the uses for which no slot is left.
    """

    unit: str
    bank_of: int | None
    count: int
    thrift: Thrift
    kept: tuple[SlotPlan, ...]
    slots: tuple[SlotPlan, ...]
    holes: tuple[Hole, ...]
    split: tuple[str, ...] = ()
    no_room: tuple[Use, ...] = ()


@dataclass(frozen=True)
class Programming:
    """What to store in every unit of a rig whose presets can be recalled there; the other units are in `without`."""

    rig: str
    gigs: tuple[str, ...]
    units: tuple[UnitProgramming, ...]
    without: tuple[str, ...]
    refused: tuple[tuple[str, str, str], ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()


def programming(library: Library, rig: str, gigs: Sequence[str] | None = None) -> Programming:
    """Return what to store for the named gigs, or all; of a library without gigs, for each song's scenes in order.

    Raises:
        ScenebookError: a gig that was named has a replacement that cannot be made on this rig.
    """
    sounds = sounds_of(library, rig, gigs)
    units = tuple(_Programmer(name, sounds.units[name]).plan(songs) for name, songs in sounds.by_unit.items())
    without = tuple(name for name in library.rigs[rig].carried if name not in sounds.units)
    return Programming(rig, sounds.gigs, units, without, sounds.refused, sounds.left_out)


@dataclass
class _Group:
    """Sounds of one song that share a slot: one is the preset itself (or a variant of it), the others variants."""

    sounds: list[Sound] = field(default_factory=list)

    def key(self) -> tuple[frozenset[Sound], Sound]:
        return frozenset(self.sounds), self.sounds[0]


class _Song(NamedTuple):
    name: str
    groups: tuple[_Group, ...]
    uses: Mapping[Sound, tuple[Use, ...]]
    holes: tuple[Hole, ...]


class _Programmer:
    """Plans the slots of one unit."""

    def __init__(self, name: str, unit: Unit) -> None:
        assert unit.programs is not None, "only units with programs are asked"
        self._name, self._unit, self._programs = name, unit, unit.programs
        self._presets = {unit.preset_at(preset.slot)[0]: preset for preset in unit.presets}
        self._ways = tuple(dict.fromkeys(_way_words(v) for p in unit.presets for v in p.variants.values()))
        self._stored = storable(unit)

    def plan(self, songs: Mapping[str, Sequence[Run]]) -> UnitProgramming:
        """Return the unit's slots for songs in set order."""
        asked = _alike([each for name, runs in songs.items() if (each := self._song(name, runs)).groups])
        thrift, slots = self._placed(asked)
        split = [song.name for song, own in zip(asked, slots, strict=True) if self._changes_bank(own)]
        lost = [
            use
            for song, own in zip(asked, slots, strict=True)
            for group, slot in zip(song.groups, own, strict=True)
            if slot is None
            for sound in group.sounds
            for use in song.uses[sound]
        ]
        return UnitProgramming(
            self._name,
            self._programs.bank_of,
            self._programs.count,
            thrift,
            tuple(self._kept(songs)),
            tuple(self._slots(asked, slots)),
            tuple(hole for song in asked for hole in song.holes),
            tuple(split),
            tuple(dict.fromkeys(lost)),
        )

    # ---- one song

    def _song(self, name: str, runs: Sequence[Run]) -> _Song:
        hosts = hosts_of([part.sound for run in runs for part in run.parts if part.sound is not None])
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
            best = best_groups(piece, steps, bank=self._programs.bank_of, may_share=self._may_share)
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

    def _placed(self, songs: Sequence[_Song]) -> tuple[Thrift, list[tuple[int | None, ...]]]:
        """Return the slot of each group of each song, by the freest way of spending slots for which there is room."""
        taken = frozenset(self._presets)
        own = list(range(len(songs)))
        for thrift, hosts in ((Thrift.BANKS, own), (Thrift.PACKED, own), (Thrift.SHARED, _song_hosts(songs))):
            hosting = sorted(set(hosts))
            found = placed([len(songs[number].groups) for number in hosting], self._programs, taken, thrift)
            if None not in found:
                slots = dict(zip(hosting, found, strict=True))
                return thrift, [_slots_in(song, songs[at], slots[at]) for song, at in zip(songs, hosts, strict=True)]
        served = {group.key(): self._serving(group) for song in songs for group in song.groups}
        wanted = [key for key, slot in served.items() if slot is None]
        rooms = placed([1] * len(wanted), self._programs, taken, Thrift.FEWEST)
        served |= {key: room[0] if room else None for key, room in zip(wanted, rooms, strict=True)}
        return Thrift.FEWEST, [tuple(served[group.key()] for group in song.groups) for song in songs]

    def _serving(self, group: _Group) -> int | None:
        """Return the slot of a described preset that holds a group as it is."""
        base, *others = group.sounds
        for slot, preset in self._presets.items() if base.variant is None and not others else ():
            asked = base.preset in (None, slot)
            if asked and all(self._stored_words(preset).get(member) == text for member, text in base.words.items()):
                return slot
        return None

    def _stored_words(self, preset: Preset) -> dict[str, str]:
        rest = dict.fromkeys(self._stored & self._unit.switches.keys(), "off") if preset.rest else {}
        return {**rest, **preset.stores}

    def _changes_bank(self, slots: Sequence[int | None]) -> bool:
        return len(banks_of([slot for slot in slots if slot is not None], self._programs)) > 1

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
        name = f"{song.name}: {named.scene}" + (f" ({named.gig})" if named.gig else "")
        variants = tuple(self._variants(others, source, stores, song))
        label = self._programs.label(slot)
        return SlotPlan(slot, label, name, _preset_words(source), self._in_order(stores), variants, uses)

    def _variants(
        self, sounds: Sequence[Sound], source: Preset | None, base: Mapping[str, str], song: _Song
    ) -> Iterator[VariantPlan]:
        own = source.variants if source else {}
        taken = {_way_words(own[sound.variant]) for sound in sounds if sound.variant in own}
        free = [way for way in self._ways if way not in taken]
        for sound in sounds:
            uses = song.uses[sound]
            known = own.get(sound.variant) if sound.variant else None
            told = {**(known.stores if known else {}), **sound.words}
            changes = {m: text for m, text in told.items() if base.get(m) != text}
            way = _way_words(known) if known else free.pop(0)
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
                VariantPlan(name, _way_words(each), each.stores, tuple(naming.get((slot, name), ())))
                for name, each in preset.variants.items()
            )
            uses, label = tuple(naming.get((slot, None), ())), self._programs.label(slot)
            stores, off = self._in_order(preset.stores), preset.rest == "off"
            yield SlotPlan(slot, label, preset.name, "", stores, variants, uses, kept=True, rest_off=off)

    def _in_order(self, stores: Mapping[str, str]) -> dict[str, str]:
        return {member: stores[member] for member in self._unit.members if member in stores}


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
    first: dict[tuple[frozenset[Sound], Sound], _Group] = {}
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


def _way_words(variant: Variant) -> str:
    if variant.controller is not None:
        return f"controller {variant.controller}, value {variant.value}"
    return f"bytes {variant.bytes}" if variant.bytes else "foot" if variant.foot else "unsaid"
