"""A whole library, or the part of it that a command touches."""

from typing import Annotated

from pydantic import Field

from scenebook.model.base import Frozen, Name
from scenebook.model.gigs import Gig
from scenebook.model.practice import Practice
from scenebook.model.programs import Milliseconds
from scenebook.model.rigs import Rig
from scenebook.model.songs import Song
from scenebook.model.units import Unit
from scenebook.model.values import CONCERT_A

__all__ = ["Library", "Settings"]


class Settings(Frozen):
    """What holds for the whole library: the tuning, and how long hands and feet take.

    The times are common practice, with no source; measure your own and write them here.
    """

    tuning: Annotated[float, Field(ge=390, le=470)] = Field(default=CONCERT_A, description="Hz of A4")
    press_ms: Milliseconds = Field(default=700, description="one press of a footswitch")
    turn_ms: Milliseconds = Field(default=2500, description="one knob or hand switch")
    pedal_ms: Milliseconds = Field(default=1000, description="one expression pedal")
    instrument_ms: Milliseconds = Field(default=20_000, description="another instrument, tuning or capo")
    practice: Practice = Field(default=Practice(), description="common practice that planning leans on")


class Library(Frozen):
    """Units, rigs, songs and gigs by name, and the settings. A command loads only the part that it touches."""

    settings: Settings = Settings()
    units: dict[Name, Unit] = Field(default_factory=dict)
    rigs: dict[Name, Rig] = Field(default_factory=dict)
    songs: dict[Name, Song] = Field(default_factory=dict)
    gigs: dict[Name, Gig] = Field(default_factory=dict)
