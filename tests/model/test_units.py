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


@pytest.mark.parametrize(
    ("control", "slack"),
    [
        (CLOCK, 0.05),  # half an hour of ten
        (Control(scale="clock", tolerance="20 min"), 1 / 30),
        (Control(scale="0 to 10"), 0.5),
        (PERCENT, 5.0),
        (HALF, 5.0),  # of the scale, not of what its message can set
        (Control(scale="dB", message={"controller": 7, "range": ("-20", "0")}), 1.0),
        (Control(scale="dB"), 0.0),
        (Control(scale="dB", tolerance="2 dB"), 2.0),
    ],
)
def test_a_knob_may_stand_a_little_off(control: Control, slack: float) -> None:
    """Half an hour of the clock, a twentieth of any other scale whose ends are known, unless the player says."""
    assert control.slack == pytest.approx(slack)
