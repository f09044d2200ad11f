"""Gigs: the evening with its rig, sets of songs in order, spare songs and house sounds."""

import datetime
from functools import cached_property
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, model_validator

from scenebook.model.base import Frozen, Line, Name, Prose
from scenebook.model.songs import Form, Seconds, Tempo

__all__ = ["Gig", "GigSet", "SetEntry"]


class SetEntry(Frozen):
    """A song in a set. What is given here counts for this gig alone; the song stays as it is.

    `gap` is the pause after the song; after a `segue` the next song begins on the next bar, and `leave` carries over.
    """

    song: Name
    key: Line | None = None
    tempo: Tempo | None = None
    form: Form | None = None
    notes: Prose = ""
    gap: Seconds | None = None
    segue: bool = False

    @model_validator(mode="after")
    def _gap_or_segue(self) -> Self:
        if self.segue and self.gap is not None:
            raise ValueError("a segue has no gap")
        return self


def _short_entry(value: Any) -> Any:
    return {"song": value} if isinstance(value, str) else value


Entry = Annotated[SetEntry, BeforeValidator(_short_entry, json_schema_input_type=str | SetEntry)]


class GigSet(Frozen):
    """One half of an evening: songs in order, and the pause after it."""

    name: Name
    songs: tuple[Entry, ...] = ()
    interval: Seconds | None = Field(default=None, description="the pause after this set")


class Gig(Frozen):
    """The evening. `rig` is what travels, `house` the song whose scenes are the house sounds.

    `gap` is the pause between songs unless an entry gives its own. A unit that is `out` is not there tonight; one that
    is `played_by` another has it in its place, with slots matched by name and values by scale.
    """

    date: datetime.date | None = None
    place: Line = ""
    rig: Name | None = None
    sets: tuple[GigSet, ...] = ()
    spares: tuple[Entry, ...] = ()
    house: Name | None = None
    gap: Seconds | None = None
    out: tuple[Name, ...] = ()
    played_by: dict[Name, Name] = Field(default_factory=dict)
    notes: Prose = ""

    @cached_property
    def entries(self) -> tuple[SetEntry, ...]:
        """The songs of all sets, in order."""
        return tuple(entry for part in self.sets for entry in part.songs)

    @cached_property
    def songs(self) -> tuple[str, ...]:
        """Every song that the gig names, each once: sets, spares, house sounds."""
        named = [entry.song for entry in (*self.entries, *self.spares)]
        return tuple(dict.fromkeys([*named, *([self.house] if self.house else [])]))
