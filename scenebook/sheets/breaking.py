"""Where the setter may break a line: inside a word that is too long for its place, never between a number and its unit.

Done here and once for each text, since the setter would do it again on every pass over the pages.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from scenebook.sheets.view import FloorSet, GigView, SongPage

__all__ = ["SLIM", "SLIM_WIDTH", "for_the_setter", "kept", "softened"]

# A word of fewer wide letters (W) than this stands whole in its place.
_FLOOR, _TITLE, _TEXT, _CELL, _NARROW_CELL = 14, 18, 20, 15, 9
_FLOOR_LINES = 20  # lines that a floor page has for certain

# The setter itself breaks a line at these: a space, a line end, after a hyphen between letters.
_PIECES = re.compile(r"([ \n]|(?<=[A-Za-z]-)(?=[A-Za-z]))")
# Letters at most 0.65 as wide as a W in the shipped faces (a test reads it from them); any other counts as a W.
SLIM = frozenset("abcdefghijklnopqrstuvxyz0123456789-,.:;'()/")
SLIM_WIDTH = 0.65

_UNIT = re.compile(r"(\d) (%|ms|s|k?Hz|dB|o'clock)")


def for_the_setter(view: GigView) -> dict[str, Any]:
    """Return a view as plain JSON values in which every text says where it may be broken."""
    return {
        **softened({"gig": view.gig, "place": view.place, "paper": view.paper, "legend": view.legend}, _TEXT),
        "floor_legend": softened(view.floor_legend, _TEXT),
        "bearing": softened(view.bearing, _TEXT),
        "floor": [_floor_set(part) for part in view.floor],
        "set_up": _set_up(view),
        "songs": [_song(song) for song in view.songs],
        "last": [
            {"floor": _floor_set(section.floor), "songs": [_song(song) for song in section.songs]}
            for section in view.last
        ],
    }


def _floor_set(part: FloorSet) -> dict[str, Any]:
    lines = [
        {**softened(line, _FLOOR), "long": sum(map(len, _texts(line))) > _FLOOR * _FLOOR_LINES} for line in part.lines
    ]
    return {**softened(part, _FLOOR), "lines": lines}


def _set_up(view: GigView) -> dict[str, Any]:
    tables = [
        {
            "title": table.title,
            "closing": _soft(table.closing, _TEXT),
            "columns": softened(table.columns, _NARROW_CELL, 1),
            "rows": [[_cell(text, index, len(row)) for index, text in enumerate(row)] for row in table.rows],
        }
        for table in view.set_up.tables
    ]
    return {**softened(view.set_up, _TEXT), "tables": tables}


def _cell(text: str, index: int, columns: int) -> str:
    return _soft(text, _NARROW_CELL if index and columns > 4 else _CELL, 1)


def _song(song: SongPage) -> dict[str, Any]:
    entries = [{**softened(entry, _TEXT), "to_do": softened(entry.to_do, _TITLE)} for entry in song.entries]
    return {**softened(song, _TEXT), "name": _soft(song.name, _TITLE), "entries": entries}


def _texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, tuple):
        return [text for item in value for text in _texts(item)]
    fields = getattr(value, "__dataclass_fields__", ())
    return [text for name in fields for text in _texts(getattr(value, name))]


def softened(value: Any, longest: int = _TEXT, slim: float = SLIM_WIDTH) -> Any:
    """Return dataclasses as mappings and tuples as lists, a word as wide as `longest` wide letters with breaks.

    A slim letter counts as `slim` wide ones; in the cells of a table, where columns press each other, as 1.
    """
    if isinstance(value, str):
        return _soft(str(value), longest, slim)
    if isinstance(value, tuple):
        return [softened(item, longest, slim) for item in value]
    if isinstance(value, Mapping):
        return {key: softened(item, longest, slim) for key, item in value.items()}
    fields = getattr(value, "__dataclass_fields__", None)
    if fields is None:
        return value
    return {name: softened(getattr(value, name), longest, slim) for name in fields}


def kept(text: str) -> str:
    """Return a text in which no line break can come between a number and its unit."""
    return _UNIT.sub("\\1\u00a0\\2", text)


@lru_cache(maxsize=16384)
def _soft(text: str, longest: int, slim: float = SLIM_WIDTH) -> str:
    """Let a word too wide for its place break anywhere (by zero-width spaces), and keep a number with its unit.

    Only there: a reader's search finds no word that such spaces are in.
    """
    pieces = _PIECES.split(text)
    return kept("".join("\u200b".join(piece) if _too_wide(piece, longest, slim) else piece for piece in pieces))


def _too_wide(piece: str, longest: int, slim: float) -> bool:
    """Whether a piece without a break is wider than `longest` - 1 wide letters."""
    if len(piece) < longest:
        return False
    return sum(slim if letter in SLIM else 1 for letter in piece) > longest - 1
