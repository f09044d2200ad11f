"""Say in a player's words what pydantic finds wrong with a file, each fault with its path."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from scenebook.errors import FormatError
from scenebook.model import near_name
from scenebook.storage.shapes import Shape, known_keys, limits, shape_at

__all__ = ["format_faults"]

_Details = Mapping[str, Any]


def format_faults(model: type[BaseModel], error: ValidationError) -> Iterator[FormatError]:
    """Yield one error for each place that pydantic complains of; a union's other complaints of a place are left out."""
    seen: set[tuple[int | str, ...]] = set()
    for details in error.errors(include_url=False):
        path = tuple(details["loc"])
        place = path[: _union_at(path)]
        if place not in seen:
            seen.add(place)
            found, accepted, remedy = _said(model, details)
            yield FormatError(found, accepted=accepted, remedy=remedy, path=path)


def _union_at(path: tuple[int | str, ...]) -> int:
    """Return where a path stops being keys: pydantic names the arm of a union in brackets or by its class."""
    for index, key in enumerate(path):
        if isinstance(key, str) and (key in _ARMS or "[" in key):
            return index
    return len(path)


_ARMS = ("constrained-str", "Parallel", "FormEntry", "SetEntry", "Instrument", "Control")


def _said(model: type[BaseModel], details: _Details) -> tuple[str, str, str]:
    """Return what was found, what is accepted, what to do."""
    kind, path, value = details["type"], details["loc"], details["input"]
    if kind == "extra_forbidden":
        return _unknown_key(shape_at(model, path[:-1]), str(path[-1]))
    if kind == "missing":
        return f"{path[-1]!r} is missing", "", f"Write {path[-1]}: and its value"
    if kind in ("value_error", "assertion_error"):
        return str(details["ctx"]["error"]), "", ""
    found = f"found {_shown(value)}"
    where = f" for {_key_of(path)!r}" if _key_of(path) else ""
    return f"{found}{where}", _accepted(kind, details.get("ctx", {}), shape_at(model, path)), ""


def _unknown_key(shape: Shape, key: str) -> tuple[str, str, str]:
    known = known_keys(shape)
    near = near_name(key, known)
    accepted = "" if near else ", ".join(known)
    return f"the key {key!r} is not known here", accepted, f"Did you mean {near!r}" if near else ""


def _accepted(kind: str, context: _Details, shape: Shape) -> str:
    for beginning, words in _ACCEPTED.items():
        if kind.startswith(beginning):
            return words(context, limits(shape))
    return "something else" if "expected" not in context else str(context["expected"])


def _number(_: _Details, limit: _Details, what: str = "a number") -> str:
    low = limit.get("ge", limit.get("gt"))
    above = "above " if "gt" in limit else ""
    if low is None:
        return what
    return f"{what} from {above}{low:g} to {limit['le']:g}" if "le" in limit else f"{what} of {above}{low:g} or more"


def _whole(context: _Details, limit: _Details) -> str:
    return _number(context, limit, "a whole number")


def _expected(context: _Details, _: _Details) -> str:
    return str(context["expected"]).replace("'", "").replace(" or ", ", ")


def _text(_: _Details, limit: _Details) -> str:
    return f"text of at most {limit['max_length']} characters on one line" if "max_length" in limit else "text"


_ACCEPTED: dict[str, Callable[[_Details, _Details], str]] = {
    "int_": _whole,
    "float_": _number,
    "finite_number": _number,
    "greater_than": _number,
    "less_than": _number,
    "bool_": lambda *_: "true or false",
    "enum": _expected,
    "literal_error": _expected,
    "string_": _text,
    "tuple_": lambda *_: "a list",
    "list_": lambda *_: "a list",
    "too_": lambda *_: "a list of another length",
    "dict_": lambda *_: "keys with values",
    "model_": lambda *_: "keys with values",
    "date_": lambda *_: "a day such as 2026-05-01",
}


def _shown(value: Any) -> str:
    if value is None or value == {}:
        return "nothing"
    if isinstance(value, dict):
        return "keys with values"
    if isinstance(value, (list, tuple)):
        return "a list"
    text = str(value)
    return repr(text if len(text) <= 60 else text[:57] + "...")


def _key_of(path: tuple[int | str, ...]) -> str:
    keys = [key for key in path[: _union_at(path)] if isinstance(key, str)]
    return keys[-1] if keys else ""
