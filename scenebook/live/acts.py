"""What can be asked of a running gig, by a key, a page, a pedal or the playback rig: one value for each step."""

from dataclasses import dataclass
from enum import StrEnum

from scenebook.live.places import Place

__all__ = ["Act", "Verb"]


class Verb(StrEnum):
    """The caller's steps, then what is changed for tonight, then what concerns the machine."""

    NEXT = "next"
    BACK = "back"
    GO = "go"  # to a place: a song, a cue, a spare song, a house sound
    AGAIN = "send again"
    SAFE = "safe"  # a second time: back from safe
    RESUME = "resume the set"
    OUT = "out"  # a unit
    IN = "in"  # a unit that was out, or played by another, is itself again
    PLAYED_BY = "played by"  # a unit, by `other`
    DEAF = "deaf from here"  # a unit, and all that hear through its thru
    HEARS = "hears again"
    KEY = "key"  # of the song at `place`, `text`; "" takes it back
    TEMPO = "tempo"  # of the song at `place`, `text`
    CUT = "cut"  # the entry of a form at `place`
    KEEP = "keep"  # an entry that was cut
    CHECK = "line check"  # begin it; while it goes on, end it
    LEARN = "learn"  # the next message that comes in does `text`, a verb; "" ends it
    TAKE = "take over"  # this stand sends from now on
    YIELD = "yield"  # another stand sends from now on


@dataclass(frozen=True, slots=True)
class Act:
    """One thing asked, and by what: "key", "page", "footswitch note 60", "playback program 4"."""

    verb: Verb
    by: str = ""
    place: Place | None = None
    unit: str = ""
    other: str = ""
    text: str = ""
