"""Make parts of a library out of what a player gave at the terminal, with errors in a player's words."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import BaseModel, ValidationError

from scenebook.errors import BadValueError
from scenebook.model.base import place_text
from scenebook.storage.marks import Kind, fold
from scenebook.storage.words import format_faults

if TYPE_CHECKING:
    from scenebook.storage.store import Store

__all__ = ["check_is_new", "containing", "given", "made"]

Made = TypeVar("Made", bound=BaseModel)


def made(model: type[Made], values: Mapping[str, Any], where: str) -> Made:
    """Return the part of a library that `values` say.

    Raises:
        FormatError: a value is not accepted; `where` is its place.
    """
    try:
        return model.model_validate(values)
    except ValidationError as error:
        raise next(format_faults(model, error)).at(where) from None


def given(**values: Any) -> dict[str, Any]:
    """Return what was given at all: without None, False, empty texts, lists and mappings; 0 was given."""
    return {key: v for key, v in values.items() if v is not None and v is not False and v not in ("", [], (), {})}


def check_is_new(store: "Store", kind: Kind, name: str) -> None:
    """Refuse to put a new thing in the place of one of that name.

    Raises:
        BadValueError: there is one already.
    """
    wanted = fold(name.strip())
    twin = next((known for known in store.names(kind) if fold(known) == wanted), None)
    if twin is not None:
        raise BadValueError(
            "there is one of that name already", where=place_text(kind, twin), remedy="Choose another name"
        )


def containing(text: str, *places: str) -> bool:
    """Tell whether a text occurs in any of the places, capitals aside; an empty text is everywhere."""
    wanted = text.casefold()
    return any(wanted in place.casefold() for place in places)
