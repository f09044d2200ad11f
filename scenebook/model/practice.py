"""Common practice that planning leans on: one table, and a library's settings may say otherwise.

None of these numbers and preferences has a source that binds: they are what players and technicians commonly do. They
are marked as such wherever they decide something, and library.yaml may override any of them under `practice`.
"""

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from scenebook.model.base import Frozen, Line
from scenebook.model.units import Role

__all__ = ["Practice", "Preference", "Trait"]

Share = Annotated[float, Field(ge=0, lt=1)]
Millimetres = Annotated[float, Field(ge=0, le=1000)]
Time = Annotated[float, Field(ge=0, le=36_000)]


class Trait(StrEnum):
    """What matters for a unit's place in the chain beside its roles."""

    LOW_IMPEDANCE_FUZZ = "low-impedance fuzz"
    BUFFER = "buffer"
    MONO = "mono"
    STEREO = "stereo"


class Preference(Frozen):
    """Two kinds of unit in the order that is preferred where both sound, and why."""

    first: Role | Trait
    then: Role | Trait
    reason: Line


def _each(first: tuple[Role, ...], then: tuple[Role, ...], reason: str) -> tuple[Preference, ...]:
    return tuple(Preference(first=a, then=b, reason=reason) for a in first for b in then)


_DRIVES, _WET = (Role.DRIVE, Role.FUZZ), (Role.MODULATION, Role.DELAY, Role.REVERB)

_ORDER: tuple[Preference, ...] = (
    Preference(
        first=Trait.LOW_IMPEDANCE_FUZZ,
        then=Trait.BUFFER,
        reason="a low-impedance fuzz wants the bare pickup, not a buffer before it",
    ),
    *_each(
        (Role.TUNER,),
        (Role.OCTAVE, Role.PITCH, Role.DYNAMICS, *_DRIVES, *_WET, Role.VOLUME, Role.LOOPER),
        "a tuner goes early: it hears the bare string, and also while the volume is down",
    ),
    *_each((Role.VOLUME,), (Role.DELAY, Role.REVERB, Role.LOOPER), "volume before delay and reverb: repeats ring on"),
    *_each((Role.OCTAVE, Role.PITCH), (*_DRIVES, *_WET), "a pitch tracker follows a clean note best"),
    *_each((Role.DYNAMICS,), (*_DRIVES, *_WET), "dynamics go early: later they level what came before"),
    *_each(_DRIVES, (Role.MODULATION,), "drive before modulation: after it, it smears the movement"),
    *_each(_DRIVES, (Role.DELAY, Role.REVERB), "drive before delay and reverb: after them, it thickens every repeat"),
    *_each((Role.MODULATION,), (Role.DELAY, Role.REVERB), "modulation before delay, so that repeats stay still"),
    *_each((Role.DELAY,), (Role.REVERB,), "delay before reverb, so that repeats stay clear"),
    *_each((*_DRIVES, *_WET), (Role.LOOPER,), "a looper goes late, so that it keeps the sound that was recorded"),
    Preference(
        first=Trait.MONO,
        then=Trait.STEREO,
        reason="nothing mono after a stereo unit: one side is lost",
    ),
)


class Practice(Frozen):
    """Common practice, with no source that binds; a library may override any of it.

    Shares are of 1, lengths in mm, times in s, impedance in kΩ.
    """

    order: tuple[Preference, ...] = Field(default=_ORDER, description="what goes before what where both sound")
    low_impedance_kohm: Annotated[float, Field(gt=0, le=10_000)] = Field(
        default=50, description="a fuzz whose input is lower than this wants no buffer before it"
    )
    headroom: Share = Field(default=0.2, description="the share of an outlet's mA that is kept free")
    surge: Annotated[float, Field(ge=1, le=10)] = Field(
        default=1.25, description="times its mA that a unit which boots takes at start-up"
    )
    colour_share: Share = Field(default=0.2, description="what a scene's worth loses for each colour it is without")
    plug_mm: Millimetres = Field(default=25, description="room for a plug beside a side with jacks: 15 to 30")
    footswitch_mm: Millimetres = Field(default=70, description="between the centres of two footswitches, at least")
    gap_mm: Millimetres = Field(default=5, description="between two units, at least")
    lead_s: Time = Field(default=20, description="one lead: found, run and plugged in")
    unit_s: Time = Field(default=30, description="one loose unit: out of its bag and in its place")
    loose_set_up_s: Time = Field(default=600, description="loose units, from bags to sound: about ten minutes")
    loose_strike_s: Time = Field(default=300, description="loose units back in their bags: about five minutes")
    board_set_up_s: Time = Field(default=50, description="a fixed board, from case to sound: under a minute")
    board_strike_s: Time = Field(default=50, description="a fixed board back in its case: under a minute")
    home_s: Time = Field(default=3, description="one knob or switch looked at and set to home")
    line_check_s: Time = Field(default=15, description="a line check: bare, and each thing that sounds once")
    lead_g: Annotated[float, Field(ge=0, le=10_000)] = Field(default=60, description="one short lead with two plugs")
    lift_g: Annotated[float, Field(gt=0, le=100_000)] = Field(
        default=23_000, description="more than one person lifts with ease: two people, or wheels"
    )
    bag_g: Annotated[float, Field(gt=0, le=100_000)] = Field(
        default=23_000, description="a checked bag at the usual limit; ask the airline"
    )
    cabin_g: Annotated[float, Field(gt=0, le=100_000)] = Field(
        default=8000, description="a cabin bag at a usual limit; ask the airline"
    )
