"""The sheet as plain text, for a terminal, a message to a dep, or a printer that knows nothing else."""

import textwrap
from collections.abc import Iterable, Iterator

from scenebook.sheets.view import Do, Entry, FloorLine, FloorSet, GigView, SetUp, SongPage, Table

__all__ = ["text"]

WIDTH = 88


def text(view: GigView) -> str:
    """Return the sheet as plain text, no wider than 88 columns where words allow; on and off are told by ● and ○."""
    lines = ["  ·  ".join(view.bearing), "=" * WIDTH, ""]
    for part in view.floor:
        lines += [*_floor_set(part), ""]
    lines += [*_set_up(view.set_up, view.place), ""]
    for song in view.songs:
        lines += [*_song(song), ""]
    for section in view.last:
        lines += [*_floor_set(section.floor), ""]
        for song in section.songs:
            lines += [*_song(song), ""]
    lines += ["-" * WIDTH, *_wrap("  ".join(view.legend))]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _wrap(words: str, indent: int = 0, hang: int | None = None) -> list[str]:
    first, rest = " " * indent, " " * (indent if hang is None else hang)
    return textwrap.wrap(words, WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False) or [""]


def _floor_set(part: FloorSet) -> Iterator[str]:
    display = f"[]: {part.display}" if part.display else ""
    yield from _wrap("   ".join(filter(None, [part.name.upper(), display, part.after])))
    yield "-" * WIDTH
    for line in part.lines:
        yield from _wrap(_floor_line(line), hang=4)


def _floor_line(line: FloorLine) -> str:
    facts = " ".join(filter(None, [line.key, line.tempo, f"[{line.slot}]" if line.slot else "", _later(line)]))
    items = "   ".join(f"{item.mark} {item.words}".strip() for item in line.items)
    number = f"{line.number:>3} " if line.number else "    "
    return number + "   ".join(filter(None, [line.name, facts, items]))


def _later(line: FloorLine) -> str:
    return f"+{line.later}" if line.later else ""


def _do(do: Do) -> str:
    was = f" (was {do.was})" if do.was else ""
    later = f", {do.later}" if do.later else ""
    return f"{do.shape} {do.words}{was}{later}"


def _dos(to_do: Iterable[Do]) -> Iterator[str]:
    moment = ""
    for do in to_do:
        if do.moment != moment:
            moment = do.moment
            yield f"    {moment}:"
        yield from _wrap(_do(do), 6, 8)


def _song(song: SongPage) -> Iterator[str]:
    title = " ".join(filter(None, [song.number, song.name]))
    yield from _wrap(title + (f"   {' · '.join(song.facts)}" if song.facts else ""))
    yield "-" * WIDTH
    for note in song.notes:
        for line in note.splitlines():
            yield from _wrap(line)
    for entry in song.entries:
        yield from _entry(entry)
    if song.then:
        yield from _wrap(f"Then: {song.then}")


def _entry(entry: Entry) -> Iterator[str]:
    words = f"  “{entry.words}”" if entry.words else ""
    yield from _wrap(f"cue {entry.cue}  {entry.scene.upper()}  {entry.bars}{words}", hang=4)
    yield from _dos(entry.to_do)
    if entry.as_cue is not None:
        yield f"    Nothing to do; all as at cue {entry.as_cue}."
    for caveat in entry.caveats:
        yield from _wrap(f"▲ {caveat.what}: {caveat.do}", 4, 6)
    marks = (f"{'●' if mark.on else '○'} {mark.unit} {mark.shows}".rstrip() for mark in entry.chain)
    yield from _wrap("   ".join(marks), 4)
    for sound in entry.sounds:
        parts = "; ".join(
            f"{part.need} {part.words}".strip() + (" (new)" if part.changed else "") for part in sound.parts
        )
        yield from _wrap(f"{sound.unit}: {parts}", 4, 6)
    if entry.sent:
        yield from _wrap("Sent by message: " + "; ".join(entry.sent), 4, 6)
    for words in (*entry.remarks, *entry.notes.splitlines()):
        yield from _wrap(words, 4, 6)


def _set_up(set_up: SetUp, place: str) -> Iterator[str]:
    yield "SET-UP"
    yield "-" * WIDTH
    for words in filter(None, [place, *set_up.notes]):
        yield from _wrap(words)
    for words in (*set_up.changes, *set_up.warnings):
        yield from _wrap(f"▲ {words}", hang=2)
    yield from _wrap(f"Chain: {set_up.chain}", hang=2)
    if set_up.leads:
        yield from _wrap(f"MIDI leads: {set_up.leads}", hang=2)
    yield from _dos(set_up.checks)
    for table in set_up.tables:
        yield ""
        yield from _table(table)
    yield ""
    for words in set_up.cautions:
        yield from _wrap(f"▲ {words}", hang=2)


def _table(table: Table) -> Iterator[str]:
    yield from _wrap(table.title)
    for row in table.rows:
        cells = [row[0], *(f"{head} {cell}" for head, cell in zip(table.columns[1:], row[1:], strict=True) if cell)]
        yield from _wrap("; ".join(cells), 2, 6)
