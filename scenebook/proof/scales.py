"""What a member holds: a switch on or off, a control a step of 0-127 where its range is known (S10)."""

from scenebook.model import Switch, Unit
from scenebook.model.values import read_value, step_of

__all__ = ["Value", "held"]

Value = str | int | float


def held(unit: Unit, member: str, text: str, tempo: float | None, tuning: float) -> Value:
    """Return what `member` holds when it stands at `text`.

    A switch: "on" or "off". A choice: the number that its message carries, else its place. A control: its step, or
    its plain number where no range is known.

    Raises:
        BadValueError: the text is off the scale, or a note value has no tempo.
    """
    thing = unit.members[member]
    if isinstance(thing, Switch):
        return text
    number = read_value(text, thing.scale, tempo=tempo, tuning=tuning, choices=thing.choices)
    if thing.choices:
        return thing.message.values[thing.choices[int(number)]] if thing.message else int(number)
    step = step_of(number, *thing.range) if thing.range else None
    return number if step is None else step
