"""Make a song's page from its cues: each form entry with what to do, its chain, and its sound in plain words."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scenebook.cueing.cues import Action, ByHand, Cue, Message, Moment, UnitState
from scenebook.model import MAIN, Library, Preset, Scene, SetEntry, Song
from scenebook.model.amounts import fixed
from scenebook.sheets.beginning import moments_of
from scenebook.sheets.view import Caveat, Entry, Mark, Need, Part, SongPage, Sound
from scenebook.sheets.words import (
    INTERVAL,
    bars_words,
    dos_of,
    member_words,
    pitch_words,
    preset_words,
    sent_of,
    spoken,
    tempo_words,
    unit_of,
    value_words,
)

__all__ = ["Played", "Words", "caveats_of", "song_page"]

_LATE = "do first what stands first, the rest as soon as a hand is free; or give the form more free bars before this"
_BARS = "give the song its tempo and the form its bars, or try it at rehearsal"
_LENGTH = "give it a length, or try it at rehearsal"
_LACKS = "leave it out or play around it; a stand-in in the rig would fill it"
_NOT_KNOWN = "time not known"


@dataclass(frozen=True, slots=True)
class Words:
    """What the words of all of a gig's songs are made with.

    `steady` are the units that always sound and never change, which lamp rows leave out; `loops` the switches of loops,
    which the lamps tell already; `looped` the units in loops and sends, whose own switch stays on whether they sound or
    not; `played_by` the units that play another one's part tonight, by that one's name.
    """

    library: Library
    short: Mapping[str, str]
    steady: tuple[str, ...]
    loops: frozenset[tuple[str, str]]
    looped: frozenset[str]
    played_by: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Played:
    """A song as the gig plays it: where it stands, what follows, and the entry from which it comes without a gap."""

    entry: SetEntry
    number: str = ""
    then: str = ""
    after_interval: bool = False
    after: SetEntry | None = None
    is_house: bool = False


@dataclass(frozen=True, slots=True)
class _Scope:
    """What the words of one song are made with."""

    words: Words
    played: Played
    song: Song
    tempo: float | None
    names: Mapping[str, str]  # a unit that plays another one's part tonight: the other, as scenes call it

    @property
    def library(self) -> Library:
        """The gig's library."""
        return self.words.library

    def short(self, unit: str) -> str:
        """A unit as the sheet calls it."""
        return self.words.short.get(unit, unit)

    def said(self, scene: Scene, unit: str) -> Mapping[str, str]:
        """What the scene says of a carried unit."""
        return scene.units.get(self.names.get(unit, unit), {})


def song_page(words: Words, played: Played, cues: Sequence[Cue], before: Cue | None) -> SongPage:
    """Return the page of a song; `before` is the cue from which its first cue comes."""
    entry, song = played.entry, words.library.songs[played.entry.song]
    tempo = entry.tempo if entry.tempo is not None else song.tempo
    scope = _Scope(words, played, song, tempo, {new: old for old, new in words.played_by.items()})
    entries: list[Entry] = []
    for index, cue in enumerate(cues):
        entries.append(_entry(scope, cue, cues[index - 1] if index else before, cues[:index]))
    return SongPage(
        number=played.number,
        name=entry.song,
        facts=_facts(song, entry),
        notes=tuple(note for note in (song.notes, entry.notes) if note),
        lacks=_lacks(cues),
        stand_ins=_each_once(_stand_in(words, text) for cue in cues for text in cue.stand_ins),
        entries=tuple(entries),
        then=played.then,
    )


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


def _lacks(cues: Iterable[Cue]) -> tuple[Caveat, ...]:
    """Say once for the whole song what to do about what its scenes lack."""
    things = _each_once(thing for cue in cues for thing in cue.lacks)
    return (Caveat(f"Lacks {'; '.join(things)}", _LACKS),) if things else ()


def _stand_in(words: Words, text: str) -> str:
    """Return a stand-in with its unit as the sheet calls it: "fuzz, silicon: multi-effects fuzz, likeness 0.8"."""
    part, _, place = text.partition(": ")
    unit = next((unit for unit in words.short if place.startswith(f"{unit} ")), "")
    return f"{part}: {words.short[unit]}{place[len(unit) :]}" if unit else text


def _each_once(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))


def _entry(scope: _Scope, cue: Cue, before: Cue | None, earlier: Sequence[Cue]) -> Entry:
    scene = scope.song.scenes.get(cue.scene, Scene())
    old = {state.unit: state for state in before.states} if before else {}
    moments = moments_of(scope.library, cue, before, scope.played.entry, scope.played.after)
    if scope.played.after_interval and not earlier:
        moments[Moment.GAP] = INTERVAL
    by_hand = (_own(scope, move) for move in spoken(cue.by_hand, scope.library.units))
    to_do = dos_of(by_hand, cue=cue.number, short=scope.words.short, moments=moments)
    as_cue = None if to_do or cue.notes else _repeats(cue, earlier)
    again = as_cue is not None
    return Entry(
        cue=cue.number,
        scene=cue.scene,
        bars="" if scope.played.is_house and cue.bars is None else bars_words(cue.bars, cue.free),
        words=cue.words,
        as_cue=as_cue,
        chain=() if again else tuple(_lamps(scope, cue, old)),
        sounds=() if again else tuple(_sounds(scope, cue, scene, old)),
        to_do=to_do,
        lacks=cue.lacks,
        without=cue.without,
        caveats=caveats_of(cue),
        remarks=cue.notes,
        asides=_silences(cue) if again else _asides(scope, cue),
        notes="" if again else scene.notes,
    )


def _own(scope: _Scope, move: ByHand) -> ByHand:
    """Return a move; where a unit's loop decides whether it sounds, it is the unit's own switch that is looked at."""
    if move.action is Action.CHECK and move.member == MAIN and move.unit in scope.words.looped:
        return move._replace(after=f"own switch {move.after}")
    return move


def _repeats(cue: Cue, earlier: Sequence[Cue]) -> int | None:
    """Return the first earlier cue of this song with the same scene and the same state."""
    for other in earlier:
        if other.scene == cue.scene and other.states == cue.states and other.stand_ins == cue.stand_ins:
            return other.number
    return None


def _lamps(scope: _Scope, cue: Cue, old: Mapping[str, UnitState]) -> Iterable[Mark]:
    """Yield the marks of all units but those that never change."""
    return (
        _mark(state, old.get(state.unit), scope.short(state.unit))
        for state in cue.states
        if state.unit not in scope.words.steady
    )


def _mark(state: UnitState, old: UnitState | None, name: str) -> Mark:
    shows = " ".join(filter(None, [state.preset, state.variant])) if state.preset else ""
    changed = old is not None and (old.sounds, old.preset, old.variant) != (state.sounds, state.preset, state.variant)
    return Mark(name, state.sounds, shows, changed)


def _sounds(scope: _Scope, cue: Cue, scene: Scene, old: Mapping[str, UnitState]) -> Iterable[Sound]:
    for state in cue.states:
        needs = _Needs(scene, cue, scope.names.get(state.unit, state.unit), state.unit)
        parts = tuple(_parts(scope, state, needs, old.get(state.unit)))
        if parts:
            yield Sound(scope.short(state.unit), parts)


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
        if text and (wanted or (state.sounds and _worth(scope, state.unit, member, text, changed))):
            words = value_words(text, thing, scope.tempo, scope.library.settings.tuning)
            left = ", as it was" if said == "leave" or member in state.left else ""
            yield Part(f"{_said(member)} {words}".strip() + left, need, changed)


def _worth(scope: _Scope, unit: str, member: str, text: str, changed: bool) -> bool:
    """Say a thing that the scene does not name only if it is a section that is on, or new; lamps tell a loop's."""
    return member != MAIN and (unit, member) not in scope.words.loops and (text == "on" or changed)


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


def _sent(scope: _Scope, messages: Iterable[Message]) -> str:
    """Say what goes by message, unit by unit in the order in which each is first sent to."""
    said = sent_of(messages, units=scope.library.units, short=scope.words.short)
    return "; ".join(f"{unit}: {', '.join(words)}" for unit, words in said.items())


def caveats_of(cue: Cue) -> tuple[Caveat, ...]:
    """Say that there is too little time, or that nobody knows; lacks are told in the song's head."""
    if not cue.late:
        return ()
    what = cue.late[:1].upper() + cue.late[1:]
    if not cue.late.startswith(_NOT_KNOWN):
        return (Caveat(what, _LATE),)
    reason = cue.late.removeprefix(_NOT_KNOWN).lstrip(": ")
    said = f"{what[: len(_NOT_KNOWN)]} ({reason})" if reason else what
    return (Caveat(said, _LENGTH if reason.startswith(("the gap", "the interval")) else _BARS),)


def _asides(scope: _Scope, cue: Cue) -> tuple[str, ...]:
    """Say what nobody needs while playing: what goes by message, silences, what stands in, what is not carried over."""
    sent = _sent(scope, cue.messages)
    said = [f"By message: {sent}"] if sent else []
    said += _silences(cue)
    parts = _each_once(text.split(": ")[0] for text in cue.stand_ins)
    said += [f"Stand-in for {'; '.join(parts)}"] if parts else []
    said += [f"Not carried over: {'; '.join(cue.not_carried)}"] if cue.not_carried else []
    return tuple(said)


def _silences(cue: Cue) -> tuple[str, ...]:
    said = [f"Silent for {fixed(cue.silence_us / 1000)} ms"] if cue.silence_us else []
    if cue.tails_cut:
        said.append("A tail is cut")
    if cue.overlap_us:
        said.append(f"The old sound goes on for {fixed(cue.overlap_us / 1000)} ms past the new")
    if cue.interrupted_us:
        said.append(f"What is left as it was is away for {fixed(cue.interrupted_us / 1000)} ms")
    return tuple(said)
