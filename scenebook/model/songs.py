"""Songs: tempo, metre and key, the scenes, and the form in which they are played."""

import re
from functools import cached_property
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from scenebook.model.base import Frozen, Line, Name, Prose, Setting

__all__ = [
    "Form",
    "FormEntry",
    "Instrument",
    "Metre",
    "PlayedInstrument",
    "Scene",
    "Seconds",
    "Song",
    "Tempo",
    "bar_ms",
    "seconds",
]

Tempo = Annotated[float, Field(ge=20, le=400)]


def _metre(text: str) -> str:
    found = re.fullmatch(r"([1-9]\d?)/(1|2|4|8|16|32)", text)
    if found is None:
        raise ValueError("a metre is written as 4/4, 6/8, 7/8 or the like")
    return text


Metre = Annotated[Line, AfterValidator(_metre)]


def seconds(text: str) -> float:
    """Return the seconds of a length written as "3:40", "20 s", "2 min" or a plain number of seconds.

    Raises:
        ValueError: the text is none of these.
    """
    found = re.fullmatch(r"(?:(\d+):([0-5]\d))|(?:(\d+(?:\.\d+)?)\s*(s|min)?)", text.strip())
    if found is None:
        raise ValueError("a length is written as 3:40, 20 s or 2 min")
    if found[1] is not None:
        return int(found[1]) * 60.0 + int(found[2])
    return float(found[3]) * (60 if found[4] == "min" else 1)


def _length(text: str) -> str:
    seconds(text)
    return text


Seconds = Annotated[Line, AfterValidator(_length)]


class Instrument(Frozen):
    """What the player plays: its name, tuning and capo. Another one is a move between scenes."""

    name: Name
    tuning: Line = ""
    capo: Annotated[int, Field(ge=0, le=24)] = 0

    def __str__(self) -> str:
        """Say it as a player would: "viola, C G D A, capo 2"."""
        return ", ".join(part for part in (self.name, self.tuning, f"capo {self.capo}" if self.capo else "") if part)


def _short_instrument(value: Any) -> Any:
    return {"name": value} if isinstance(value, str) else value


PlayedInstrument = Annotated[Instrument, BeforeValidator(_short_instrument, json_schema_input_type=str | Instrument)]


class Scene(Frozen):
    """The whole state of the rig for one part of a song.

    A unit that is not named stands as at home. `colours` are the things that may be missing without losing the scene,
    as "unit" or "unit.member"; all else that the scene names is a must. `triggers` fire once on entry ("unit.trigger").
    """

    units: dict[Name, Setting] = Field(default_factory=dict)
    colours: tuple[Line, ...] = ()
    triggers: tuple[Line, ...] = ()
    instrument: PlayedInstrument | None = None
    level: Annotated[float, Field(ge=-100, le=50)] | None = Field(
        default=None,
        description="how loud it is in dB, measured or by ear, against the player's other scenes",
    )
    notes: Prose = ""


class FormEntry(Frozen):
    """One part of the form: a scene, its bars, how many bars at its end leave the hands free, and cue words."""

    scene: Name
    bars: Annotated[float, Field(gt=0, le=999)] | None = None
    free: Annotated[float, Field(ge=0, le=999)] = 0
    words: Line = Field(default="", description="a lyric, a fill, who counts in")


def _short_entry(value: Any) -> Any:
    return {"scene": value} if isinstance(value, str) else value


Entry = Annotated[FormEntry, BeforeValidator(_short_entry, json_schema_input_type=str | FormEntry)]
Form = tuple[Entry, ...]


class Song(Frozen):
    """A song. A chorus is stored once: the form names the scenes in the order in which they are played."""

    tempo: Tempo | None = Field(default=None, description="quarter notes a minute")
    metre: Metre = "4/4"
    key: Line = ""
    length: Seconds | None = None
    number: Annotated[int, Field(ge=0, le=127)] | None = Field(
        default=None, description="the number by which a playback rig calls it"
    )
    instrument: PlayedInstrument | None = None
    scenes: dict[Name, Scene] = Field(default_factory=dict)
    form: Form = ()
    notes: Prose = ""

    @cached_property
    def played(self) -> Form:
        """The form, or each scene once in the order written where no form is given."""
        return self.form or tuple(FormEntry(scene=name) for name in self.scenes)


def bar_ms(tempo: float | None, metre: str) -> float | None:
    """Return the length of one bar in ms; nothing without a tempo. Tempo counts quarter notes in every metre."""
    if tempo is None:
        return None
    beats, value = metre.split("/")
    return 60_000 / tempo * 4 * int(beats) / int(value)
