"""Make the lines of the floor page: a song each, with what starts it and nothing else."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from scenebook.cueing.cues import Action, ByHand, Cue
from scenebook.model import MAIN, Gig, Instrument, Library, Scene, SetEntry, Song
from scenebook.sheets.view import FloorLine, FloorSet, Item, Shape
from scenebook.sheets.words import CARE, ahead_first, floor_words, said_of, spoken, tempo_words, unit_of

__all__ = ["floor_line", "floor_set", "floor_sets", "gap_after", "house_lines", "short_key"]


LATER = "+1: one more for later"


def floor_sets(
    library: Library, gig: Gig, cues: Mapping[int, Sequence[Cue]], short: Mapping[str, str]
) -> tuple[FloorSet, ...]:
    """Return the gig's sets; `cues` holds the cues of each song by its place in the gig."""
    found, place, instrument = [], 0, ""
    for part in gig.sets:
        lines = []
        for entry in part.songs:
            line = floor_line(library, entry, cues.get(place, ()), str(place + 1), instrument, short)
            instrument = line.instrument or instrument
            lines.append(line)
            place += 1
        after = f"then interval {part.interval}" if part.interval else ""
        found.append(floor_set(part.name, lines, cues.values(), after, short))
    return tuple(found)


def floor_set(
    name: str, lines: Iterable[FloorLine], songs: Iterable[Sequence[Cue]], after: str, short: Mapping[str, str]
) -> FloorSet:
    """Return lines with their heading."""
    first = next((cue for cues in songs for cue in cues), None)
    unit = _display(first)
    lines = tuple(lines)
    display = f"boxed: slot of {short.get(unit, unit)}" if any(line.slot for line in lines) else ""
    if any(line.later for line in lines):
        after = "   ".join(filter(None, [LATER, after]))
    return FloorSet(name, lines, display, after)


def floor_line(
    library: Library,
    entry: SetEntry,
    cues: Sequence[Cue],
    number: str,
    instrument: str,
    short: Mapping[str, str],
) -> FloorLine:
    """Return the line of one song; `instrument` is the one played in the line before."""
    song = library.songs[entry.song]
    first = cues[0] if cues else None
    scene = song.scenes.get(first.scene, Scene()) if first else Scene()
    played = _short_instrument(scene.instrument or song.instrument)
    return FloorLine(
        number=number,
        name=entry.song,
        key=short_key(entry.key or song.key),
        tempo=tempo_words(song, entry.tempo),
        instrument=played,
        slot=_slot(first),
        later=sum(move.for_cue != first.number for move in first.by_hand) if first else 0,
        items=tuple(_items(library, first, played if played != instrument else "", short)),
    )


def house_lines(
    library: Library, song: Song, cues: Sequence[Cue], home: Cue | None, short: Mapping[str, str]
) -> tuple[FloorLine, ...]:
    """Return a line for each house sound: how it differs from home, whatever was played before."""
    return tuple(
        FloorLine("", cue.scene, "", "", "", _slot(cue), 0, tuple(_from_home(library, cue, home, short)))
        for cue in cues
        if cue.scene in song.scenes
    )


def short_key(key: str) -> str:
    """Return a key as a chart writes it: "F# minor" is F♯m, "Eb" is E♭; anything else as the player wrote it."""
    found = re.fullmatch(r"([A-G])([#♯b♭]?) ?(minor|min|m|major|maj)?", key.strip())
    if found is None:
        return key
    sign = {"#": "♯", "b": "♭"}.get(found[2], found[2])
    return f"{found[1]}{sign}{'m' if found[3] in ('minor', 'min', 'm') else ''}"


def _short_instrument(instrument: Instrument | None) -> str:
    """Return an instrument without its tuning, which nobody changes between songs by reading it from the floor."""
    if instrument is None:
        return ""
    return instrument.name + (f", capo {instrument.capo}" if instrument.capo else "")


def _display(cue: Cue | None) -> str:
    return next((state.unit for state in cue.states if state.preset), "") if cue else ""


def _slot(cue: Cue | None) -> str:
    return next((state.preset for state in cue.states if state.preset), "") if cue else ""


def _items(library: Library, cue: Cue | None, instrument: str, short: Mapping[str, str]) -> Iterator[Item]:
    if instrument:
        yield Item(Shape.TO, instrument)
    if cue is None:
        return
    by_unit: dict[str, list[ByHand]] = {}
    for move in ahead_first(spoken(cue.by_hand, library.units)):
        if move.for_cue == cue.number and move.action not in (Action.CHANGE, Action.CHECK):
            by_unit.setdefault(move.unit, []).append(move)
    for unit, moves in by_unit.items():
        yield from _unit_items(short.get(unit, unit), moves)
    if cue.late.startswith("late by "):
        yield Item(CARE, cue.late.replace("late by ", "late "))


def _unit_items(unit: str, moves: Sequence[ByHand]) -> Iterator[Item]:
    """Say what is done on one unit: what is set in one item, its own switch and each thing held or fired in others."""
    own = [move for move in moves if move.member in ("", MAIN) and move.after in ("on", "off")]
    held = [move for move in moves if move.action in (Action.HOLD, Action.FIRE)]
    rest = [floor_words(move) for move in moves if move not in own and move not in held]
    if rest:
        yield Item(Shape.TO, f"{unit} {', '.join(rest)}".strip())
    for move in own:
        yield Item(Shape.ON if move.after == "on" else Shape.OFF, unit)
    for move in held:
        yield Item(Shape.HOLD, f"{unit} {floor_words(move)}".strip())


def _from_home(library: Library, cue: Cue, home: Cue | None, short: Mapping[str, str]) -> Iterator[Item]:
    before = {state.unit: state for state in home.states} if home else {}
    for state in cue.states:
        old = before.get(state.unit)
        if old and (old.sounds, old.values) != (state.sounds, state.values):
            unit = unit_of(library.units, state.unit)
            changed = {name: text for name, text in state.values.items() if old.values.get(name) != text}
            new = [f"{name} {said_of(unit, name, text)}" for name, text in changed.items()]
            said = [words for words in new if not words.startswith(f"{MAIN} ")]
            if said or old.sounds != state.sounds:
                mark = Shape.ON if state.sounds else Shape.OFF
                yield Item(mark, f"{short.get(state.unit, state.unit)} {', '.join(said)}".strip())


def gap_after(gig: Gig, place: int) -> str:
    """Say what follows the song at `place` (from 0): a segue, the gap and the next song, an interval, the end."""
    entries, count = gig.entries, 0
    if entries[place].segue and place + 1 < len(entries):
        return f"segue: no gap, straight into {entries[place + 1].song}"
    for part in gig.sets:
        count += len(part.songs)
        if place == count - 1:
            return f"interval {part.interval}" if part.interval else "end of the set"
    gap = entries[place].gap or gig.gap
    return (f"gap {gap}, then " if gap else "then ") + entries[place + 1].song
