"""What a rig may weigh, count, cost, cover or draw: limits as a player writes them, and what each unit counts."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from scenebook.errors import BadValueError
from scenebook.model import Unit
from scenebook.model.amounts import counted, number_words
from scenebook.model.base import did_you_mean, listed

__all__ = ["LIMITS", "Limit", "limit_on", "read_limits"]


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


def _one(unit: Unit) -> float:
    return 0.0 if unit.outlets else 1.0  # a supply is told apart from the units that it feeds: kinds.units_words


def _price(unit: Unit) -> float | None:
    return 0.0 if unit.owned else unit.price


LIMITS: Mapping[str, _Kind] = {
    "weight": _Kind(lambda u: u.weight_g, {"g": 1.0, "kg": 1000.0}, "9kg or 850g", 1000.0, "one more kilogram", "kg"),
    "units": _Kind(_one, {"": 1.0, "units": 1.0, "unit": 1.0}, "a whole number, such as 8", 1.0, "one more unit", ""),
    "price": _Kind(_price, {"": 1.0}, "500, in the library's own money", 100.0, "100 more to spend", ""),
    "area": _Kind(
        lambda u: u.size.width * u.size.depth / 100 if u.size else None,
        {"cm2": 1.0, "cm²": 1.0, "mm2": 0.01, "mm²": 0.01, "m2": 10_000.0, "m²": 10_000.0},
        "1800cm2 or 0.18m2",
        100.0,
        "100 cm² more",
        "cm²",
    ),
    "width": _Kind(
        lambda u: u.size.width if u.size else None, {"mm": 1.0, "cm": 10.0}, "600mm or 60cm", 100.0, "10 cm more", "mm"
    ),
    "current": _Kind(_current, {"ma": 1.0, "a": 1000.0}, "500mA or 1.2A", 100.0, "100 mA more", "mA"),
}
"""Every property that can be limited, by the name that a player writes."""

_MOST = 1e12  # of anything, in its smallest measure
_WRITTEN = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*([^\W\d_]*[2²]?)", re.IGNORECASE)


class Limit(NamedTuple):
    """A limit on all carried units together: what each counts (nothing where it is not known), and the most."""

    name: str
    counts: Mapping[str, float | None]
    most: float
    step: float = 1.0
    step_words: str = "one more"

    @property
    def unknown(self) -> tuple[str, ...]:
        """The units of which nobody knows what they count."""
        return tuple(name for name, count in self.counts.items() if count is None)

    def words(self, amount: float | None = None) -> str:
        """Return an amount of it, or the limit itself, as a player writes it: "5.945 kg", "8 units"."""
        value = self.most if amount is None else amount
        if self.name == "units":
            return counted(int(value), "unit")
        return f"{self.figure(value)} {LIMITS[self.name].shown}".strip()

    def figure(self, amount: float) -> str:
        """Return an amount of it without its measure: "5.945"."""
        kind = LIMITS[self.name]
        return number_words(amount / kind.writings.get(kind.shown.lower(), 1.0), 3)


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
            remedy = did_you_mean(name, LIMITS) if name not in LIMITS else ""
            what = f"no property {name!r} can be limited" if sign else "a limit is written as PROPERTY=MOST"
            raise BadValueError(what, where=where, accepted=listed(LIMITS), remedy=remedy)
        if name in found:
            raise BadValueError(f"{name} is limited twice", where=where, remedy="Give each property one limit")
        found[name] = limit_on(name, units)._replace(most=_amount(amount, name, where))
    return tuple(found.values())


def limit_on(name: str, units: Mapping[str, Unit]) -> Limit:
    """Return a limit on a property that nothing exceeds yet.

    Raises:
        BadValueError: an unknown property.
    """
    kind = LIMITS.get(name)
    if kind is None:
        raise BadValueError(
            f"no property {name!r} can be limited", accepted=listed(LIMITS), remedy=did_you_mean(name, LIMITS)
        )
    counts = {unit: kind.of(described) for unit, described in units.items()}
    return Limit(name, counts, _MOST, kind.step, kind.step_words)


def _amount(text: str, name: str, where: str) -> float:
    """Return an amount of a property in the measure in which units count it."""
    kind, match = LIMITS[name], _WRITTEN.fullmatch(text)
    factor = kind.writings.get(match[2].lower()) if match else None
    if match is None or factor is None:
        raise BadValueError(_unread(text, name, match[2] if match else None), where=where, accepted=kind.example)
    value = float(match[1].replace(",", ".")) * factor
    if value < 0:
        raise BadValueError(f"{text!r} is negative", where=where, accepted=kind.example)
    if value > _MOST:
        raise BadValueError(f"{text!r} is more than anybody carries", where=where, accepted=kind.example)
    if name == "units" and not value.is_integer():
        raise BadValueError(f"{text!r} is no whole number of units", where=where, accepted=kind.example)
    return value


def _unread(text: str, name: str, measure: str | None) -> str:
    """Return why an amount cannot be read; `measure` is what stands behind its number, nothing where there is none."""
    if not text:
        return "no amount is given"
    if measure is None:
        return f"{text!r} cannot be read as an amount"
    return f"{measure!r} is no measure of {name}" if measure else f"{text!r} has no unit of measure"
