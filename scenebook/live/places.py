"""Where a gig stands: a place keeps its meaning when a verse is cut or a song is called that is not in the set."""

from enum import StrEnum
from typing import NamedTuple

__all__ = ["HOME", "SAFE", "Part", "Place"]


class Part(StrEnum):
    """Which part of the evening a place is in."""

    SET = "set"
    SPARE = "spare song"
    HOUSE = "house sound"
    SAFE = "safe"


class Place(NamedTuple):
    """One cue of an evening.

    `entry` counts from 0 the songs of all sets, or the spare songs, as the gig lists them; `form` counts from 0 the
    entries of the form as the gig or the song gives it, those that are cut tonight included.
    """

    part: Part
    entry: int
    form: int


HOME = Place(Part.SET, -1, 0)  # cue 0
SAFE = Place(Part.SAFE, 0, 0)
