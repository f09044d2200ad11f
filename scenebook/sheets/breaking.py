"""Where the setter may break a line: inside a word that is too long for its place, never between a number and its unit.

Done here and once for each text, since the setter would do it again on every pass over the pages.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from scenebook.sheets.view import FloorSet, GigView, SongPage

__all__ = ["for_the_setter", "kept", "softened"]

# The longest word, in characters, that stands in its place whole even when every letter is a wide one.
_FLOOR, _TITLE, _TEXT, _CELL, _NARROW_CELL = 14, 18, 24, 15, 9
_FLOOR_LINES = 20  # lines that a floor page has for certain

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
            "columns": softened(table.columns, _NARROW_CELL),
            "rows": [[_cell(text, index, len(row)) for index, text in enumerate(row)] for row in table.rows],
        }
        for table in view.set_up.tables
    ]
    return {**softened(view.set_up, _TEXT), "tables": tables}


def _cell(text: str, index: int, columns: int) -> str:
    return _soft(text, _NARROW_CELL if index and columns > 4 else _CELL)


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


def softened(value: Any, longest: int = _TEXT) -> Any:
    """Return dataclasses as mappings and tuples as lists, every text with its breaks in words longer than `longest`."""
    if isinstance(value, str):
        return _soft(str(value), longest)
    if isinstance(value, tuple):
        return [softened(item, longest) for item in value]
    if isinstance(value, Mapping):
        return {key: softened(item, longest) for key, item in value.items()}
    fields = getattr(value, "__dataclass_fields__", None)
    if fields is None:
        return value
    return {name: softened(getattr(value, name), longest) for name in fields}


def kept(text: str) -> str:
    """Return a text in which no line break can come between a number and its unit."""
    return _UNIT.sub("\\1\u00a0\\2", text)


@lru_cache(maxsize=16384)
def _soft(text: str, longest: int) -> str:
    """Let a word longer than `longest` break anywhere (by zero-width spaces), and keep a number with its unit."""
    words = text.split(" ")
    if max(map(len, words)) >= longest:
        text = " ".join("\u200b".join(word) if len(word) >= longest else word for word in words)
    return kept(text)
