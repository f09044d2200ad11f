"""The sheet as plain text, for a terminal, a message to a dep, or a printer that knows nothing else."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

from scenebook.sheets.breaking import kept
from scenebook.sheets.view import Do, Entry, FloorLine, FloorSet, GigView, SetUp, SongPage, Table

__all__ = ["text"]

WIDTH = 88


def text(view: GigView) -> str:
    """Return the sheet as plain text, no wider than 88 columns where words allow; on and off are told by ● and ○."""
    lines = ["  ·  ".join(view.bearing), "=" * WIDTH, ""]
    for part in view.floor:
        lines += [*_floor_set(part), ""]
    lines += [*_wrap("  ".join(view.floor_legend)), ""]
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
    lines = textwrap.wrap(kept(words), WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False)
    return [line.replace("\u00a0", " ") for line in lines] or [""]


def _floor_set(part: FloorSet) -> Iterator[str]:
    yield from _wrap("   ".join(filter(None, [part.name.upper(), part.display, part.after])))
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
    for caveat in song.lacks:
        yield from _wrap(f"▲ {caveat.what}: {caveat.do}", hang=2)
    if song.stand_ins:
        yield from _wrap(f"Stand-ins: {'; '.join(song.stand_ins)}", hang=2)
    for entry in song.entries:
        yield from _entry(entry)
    if song.then:
        yield from _wrap(f"Then: {song.then}")


def _entry(entry: Entry) -> Iterator[str]:
    words = f"“{entry.words}”" if entry.words else ""
    again = f"as cue {entry.as_cue}, nothing to do" if entry.as_cue is not None else ""
    head = (f"cue {entry.cue}", entry.scene.upper(), entry.bars, words, again)
    yield from _wrap("  ".join(filter(None, head)), hang=4)
    yield from _dos(entry.to_do)
    if entry.lacks:
        yield from _wrap(f"▲ lacks {'; '.join(entry.lacks)}", 4, 6)
    if entry.without:
        yield from _wrap(f"without {'; '.join(entry.without)}", 4, 6)
    for caveat in entry.caveats:
        yield from _wrap(f"▲ {caveat.what}: {caveat.do}", 4, 6)
    marks = (f"{'●' if mark.on else '○'} {mark.unit} {mark.shows}".rstrip() for mark in entry.chain)
    if entry.chain:
        yield from _wrap("   ".join(marks), 4)
    for sound in entry.sounds:
        parts = "; ".join(
            f"{part.need} {part.words}".strip() + (" (new)" if part.changed else "") for part in sound.parts
        )
        yield from _wrap(f"{sound.unit}: {parts}", 4, 6)
    for words in (*entry.remarks, *(f"“{entry.notes}”".splitlines() if entry.notes else ())):
        yield from _wrap(words, 4, 6)
    if entry.asides:
        yield from _wrap(". ".join(entry.asides), 4, 6)


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
    """Yield a table in aligned columns, a cell that is too long for its own wrapped below itself."""
    yield from _wrap(table.title)
    rows = [table.columns, *table.rows] if table.rows else []
    widths = _widths(rows)
    for index, row in enumerate(rows):
        cells = [
            textwrap.wrap(kept(cell), width, break_long_words=False) or [""]
            for cell, width in zip(row, widths, strict=True)
        ]
        for parts in zip_longest(*cells, fillvalue=""):
            line = "  ".join(f"{part:<{width}}" for part, width in zip(parts, widths, strict=True))
            yield "  " + line.replace("\u00a0", " ")
        if index == 0:
            yield "  " + "  ".join("-" * width for width in widths)
    if table.closing:
        yield from _wrap(table.closing, 2, 4)


def _widths(rows: Sequence[Sequence[str]]) -> list[int]:
    """Return how wide each column is: its longest cell, the widest cut until all fit, a long word left whole."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    least = [max(len(word) for cell in column for word in kept(cell).split(" ")) for column in zip(*rows, strict=True)]
    while sum(widths) + 2 * len(widths) > WIDTH:
        over = [(width, index) for index, width in enumerate(widths) if width > least[index]]
        if not over:
            break
        widths[max(over)[1]] -= 1
    return widths
