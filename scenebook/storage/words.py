"""Say in a player's words what pydantic finds wrong with a file, each fault with its path."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from scenebook.errors import FormatError, Path
from scenebook.model.base import did_you_mean
from scenebook.storage.shapes import Shape, is_whole, known_keys, limits, shape_at, without_arms

__all__ = ["format_faults"]

_Details = Mapping[str, Any]


def format_faults(model: type[BaseModel], error: ValidationError) -> Iterator[FormatError]:
    """Yield one error for each place that pydantic complains of; of a union's several, the one that got furthest."""
    by_place: dict[Path, list[_Details]] = {}
    for details in error.errors(include_url=False):
        by_place.setdefault(without_arms(model, details["loc"]), []).append(details)
    for place, all_details in by_place.items():
        furthest = max(len(details["loc"]) for details in all_details)
        said = [_said(model, details, place) for details in all_details if len(details["loc"]) == furthest]
        found, _, remedy = said[-1]
        accepted = ", or ".join(dict.fromkeys(words for _, words, _ in said if words))
        yield FormatError(found, accepted=accepted, remedy=remedy, path=all_details[-1]["loc"])


def _said(model: type[BaseModel], details: _Details, place: Path) -> tuple[str, str, str]:
    """Return what was found, what is accepted, what to do."""
    kind, path, value = details["type"], details["loc"], details["input"]
    if kind == "extra_forbidden":
        return _unknown_key(shape_at(model, path[:-1]), str(path[-1]))
    if kind == "missing":
        return f"{path[-1]!r} is missing", "", f"Write {path[-1]}: and its value"
    if kind in ("value_error", "assertion_error"):
        return str(details["ctx"]["error"]), "", ""
    found = f"found {_shown(value)}"
    key = next((key for key in reversed(place) if isinstance(key, str)), None)
    where = f" for {key!r}" if key else ""
    return f"{found}{where}", _accepted(kind, details.get("ctx", {}), shape_at(model, path)), ""


def _unknown_key(shape: Shape, key: str) -> tuple[str, str, str]:
    known = known_keys(shape)
    remedy = did_you_mean(key, known)
    return f"the key {key!r} is not known here", "" if remedy else ", ".join(known), remedy


def _accepted(kind: str, context: _Details, shape: Shape) -> str:
    for beginning, words in _ACCEPTED.items():
        if kind.startswith(beginning):
            return words(context, shape)
    return "something else" if "expected" not in context else str(context["expected"])


def _number(_: _Details, shape: Shape) -> str:
    limit, what = limits(shape), "a whole number" if is_whole(shape) else "a number"
    if "ge" in limit and "le" in limit:
        return f"{what} from {limit['ge']} to {limit['le']}"
    low = f" from {limit['ge']} up" if "ge" in limit else f" above {limit['gt']}" if "gt" in limit else ""
    return f"{what}{low}, at most {limit['le']}" if "le" in limit else f"{what}{low}"


def _expected(context: _Details, _: Shape) -> str:
    return str(context["expected"]).replace("'", "").replace(" or ", ", ")


def _text(_: _Details, shape: Shape) -> str:
    limit = limits(shape)
    size = f" of at most {limit['max_length']} characters" if "max_length" in limit else ""
    return f"text{size}{' on one line' if 'pattern' in limit else ''}"


_ACCEPTED: dict[str, Callable[[_Details, Shape], str]] = {
    "int_": _number,
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
