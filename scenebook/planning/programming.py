"""What to store in each programmable unit of a rig, so that its slots follow the set.

Where feet recall, a song starts a bank, and no bank change falls inside a song: the same sound stands in several slots,
since a copy is cheaper than a walk. Where slots run out, songs share banks, then slots. Where messages recall, nobody
walks, and each sound is stored once, as first played. Where a recall would be heard as a hole, the sound becomes a
variant of the slot before it, as far as the unit has variants. Presets that the library describes stay in their slots:
scenes name them.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from scenebook.model import Library, Preset, Unit
from scenebook.planning.copying import begun_as_copies, plain_slots
from scenebook.planning.grouping import best_groups, hosts_of
from scenebook.planning.recallable import named_slots, recallable
from scenebook.planning.slot_plans import Hole, Programming, SlotPlan, UnitProgramming, Use, VariantPlan, way_words
from scenebook.planning.slots import Thrift, banks_of, placed
from scenebook.planning.song_slots import (
    Group,
    Key,
    SongSlots,
    alike,
    as_song,
    group_hosts,
    only,
    several_sounds,
    slots_in,
    song_hosts,
)
from scenebook.planning.sounds import Part, Run, Sound, said_value, sounds_of

__all__ = ["Hole", "Programming", "SlotPlan", "UnitProgramming", "Use", "VariantPlan", "programming"]

_AT_ONCE = 9  # sounds of one song that are grouped together, exactly: a set of 9 has 21,147 partitions


def programming(
    library: Library,
    rig: str,
    gigs: Sequence[str] | None = None,
    *,
    copies: bool | None = None,
    as_presets: bool = False,
) -> Programming:
    """Return what to store for the named gigs, or all; of a library without gigs, for each song's scenes in order.

    With `copies` each song has slots of its own, as far as there are slots; without, each sound is stored once. Unless
    it is said, units that feet or hands recall get copies, and those that messages recall do not. With `as_presets`
    each sound is stored once that compiling could recall once it is described, and no other.

    Raises:
        ScenebookError: a gig that was named has a replacement that cannot be made on this rig.
    """
    sounds = recallable(library, rig, gigs) if as_presets else sounds_of(library, rig, gigs)
    copies = False if as_presets else copies
    units = []
    for name, songs in sounds.by_unit.items():
        by_message = name in sounds.by_message
        spread = not by_message if copies is None else copies
        unit = sounds.units[name]
        taken = named_slots(library, name, unit)
        units.append(
            _Programmer(name, unit, sounds.stored[name], taken, by_message=by_message, copies=spread).plan(songs)
        )
    without = tuple(name for name in library.rigs[rig].carried if name not in sounds.units)
    return Programming(rig, sounds.gigs, tuple(units), without, sounds.refused, sounds.left_out, as_presets)


class _Placed(NamedTuple):
    """Where groups stand: the slot of each group of each song, and what is stored with its slots."""

    thrift: Thrift
    slots: Sequence[Sequence[int | None]]
    stored: tuple[Sequence[SongSlots], Sequence[Sequence[int | None]]]


class _Programmer:
    """Plans the slots of one unit."""

    def __init__(
        self,
        name: str,
        unit: Unit,
        stored: frozenset[str],
        named: frozenset[int],
        *,
        by_message: bool,
        copies: bool,
    ) -> None:
        assert unit.programs is not None, "only units with programs are asked"
        self._by_message, self._copies = by_message, copies
        self._name, self._unit, self._programs = name, unit, unit.programs
        self._presets = {unit.preset_at(preset.slot)[0]: preset for preset in unit.presets}
        self._ways = tuple(dict.fromkeys(way_words(v) for p in unit.presets for v in p.variants.values()))
        self._stored, self._taken = stored, named | self._presets.keys()

    def plan(self, songs: Mapping[str, Sequence[Run]]) -> UnitProgramming:
        """Return the unit's slots for songs in set order."""
        alone = {name: hosts_of(_sounds_in(runs)) for name, runs in songs.items()}
        asked = alike([each for name, runs in songs.items() if (each := self._song(name, runs, alone[name])).groups])
        spread = self._spread(asked) if self._copies else None
        if spread is None and not self._copies:  # nobody walks, so that one song's sound may serve another's scene
            all_of_them = hosts_of([sound for runs in songs.values() for sound in _sounds_in(runs)])
            asked = alike(
                [each for name, runs in songs.items() if (each := self._song(name, runs, all_of_them)).groups]
            )
        thrift, slots, stored = spread or self._once(asked)
        kept = tuple(self._kept(songs, asked))
        return UnitProgramming(
            self._name,
            self._programs.bank_of,
            self._programs.count,
            thrift,
            kept,
            tuple(begun_as_copies(list(self._slots(*stored)), kept, plain_slots(self._unit))),
            tuple(hole for song in asked for hole in song.holes),
            tuple(song.name for song, own in zip(asked, slots, strict=True) if self._changes_bank(own)),
            tuple(dict.fromkeys(_lost(asked, slots))),
            self._by_message,
            self._once_count(songs) if spread else len(stored[1]),
            _unset(songs),
        )

    def _once_count(self, songs: Mapping[str, Sequence[Run]]) -> int:
        other = _Programmer(
            self._name, self._unit, self._stored, self._taken, by_message=self._by_message, copies=False
        )
        return len(other.plan(songs).slots)

    # ---- one song

    def _song(self, name: str, runs: Sequence[Run], hosts: Mapping[Sound, Sound]) -> SongSlots:
        several = several_sounds(hosts, runs)
        uses: dict[Sound, dict[Use, None]] = {}
        steps: Counter[tuple[Sound, Sound]] = Counter()
        between: Counter[tuple[str, str, Sound, Sound]] = Counter()
        for run in runs:
            for part in run.parts:
                if part.sound is not None and not part.fixed:
                    use = Use(name, part.scene, run.gig if part.scene in several else "")
                    uses.setdefault(hosts[part.sound], {})[use] = None
            for one, two in pairwise(run.parts):
                start, stop = _recalled(one, hosts), _recalled(two, hosts)
                if start and stop and start != stop:
                    steps[start, stop] += 1
                    between[one.scene, two.scene, start, stop] += 1
        hole = self._programs.hole_ms
        groups = self._grouped(list(uses), steps if hole else Counter())
        at = self._places(groups)
        apart = [(a, b, n) for (a, b, s, t), n in between.items() if at.get(s, s.preset) != at.get(t, t.preset)]
        holes = [Hole(name, a, b, hole, n) for a, b, n in apart if hole]
        return SongSlots(name, groups, {sound: tuple(each) for sound, each in uses.items()}, tuple(holes))

    def _places(self, groups: Sequence[Group]) -> dict[Sound, int]:
        """Return for each sound the slot that serves it, or for groups to be stored a number of their own, under 0."""
        at: dict[Sound, int] = {}
        for number, group in enumerate(groups, 1):
            served = None if self._copies else self._serving(group)
            at |= dict.fromkeys(group.sounds, -number if served is None else served)
        return at

    def _grouped(self, sounds: list[Sound], steps: Counter[tuple[Sound, Sound]]) -> tuple[Group, ...]:
        """Return the sounds in groups, one a slot, so that fewest recalls make holes; longest songs piece by piece."""
        groups: list[Group] = []
        for start in range(0, len(sounds), _AT_ONCE):
            piece = sounds[start : start + _AT_ONCE]
            bank = self._programs.bank_of if self._copies else None
            best = best_groups(piece, steps, bank=bank, may_share=self._may_share)
            groups += [self._based(Group(list(own))) for own in best]
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

    def _based(self, group: Group) -> Group:
        """Put the sound first that is the preset itself: one that no variant could store, else the first played."""
        plain = [sound for sound in group.sounds if sound.variant is None]
        base = next((sound for sound in plain if not self._is_told(sound)), plain[0] if plain else None)
        if base is not None:
            group.sounds.remove(base)
            group.sounds.insert(0, base)
        return group

    # ---- all songs

    def _spread(self, songs: list[SongSlots]) -> _Placed | None:
        """Return slots of each song's own, by the freest way of spending them for which there is room; None without."""
        own = list(range(len(songs)))
        for thrift, hosts in ((Thrift.BANKS, own), (Thrift.PACKED, own), (Thrift.SHARED, song_hosts(songs))):
            hosting = sorted(set(hosts))
            found = placed([len(songs[number].groups) for number in hosting], self._programs, self._taken, thrift)
            if None not in found:
                at = dict(zip(hosting, found, strict=True))
                slots = [slots_in(song, songs[host], at[host]) for song, host in zip(songs, hosts, strict=True)]
                return _Placed(thrift, slots, (songs, slots))
        return None

    def _once(self, songs: list[SongSlots]) -> _Placed:
        """Return each group in one slot: a described preset's where one holds it, else one that holds all of it."""
        hosts = group_hosts([group for song in songs for group in song.groups])
        served: dict[Key, int | None] = {}
        playing: dict[Key, list[SongSlots]] = {}
        for song, group in ((each, group) for each in songs for group in each.groups):
            served[group.key()] = self._serving(group)
            if served[group.key()] is None:
                playing.setdefault(hosts[group.key()].key(), []).append(only(song, group))
        rooms = placed([1] * len(playing), self._programs, self._taken, Thrift.FEWEST)
        at = {key: room[0] if room else None for key, room in zip(playing, rooms, strict=True)}
        slots = [
            tuple(served[key] if served[key] is not None else at[hosts[key].key()] for key in song.group_keys())
            for song in songs
        ]
        merged = [as_song(hosts[key], own) for key, own in playing.items()]
        return _Placed(Thrift.FEWEST, slots, (merged, [(slot,) for slot in at.values()]))

    def _serving(self, group: Group) -> int | None:
        """Return the slot of a described preset that holds a group as it is: itself, or in its variants."""
        base, *others = group.sounds
        if base.variant is not None or any(other.preset is not None for other in others):
            return None
        found = []
        for slot, preset in self._presets.items():
            words = self._stored_words(preset)
            layers = [words, *({**words, **variant.stores} for variant in preset.variants.values())]
            itself = self._says(words, base)
            has_base = itself or (base.preset is None and any(self._says(each, base) for each in layers))
            if (
                base.preset in (None, slot)
                and has_base
                and all(any(self._says(each, other) for each in layers) for other in others)
            ):
                found.append((not itself, slot))
        return min(found)[1] if found else None

    def _says(self, words: Mapping[str, str], sound: Sound) -> bool:
        """Whether a slot with these words has a sound; a value written otherwise is the same value."""
        of = self._unit
        return all(
            member in words and said_value(of, member, words[member]) == said_value(of, member, text)
            for member, text in sound.words.items()
        )

    def _stored_words(self, preset: Preset) -> dict[str, str]:
        rest = dict.fromkeys(self._stored & self._unit.switches.keys(), "off") if preset.rest else {}
        return {**rest, **preset.stores}

    def _changes_bank(self, slots: Sequence[int | None]) -> bool:
        """Whether feet have to change the bank inside a song; a message carries it along."""
        return self._copies and len(banks_of([slot for slot in slots if slot is not None], self._programs)) > 1

    # ---- what is said of them

    def _slots(self, songs: Sequence[SongSlots], slots: Sequence[Sequence[int | None]]) -> Iterator[SlotPlan]:
        """Yield what is to be stored, in the order of slots; what several songs share, once with all its uses."""
        plans: dict[int, SlotPlan] = {}
        for song, own in zip(songs, slots, strict=True):
            for group, slot in zip(song.groups, own, strict=True):
                if slot is None or slot in self._presets:  # described: it stays
                    continue
                new = self._slot_plan(slot, group, song)
                old = plans.get(slot)
                plans[slot] = _both(old, new) if old else new
        yield from (plans[slot] for slot in sorted(plans))

    def _slot_plan(self, slot: int, group: Group, song: SongSlots) -> SlotPlan:
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
        self, sounds: Sequence[Sound], source: Preset | None, base: Mapping[str, str], song: SongSlots
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

    def _kept(self, songs: Mapping[str, Sequence[Run]], asked: Sequence[SongSlots]) -> Iterator[SlotPlan]:
        """Yield the presets that stay in their slots, each with the scenes that name it or find their sound in it."""
        uses = _naming(songs)
        for slot, variant, use in self._served(asked):
            own = uses.setdefault((slot, variant), {})
            if use._replace(gig="") not in own:
                own[use] = None
        entries = [(song, part.scene) for song, runs in songs.items() for run in runs for part in run.parts]
        first = {entry: at for at, entry in reversed(list(enumerate(entries)))}
        played = {key: tuple(sorted(own, key=lambda use: first[use[:2]])) for key, own in uses.items()}
        for slot, preset in sorted(self._presets.items()):
            variants = tuple(
                VariantPlan(name, way_words(each), each.stores, played.get((slot, name), ()))
                for name, each in preset.variants.items()
            )
            label, stores = self._programs.label(slot), self._in_order(preset.stores)
            here, off = played.get((slot, None), ()), preset.rest == "off"
            yield SlotPlan(slot, label, preset.name, "", stores, variants, here, kept=True, rest_off=off)

    def _served(self, asked: Sequence[SongSlots]) -> Iterator[tuple[int, str | None, Use]]:
        """Yield (described slot, variant or None, scene) for each scene whose sound is there, copied or not."""
        for song in asked:
            for group in song.groups:
                slot = self._serving(group)
                if slot is not None:
                    variants = {sound: self._variant_with(self._presets[slot], sound) for sound in group.sounds}
                    yield from ((slot, variants[sound], use) for sound in group.sounds for use in song.uses[sound])

    def _variant_with(self, preset: Preset, sound: Sound) -> str | None:
        """Return the variant in which a preset that serves a sound has it; None for the preset itself."""
        words = self._stored_words(preset)
        if self._says(words, sound):
            return None
        layers = {name: {**words, **variant.stores} for name, variant in preset.variants.items()}
        return next((name for name, layer in layers.items() if self._says(layer, sound)), None)

    def _in_order(self, stores: Mapping[str, str]) -> dict[str, str]:
        return {member: stores[member] for member in self._unit.members if member in stores}


def _sounds_in(runs: Sequence[Run]) -> list[Sound]:
    return [part.sound for run in runs for part in run.parts if part.sound is not None and not part.fixed]


def _recalled(part: Part, hosts: Mapping[Sound, Sound]) -> Sound | None:
    """Return the sound that is recalled for a part, if any is: where nothing may be, compiling stays where it is."""
    if part.sound is None or not part.fixed:
        return hosts[part.sound] if part.sound else None
    return part.sound if part.sound.preset is not None else None


def _naming(songs: Mapping[str, Sequence[Run]]) -> dict[tuple[int | None, str | None], dict[Use, None]]:
    """Return the scenes that are in each preset and variant by their own word, or by home's."""
    found: dict[tuple[int | None, str | None], dict[Use, None]] = {}
    for song, runs in songs.items():
        for part in (part for run in runs for part in run.parts if part.sound):
            assert part.sound is not None
            found.setdefault((part.sound.preset, part.sound.variant), {})[Use(song, part.scene)] = None
    return found


def _unset(songs: Mapping[str, Sequence[Run]]) -> dict[str, tuple[Use, ...]]:
    """Return what no slot stores and scenes set, with those scenes."""
    found: dict[str, dict[Use, None]] = {}
    for song, part in ((song, part) for song, runs in songs.items() for run in runs for part in run.parts):
        for member in part.unset:
            found.setdefault(member, {})[Use(song, part.scene)] = None
    return {member: tuple(uses) for member, uses in found.items()}


def _lost(songs: Sequence[SongSlots], slots: Sequence[Sequence[int | None]]) -> Iterator[Use]:
    for song, own in zip(songs, slots, strict=True):
        for group, slot in zip(song.groups, own, strict=True):
            if slot is None:
                yield from (use for sound in group.sounds for use in song.uses[sound])


def _both(old: SlotPlan, new: SlotPlan) -> SlotPlan:
    variants = tuple(
        a._replace(uses=tuple(dict.fromkeys((*a.uses, *b.uses))))
        for a, b in zip(old.variants, new.variants, strict=True)
    )
    return old._replace(uses=tuple(dict.fromkeys((*old.uses, *new.uses))), variants=variants)


def _preset_words(preset: Preset | None) -> str:
    return f"{preset.slot} {preset.name}".strip() if preset else ""
