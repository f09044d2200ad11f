"""Make the lines of the floor page: a song each, with what starts it and nothing else."""

import re
from collections.abc import Iterator, Mapping, Sequence

from scenebook.cueing.cues import Action, Cue
from scenebook.model import Gig, Library, SetEntry
from scenebook.sheets.view import FloorLine, FloorSet, Item, Shape
from scenebook.sheets.words import dos_of, tempo_words

__all__ = ["floor_line", "floor_sets", "gap_after", "house_lines", "short_key"]


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
        found.append(FloorSet(part.name, tuple(lines), f"interval {part.interval}" if part.interval else ""))
    return tuple(found)


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
    scene = song.scenes.get(first.scene) if first else None
    played = str((scene.instrument if scene else None) or song.instrument or "")
    return FloorLine(
        number=number,
        name=entry.song,
        key=short_key(entry.key or song.key),
        tempo=tempo_words(song, entry.tempo),
        instrument=played,
        items=tuple(_items(first, played if played != instrument else "", short)),
    )


def house_lines(cues: Sequence[Cue], short: Mapping[str, str]) -> tuple[FloorLine, ...]:
    """Return a line for each house sound: what is pressed or turned to come to it from the one before."""
    return tuple(FloorLine("", cue.scene, "", "", "", tuple(_items(cue, "", short))) for cue in cues)


def short_key(key: str) -> str:
    """Return a key as a chart writes it: "F# minor" is F♯m, "Eb" is E♭; anything else as the player wrote it."""
    found = re.fullmatch(r"([A-G])([#♯b♭]?) ?(minor|min|m|major|maj)?", key.strip())
    if found is None:
        return key
    sign = {"#": "♯", "b": "♭"}.get(found[2], found[2])
    return f"{found[1]}{sign}{'m' if found[3] in ('minor', 'min', 'm') else ''}"


def _items(cue: Cue | None, instrument: str, short: Mapping[str, str]) -> Iterator[Item]:
    moves = cue.by_hand if cue else ()
    if instrument and not any(move.action is Action.CHANGE for move in moves):
        yield Item(Shape.TO, instrument)
    if cue is None:
        return
    unit, slot = _first_slot(cue)
    if slot and not any(move.action is Action.RECALL and move.unit == unit for move in moves):
        yield Item("", f"{short.get(unit, unit)} {slot}")
    for do in dos_of(moves, cue=cue.number, short=short):
        yield Item(do.shape, do.short)
    if cue.late and cue.late != "time not known":
        yield Item("▲", "late")


def _first_slot(cue: Cue) -> tuple[str, str]:
    """Return the first preset along the chain that the scene asks for, as the display shows it."""
    return next(((state.unit, state.preset) for state in cue.states if state.named and state.preset), ("", ""))


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
