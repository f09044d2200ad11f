"""Made-up rigs for boards: so many units of fixed sizes in a chain, pressed now and then, fed by one supply."""

from itertools import pairwise
from typing import Any

from scenebook.model import Library, Unit
from scenebook.planning.board import BoardPlan
from tests.support import build
from tests.support.build import library, rig, song

__all__ = ["backward_steps", "rig_of", "supply_of"]

_SIDES = (("left", "right"), ("top",), ("left", "right", "top"), ("top",), ("top", "right"))
_NAMES = (
    *("tuner, stage", "octave down", "fuzz, silicon", "drive, soft", "filter, envelope", "phaser, slow"),
    *("tremolo, harmonic", "delay, tape voiced", "reverb, plate", "looper, two tracks", "pitch shifter"),
    *("ring modulator", "rotary, small", "equaliser, seven bands with sliders and a long name"),
)


def rig_of(count: int) -> Library:
    """Return a library with one rig of so many units (up to 14) and a supply of eight outlets; one gig presses them."""
    units = {name: _unit(at) for at, name in enumerate(_NAMES[:count])}
    scenes = {f"scene {n}": {name: "on" for at, name in enumerate(units) if (at * 5 + n * 3) % 7 < 3} for n in range(5)}
    units["supply, eight outlets"] = supply_of(8)
    of_rig = rig(*_NAMES[:count], supply="supply, eight outlets")
    return library(units, of_rig, song(scenes, *(f"scene {n * n % 5}" for n in range(12))))


def supply_of(outlets: int, ma: float = 300, **said: Any) -> Unit:
    """Return a supply with so many equal outlets."""
    each = {"volts": "9", "polarity": "centre negative", "plug": "5.5 x 2.1 mm", "ma": ma, "isolated": True}
    taken = {"volts": "100-240", "current": "AC", "plug": "mains"}
    named = [{"name": str(number + 1), **each} for number in range(outlets)]
    said = {"size": {"width": 160, "depth": 66}, "jacks": ("top",), **said}
    return build.unit(switches={}, supply=taken, outlets=named, **said)


def backward_steps(plan: BoardPlan) -> list[float]:
    """Return by how many mm the signal runs to the right, from middle to middle, in a rig that is one plain chain."""
    middles = [each.x + each.outline.width / 2 for each in plan.placed if each.unit != plan.supply.supply]
    return [b - a for a, b in pairwise(middles) if b > a]


def _unit(at: int) -> Unit:
    switches = {"main": {"foot": True}, **({"hold": {"foot": True}, "tap": {"foot": True}} if at % 4 == 1 else {})}
    return build.unit(
        size={"width": 48 + at * 37 % 98, "depth": 90 + at * 23 % 50},
        jacks=_SIDES[at % 5],
        switches=switches,
        supply={"volts": "9", "polarity": "centre negative", "plug": "5.5 x 2.1 mm", "ma": 20 + at * 11 % 70},
    )
