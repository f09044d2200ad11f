"""What a rig may weigh, count, cost, cover or draw: limits as a player writes them, and what each unit counts."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from scenebook.errors import BadValueError
from scenebook.model import Unit
from scenebook.model.base import did_you_mean, listed

__all__ = ["LIMITS", "Limit", "read_limits"]


class _Kind(NamedTuple):
    """A property that can be limited: what a unit counts, how it is written, and a step that a player would add."""

    of: Callable[[Unit], float | None]
    writings: Mapping[str, float]
    example: str
    step: float
    step_words: str
    shown: str  # the unit that it is told in


def _current(unit: Unit) -> float | None:
    if unit.outlets:
        return 0.0  # it feeds others, from the mains
    if unit.supply is None:
        return None
    return 0.0 if unit.supply.none or unit.supply.own else unit.supply.ma


def _price(unit: Unit) -> float | None:
    return 0.0 if unit.owned else unit.price


LIMITS: Mapping[str, _Kind] = {
    "weight": _Kind(lambda u: u.weight_g, {"g": 1.0, "kg": 1000.0}, "9kg or 850g", 1000.0, "one more kilogram", "kg"),
    "units": _Kind(lambda u: 1.0, {"": 1.0, "units": 1.0}, "8", 1.0, "one more unit", ""),
    "price": _Kind(_price, {"": 1.0}, "500, in the library's own money", 100.0, "100 more of money", ""),
    "area": _Kind(
        lambda u: u.size.width * u.size.depth / 100 if u.size else None,
        {"cm2": 1.0, "cm²": 1.0, "mm2": 0.01, "mm²": 0.01, "m2": 10_000.0, "m²": 10_000.0},
        "1800cm2 or 0.18m2",
        100.0,
        "100 cm² more",
        "cm2",
    ),
    "width": _Kind(
        lambda u: u.size.width if u.size else None, {"mm": 1.0, "cm": 10.0}, "600mm or 60cm", 100.0, "10 cm more", "mm"
    ),
    "current": _Kind(_current, {"ma": 1.0, "a": 1000.0}, "500mA or 1.2A", 100.0, "100 mA more", "mA"),
}
"""Every property that can be limited, by the name that a player writes."""

_WRITTEN = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*([a-zµ²]*2?)", re.IGNORECASE)


class Limit(NamedTuple):
    """A limit on all carried units together: what each counts (nothing where it is not known), and the most."""

    name: str
    counts: Mapping[str, float | None]
    most: float
    step: float = 1.0
    step_words: str = "one more"

    def words(self, amount: float | None = None) -> str:
        """Return an amount of it, or the limit itself, as a player writes it."""
        value, kind = self.most if amount is None else amount, LIMITS.get(self.name)
        shown = kind.shown if kind else ""
        value /= kind.writings.get(shown.lower(), 1.0) if kind else 1.0
        return f"{value:.6g} {shown}".strip()


def read_limits(texts: Sequence[str], units: Mapping[str, Unit]) -> tuple[Limit, ...]:
    """Return limits written as "weight=9kg", each property once.

    Raises:
        BadValueError: an unknown property, one given twice, a negative number, or a number without its unit.
    """
    found: dict[str, Limit] = {}
    for text in texts:
        name, sign, amount = (part.strip() for part in text.partition("="))
        where = f"the limit {text!r}"
        name = name.casefold()
        if not sign or name not in LIMITS:
            remedy = did_you_mean(name, LIMITS)
            what = f"no property {name!r} can be limited" if sign else "a limit is written as PROPERTY=MOST"
            raise BadValueError(what, where=where, accepted=listed(LIMITS), remedy=remedy)
        if name in found:
            raise BadValueError(f"{name} is limited twice", where=where, remedy="Give each property one limit")
        kind = LIMITS[name]
        counts = {unit: kind.of(described) for unit, described in units.items()}
        found[name] = Limit(name, counts, _amount(amount, kind, where), kind.step, kind.step_words)
    return tuple(found.values())


def _amount(text: str, kind: _Kind, where: str) -> float:
    match = _WRITTEN.fullmatch(text)
    factor = kind.writings.get(match[2].lower()) if match else None
    if match is None or factor is None:
        missing = match is not None and not match[2]
        what = f"{text!r} has no unit of measure" if missing else f"{text!r} cannot be read"
        raise BadValueError(what, where=where, accepted=kind.example)
    value = float(match[1].replace(",", ".")) * factor
    if value < 0:
        raise BadValueError(f"{text!r} is negative", where=where, accepted=kind.example)
    return value
