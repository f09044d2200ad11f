"""What the sheet says, decided once: plain frozen values from which every rendering is made.

Nothing here is laid out and nothing is computed later: a renderer puts these words on paper, a page or a terminal.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from enum import StrEnum
from typing import Any

__all__ = [
    "Caveat",
    "Do",
    "Entry",
    "FloorLine",
    "FloorSet",
    "GigView",
    "Item",
    "Mark",
    "Need",
    "Paper",
    "Part",
    "Section",
    "SetUp",
    "Shape",
    "SongPage",
    "Sound",
    "Table",
    "texts_of",
]


class Paper(StrEnum):
    """The page: A4 (ISO 216) or US letter."""

    A4 = "a4"
    LETTER = "letter"


class Shape(StrEnum):
    """The mark before a word. On and off are told by shape, which ink and a red lamp leave as it is."""

    ON = "●"
    OFF = "○"
    TO = "→"  # a value, a preset, another instrument
    HOLD = "□"  # held, or fired once
    CHECK = "–"


class Need(StrEnum):
    """Whether the scene can do without it."""

    MUST = "◆"
    COLOUR = "◇"
    NONE = ""


@dataclass(frozen=True, slots=True)
class Do:
    """One thing for a hand or foot: its mark, words, and how it stood before."""

    shape: Shape
    words: str
    was: str
    moment: str  # "at the cue", "in the free bars before", ...
    later: str  # "for cue 14", where it is made ahead of the cue that needs it


@dataclass(frozen=True, slots=True)
class Item:
    """One thing on the floor: a mark and as few words as tell it."""

    mark: str
    words: str


@dataclass(frozen=True, slots=True)
class FloorLine:
    """One song on the floor page, or one house sound.

    `slot` is what the unit shows of which the set's `display` tells. `later` counts what is set in the same gap for a
    later part; the song's page says what. `items`: the instrument where it is another than in the line before, then
    what starts the song, unit by unit: what is set, the unit's own switch, each thing held or fired.
    """

    number: str
    name: str
    key: str
    tempo: str
    instrument: str
    slot: str
    later: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class FloorSet:
    """A set on the floor page, the spare songs or the house sounds; `after` is what follows it.

    `display` says whose slots stand boxed in the lines: those of the first unit along the chain that has presets.
    """

    name: str
    lines: tuple[FloorLine, ...]
    display: str
    after: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A unit in the chain after a cue: whether it sounds, what its display shows, and whether that is new."""

    unit: str
    on: bool
    shows: str
    changed: bool


@dataclass(frozen=True, slots=True)
class Part:
    """One thing of a unit's sound in plain words."""

    words: str
    need: Need
    changed: bool


@dataclass(frozen=True, slots=True)
class Sound:
    """What is to be heard of one unit."""

    unit: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Caveat:
    """Something that will not be as a scene wants it, and what to do about it."""

    what: str
    do: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One part of a song's form, which is one cue.

    `as_cue` is the earlier cue that it repeats with nothing to do: then lamps and sound stand there. `lacks` and
    `without` are names; what to do about a lack stands in the song's head. `asides` is what nobody has to read while
    playing: what goes by message, silences, stand-ins.
    """

    cue: int
    scene: str
    bars: str
    words: str
    as_cue: int | None
    chain: tuple[Mark, ...]
    sounds: tuple[Sound, ...]
    to_do: tuple[Do, ...]
    lacks: tuple[str, ...]
    without: tuple[str, ...]
    caveats: tuple[Caveat, ...]
    remarks: tuple[str, ...]
    asides: tuple[str, ...]
    notes: str


@dataclass(frozen=True, slots=True)
class SongPage:
    """A song for rehearsal, and for whoever has to step in."""

    number: str
    name: str
    facts: tuple[str, ...]  # key, tempo, metre, length, instrument
    notes: tuple[str, ...]
    lacks: tuple[Caveat, ...]
    stand_ins: tuple[str, ...]
    entries: tuple[Entry, ...]
    then: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the set-up page; `closing` is a line below it."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    closing: str = ""


@dataclass(frozen=True, slots=True)
class SetUp:
    """What is put where before the doors open."""

    chain: str
    leads: str
    changes: tuple[str, ...]
    tables: tuple[Table, ...]
    checks: tuple[Do, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """Songs that come last: spare songs, or the house sounds, with lines as on the floor page before their pages."""

    title: str
    floor: FloorSet
    songs: tuple[SongPage, ...]


@dataclass(frozen=True, slots=True)
class GigView:
    """A gig's sheet in words. `bearing` stands on every page: gig, rig, date, revision."""

    gig: str
    place: str
    rig: str
    date: str
    revision: str
    paper: Paper
    floor: tuple[FloorSet, ...]
    set_up: SetUp
    songs: tuple[SongPage, ...]
    last: tuple[Section, ...]
    floor_legend: tuple[str, ...]
    legend: tuple[str, ...]

    @property
    def bearing(self) -> tuple[str, ...]:
        """What every page bears beside its number."""
        return tuple(part for part in (self.gig, self.rig, self.date, self.revision) if part)


def texts_of(value: Any) -> Iterator[str]:
    """Yield every text in a view, so that a renderer can see beforehand whether it can draw them."""
    if isinstance(value, str):
        yield str(value)
    elif isinstance(value, tuple):
        for item in value:
            yield from texts_of(item)
    elif is_dataclass(value):
        for field in fields(value):
            yield from texts_of(getattr(value, field.name))
