"""What a unit's members take from another's, and what its messages must be."""

from typing import Any

import pytest
from pydantic import ValidationError

from scenebook.model import Control, Switch
from scenebook.model.units import SwitchMessage, value_over

CLOCK = Control(scale="clock")
PERCENT = Control(scale="percent", message={"controller": 20})
HALF = Control(scale="percent", message={"controller": 20, "range": ("0", "50")})
ROOMS = Control(scale="choice", choices=("room", "hall"))
HALLS = Control(scale="choice", choices=("hall", "church"))
TIME = Control(scale="note value", message={"controller": 20, "range": ("20 ms", "1 s")})


@pytest.mark.parametrize(
    ("text", "old", "new", "carried"),
    [
        ("on", Switch(), Switch(), "on"),
        ("on", Switch(), CLOCK, None),
        ("leave", CLOCK, PERCENT, "leave"),
        ("12 o'clock", CLOCK, CLOCK, "12 o'clock"),
        ("12 o'clock", CLOCK, PERCENT, "50 %"),
        ("90", PERCENT, HALF, None),
        ("40", PERCENT, HALF, "40"),
        ("hall", ROOMS, HALLS, "hall"),
        ("room", ROOMS, HALLS, None),
        ("hall", ROOMS, CLOCK, None),
        ("1/8.", TIME, TIME, "1/8."),
    ],
)
def test_a_value_carries_over_where_the_other_member_has_it(text: str, old: Any, new: Any, carried: str | None) -> None:
    """By scale, and within what its message can set: what cannot be said is lost, and never half said."""
    assert value_over(text, old, new) == carried


def test_on_and_off_need_different_bytes() -> None:
    """A unit that takes one message for both has a toggle."""
    with pytest.raises(ValidationError, match="a message that flips the switch is a toggle"):
        SwitchMessage(on_bytes="Bn 50 7F", off_bytes="Bn 50 7F")
