"""Units as objects: their outline, what they take from a supply, and what a supply's outlets give."""

import re
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from scenebook.model.base import Frozen, Line

__all__ = ["Current", "Outlet", "Polarity", "Size", "Supply", "volts_range"]

Current = Literal["DC", "AC"]
Polarity = Literal["centre negative", "centre positive"]
Milliamperes = Annotated[float, Field(ge=0, le=20_000)]

_VOLTS = re.compile(r"(\d+(?:\.\d+)?)\s*(?:V\s*)?(?:(?:-|–|to)\s*(\d+(?:\.\d+)?))?\s*V?", re.IGNORECASE)


class Size(Frozen):
    """The outline of a unit in mm."""

    width: Annotated[float, Field(gt=0, le=3000)]
    depth: Annotated[float, Field(gt=0, le=3000)]
    height: Annotated[float, Field(gt=0, le=3000)] | None = None


def volts_range(text: str) -> tuple[float, float] | None:
    """Return the lowest and the highest volts that a plate's words stand for: "9", "9-18", "9 to 18 V".

    Nothing where the words say something else: what is not understood is unknown, never guessed.
    """
    found = _VOLTS.fullmatch(text.strip())
    if found is None:
        return None
    low = float(found[1])
    high = float(found[2]) if found[2] else low
    return (low, high) if low <= high else None


def _without_its_unit(text: str) -> str:
    """Return volts as they are kept, of what a player wrote with the unit: "18V" is 18, "9 V to 18 V" is 9-18."""
    found = _VOLTS.fullmatch(text.strip())
    if found is None or "v" not in text.casefold():
        return text
    return "-".join(filter(None, found.groups()))


Volts = Annotated[Line, AfterValidator(_without_its_unit)]


class Supply(Frozen):
    """What a unit takes from its supply; the plate on the unit decides, not this note.

    `volts: none` says that the unit takes no supply at all. `positive_ground` says whether the housing of its circuit
    is its plus pole, so that it shares no ground with others; none where nobody said so. `own` says that it brings its
    own mains supply along.
    """

    volts: Volts = Field(description="as the plate says: 9, or 9-18; none for a unit that takes no supply")
    current: Current = "DC"
    polarity: Polarity | None = None
    ma: Milliamperes | None = None
    plug: Line = ""
    positive_ground: bool | None = Field(default=None, description="whether its ground is the plus pole")
    own: bool = Field(default=False, description="it has its own mains supply, and needs no outlet")

    @property
    def none(self) -> bool:
        """Whether the unit takes no supply at all."""
        return self.volts.casefold() in ("none", "0")


class Outlet(Frozen):
    """One outlet of a supply: what it gives, and the plug on its lead.

    `volts` is one number, or a range within which the outlet is set. `ma` is the most that it gives. `isolated` says
    that it shares no ground with the other outlets.
    """

    name: Line
    volts: Volts
    current: Current = "DC"
    polarity: Polarity | None = None
    plug: Line = ""
    ma: Milliamperes | None = None
    isolated: bool = False

    @model_validator(mode="after")
    def _volts_are_volts(self) -> Self:
        if volts_range(self.volts) is None:
            raise ValueError("an outlet's volts are written as 9, or 9-18")
        return self
