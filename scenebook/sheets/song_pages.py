"""Make a song's page from its cues: each form entry with its chain, its sound in plain words, and what to do."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scenebook.cueing.cues import Cue, Message, MessageKind, UnitState
from scenebook.model import MAIN, Library, Preset, Scene, SetEntry, Song
from scenebook.sheets.view import Caveat, Entry, Mark, Need, Part, SongPage, Sound
from scenebook.sheets.words import (
    bars_words,
    dos_of,
    member_words,
    pitch_words,
    preset_words,
    tempo_words,
    unit_of,
    value_words,
)

__all__ = ["song_page"]

_LATE = "do first what stands first, the rest as soon as a hand is free; or give the form more free bars before this"
_TIME = "give the song its tempo and the form its bars, or try it at rehearsal"
_LACKS = "leave it out or play around it; a stand-in in the rig would fill it"
_WITHOUT = "a colour: the scene holds"


@dataclass(frozen=True, slots=True)
class _Scope:
    """What the words of one song are made with."""

    library: Library
    short: Mapping[str, str]
    song: Song
    tempo: float | None
    names: Mapping[str, str]  # a unit that plays another one's part tonight: the other, as scenes call it

    def said(self, scene: Scene, unit: str) -> Mapping[str, str]:
        """What the scene says of a carried unit."""
        return scene.units.get(self.names.get(unit, unit), {})


def song_page(
    library: Library,
    entry: SetEntry,
    cues: Sequence[Cue],
    before: Cue | None,
    *,
    number: str,
    then: str,
    short: Mapping[str, str],
    played_by: Mapping[str, str],
) -> SongPage:
    """Return the page of the song that `entry` plays; `before` is the cue from which its first cue comes."""
    song = library.songs[entry.song]
    tempo = entry.tempo if entry.tempo is not None else song.tempo
    scope = _Scope(library, short, song, tempo, {new: old for old, new in played_by.items()})
    entries: list[Entry] = []
    for index, cue in enumerate(cues):
        entries.append(_entry(scope, cue, cues[index - 1] if index else before, cues[:index]))
    notes = tuple(note for note in (song.notes, entry.notes) if note)
    return SongPage(number, entry.song, _facts(song, entry), notes, tuple(entries), then)


def _facts(song: Song, entry: SetEntry) -> tuple[str, ...]:
    tempo = tempo_words(song, entry.tempo)
    facts = (
        entry.key or song.key,
        f"♩ {tempo}" if tempo else "",
        song.metre,
        song.length or "",
        str(song.instrument or ""),
    )
    return tuple(fact for fact in facts if fact)


def _entry(scope: _Scope, cue: Cue, before: Cue | None, earlier: Sequence[Cue]) -> Entry:
    scene = scope.song.scenes.get(cue.scene, Scene())
    old = {state.unit: state for state in before.states} if before else {}
    to_do = dos_of(cue.by_hand, cue=cue.number, short=scope.short)
    as_cue = None if to_do else _repeats(cue, earlier)
    return Entry(
        cue=cue.number,
        scene=cue.scene,
        bars=bars_words(cue.bars, cue.free),
        words=cue.words,
        as_cue=as_cue,
        chain=tuple(_mark(state, old.get(state.unit), scope.short) for state in cue.states),
        sounds=() if as_cue is not None else tuple(_sounds(scope, cue, scene, old)),
        to_do=to_do,
        sent=_sent(cue.messages, scope.short),
        caveats=_caveats(cue),
        remarks=() if as_cue is not None else _remarks(cue),
        notes="" if as_cue is not None else scene.notes,
    )


def _repeats(cue: Cue, earlier: Sequence[Cue]) -> int | None:
    """Return the first earlier cue of this song with the same scene and the same state."""
    for other in earlier:
        if other.scene == cue.scene and other.states == cue.states and other.stand_ins == cue.stand_ins:
            return other.number
    return None


def _mark(state: UnitState, old: UnitState | None, short: Mapping[str, str]) -> Mark:
    shows = " ".join(filter(None, [state.preset, state.variant])) if state.preset else ""
    changed = old is not None and (old.sounds, old.preset, old.variant) != (state.sounds, state.preset, state.variant)
    return Mark(short.get(state.unit, state.unit), state.sounds, shows, changed)


def _sounds(scope: _Scope, cue: Cue, scene: Scene, old: Mapping[str, UnitState]) -> Iterable[Sound]:
    for state in cue.states:
        needs = _Needs(scene, cue, scope.names.get(state.unit, state.unit), state.unit)
        parts = tuple(_parts(scope, state, needs, old.get(state.unit)))
        if parts:
            yield Sound(scope.short.get(state.unit, state.unit), parts)


def _parts(scope: _Scope, state: UnitState, needs: "_Needs", old: UnitState | None) -> Iterable[Part]:
    """Yield what the scene says of a unit, then what else is on or new while it sounds."""
    setting = scope.said(needs.scene, state.unit)
    if "leave" in setting:
        yield Part("as it was", Need.NONE, False)
        return
    yield from _preset_parts(scope, state, needs, old)
    unit = unit_of(scope.library.units, state.unit)
    for member, thing in {**unit.switches, **unit.controls}.items():
        said, need = setting.get(member), needs.of(member, setting)
        text = state.values.get(member, said or "")
        changed = old is not None and member in state.values and old.values.get(member) != text
        wanted = said is not None or need is not Need.NONE
        if text and (wanted or (state.sounds and _worth(member, text, changed))):
            words = value_words(text, thing, scope.tempo, scope.library.settings.tuning)
            left = ", as it was" if said == "leave" or member in state.left else ""
            yield Part(f"{_said(member)} {words}".strip() + left, need, changed)


def _worth(member: str, text: str, changed: bool) -> bool:
    """Say a thing that the scene does not name only if it is a section that is on, or new."""
    return member != MAIN and (text == "on" or changed)


def _said(member: str) -> str:
    return "" if member == MAIN else member


def _preset_parts(scope: _Scope, state: UnitState, needs: "_Needs", old: UnitState | None) -> Iterable[Part]:
    need = needs.of("preset", scope.said(needs.scene, state.unit))
    changed = old is not None and (old.preset, old.variant) != (state.preset, state.variant)
    if state.preset is None or not (changed or need is not Need.NONE):
        return
    preset = _preset(scope.library, state)
    yield Part(preset_words(preset, state.variant), need, changed)
    if preset.footswitches:
        yield Part("footswitches: " + "; ".join(f"{k} {v}" for k, v in preset.footswitches.items()), Need.NONE, False)
    if preset.pitches:
        yield Part("pitches: " + pitch_words(preset, scope.library.settings.tuning), Need.NONE, False)


def _preset(library: Library, state: UnitState) -> Preset:
    unit = unit_of(library.units, state.unit)
    slot = state.preset or ""
    return next((preset for preset in unit.presets if preset.slot == slot), Preset(slot=slot))


@dataclass(frozen=True, slots=True)
class _Needs:
    """What of a unit the scene needs: what it says of it, and what the unit plays for another one (rules S7, S8)."""

    scene: Scene
    cue: Cue
    name: str  # as the scene calls the unit
    unit: str

    def of(self, member: str, setting: Mapping[str, str]) -> Need:
        """Return the mark of a member, or of "preset"."""
        said = setting.get(member)
        if said is not None and said not in ("off", "leave"):
            return self._mark(self.name, f"{self.name}.{member}")
        place = f": {self.unit} preset " if member == "preset" else f": {member_words(self.unit, member)}, likeness "
        parts = [text.split(place)[0] for text in self.cue.stand_ins if place in text]
        return self._mark(*parts) if parts else Need.NONE

    def _mark(self, *names: str) -> Need:
        """Return the mark of a need by its names; a stand-in is told in words, with no point before the member."""
        colours = {words for colour in self.scene.colours for words in (colour, colour.replace(".", " "))}
        return Need.COLOUR if colours & set(names) else Need.MUST


def _sent(messages: Iterable[Message], short: Mapping[str, str]) -> tuple[str, ...]:
    """Say what goes by message, a line for each unit in the order in which it is first sent to."""
    said: dict[str, dict[str, None]] = {}
    for message in messages:
        if message.kind is not MessageKind.BANK:
            said.setdefault(message.unit, {})[_message_words(message)] = None
    return tuple(f"{short.get(unit, unit)}: {', '.join(words)}" for unit, words in said.items())


def _message_words(message: Message) -> str:
    """Say what a message does, without its unit: the preset, "on", "mix 40 %", or the trigger's name alone."""
    if message.kind in (MessageKind.RECALL, MessageKind.VARIANT) or message.value == message.member:
        return message.value
    return f"{_said(message.member)} {message.value}".strip()


def _caveats(cue: Cue) -> tuple[Caveat, ...]:
    found = [Caveat(f"Lacks {thing}", _LACKS) for thing in cue.lacks]
    found += [Caveat(f"Without {thing}", _WITHOUT) for thing in cue.without]
    if cue.late:
        known = cue.late != "time not known"
        what = cue.late[:1].upper() + cue.late[1:]
        found.append(Caveat(what, _LATE if known else _TIME))
    return tuple(found)


def _remarks(cue: Cue) -> tuple[str, ...]:
    said = [f"Stand-in: {text}" for text in cue.stand_ins]
    said += [f"Not carried over: {text}" for text in cue.not_carried]
    if cue.silence_us:
        said.append(f"Silent for {cue.silence_us / 1000:.0f} ms while presets are recalled")
    if cue.interrupted_us:
        said.append(f"What is left as it was is away for {cue.interrupted_us / 1000:.0f} ms")
    return (*said, *cue.notes)
