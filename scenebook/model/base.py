"""What all parts of a library share: frozen, strict about keys, and small value types."""

from collections.abc import Iterable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema

from scenebook.errors import UnknownNameError

__all__ = ["MAIN", "Frozen", "Line", "Name", "Prose", "Setting", "did_you_mean", "find_name", "listed", "near_name"]
__all__ += ["place_text"]

MAIN = "main"  # the name of a unit's main switch: on, it sounds; off, it is bypassed

# A scalar in a file may look like a number or a truth value to others; for us it is the player's writing.
_SCALAR = WithJsonSchema({"type": ["string", "number", "boolean"]})

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\n\r\t]+$")]
Line = Annotated[str, StringConstraints(strip_whitespace=True, max_length=200, pattern=r"^[^\n\r]*$"), _SCALAR]
Prose = Annotated[str, StringConstraints(strip_whitespace=True, max_length=4000), _SCALAR]


class Frozen(BaseModel):
    """Base of everything in a library: it never changes once made, and an unknown key is an error."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", coerce_numbers_to_str=True, defer_build=True, allow_inf_nan=False
    )


def _expanded(value: Any) -> Any:
    """Write a shorthand setting out: `on`, `off` and `leave` are the main switch's or unit's, else a preset."""
    if isinstance(value, (dict, list, tuple)):
        return value
    text = str(value).strip()
    if text in ("on", "off"):
        return {MAIN: text}
    return {"leave": "unit"} if text == "leave" else {"preset": text}


# Nearly all are mappings, and those need no help from Python: a gig has thousands.
_Shorthand = Annotated[dict[Name, Line], BeforeValidator(_expanded, json_schema_input_type=str | int)]
Setting = Annotated[dict[Name, Line] | _Shorthand, Field(union_mode="left_to_right")]
"""What a scene, a home or a gig says of one unit: member to value, as the player writes it.

Three keys are not members: `preset` (its slot as the display shows it, or its name), `variant` (a variant of that
preset), and `leave: unit` (the whole unit stays as it was). A member's value may be `leave` as well.
"""


def find_name(text: str, names: Iterable[str], kind: str) -> str:
    """Return the one of `names` that `text` stands for: without regard to case, by unique beginning.

    Raises:
        UnknownNameError: nothing fits, or more than one does; the nearest are suggested.
    """
    known, wanted = list(names), text.strip().casefold()
    for exact in (text, *(name for name in known if name.casefold() == wanted)):
        if exact in known:
            return exact
    begun = [name for name in known if name.casefold().startswith(wanted)] if wanted else []
    if len(begun) == 1:
        return begun[0]
    if begun:
        raise UnknownNameError(
            f"{kind} {text!r} could be more than one",
            accepted=" or ".join(repr(name) for name in begun[:8]),
            remedy="Write more of the name",
        )
    remedy = did_you_mean(text, known) or ("" if known else f"There is no {kind} yet")
    raise UnknownNameError(f"no {kind} is called {text!r}", accepted="" if remedy else listed(known), remedy=remedy)


def near_name(text: str, names: Iterable[str]) -> str | None:
    """Return the name that looks most like `text`, if any does."""
    from difflib import get_close_matches  # late: only a mistake needs it

    by_fold = {name.casefold(): name for name in names}
    near = get_close_matches(text.strip().casefold(), by_fold, n=1, cutoff=0.6)
    return by_fold[near[0]] if near else None


def did_you_mean(text: str, names: Iterable[str]) -> str:
    """Return what an error suggests in place of `text`: the name that looks most like it, or nothing."""
    near = near_name(text, names)
    return f"Did you mean {near!r}" if near else ""


def listed(names: Iterable[str]) -> str:
    """Return names as an error says what is accepted: the first dozen, in quotes."""
    known = list(names)
    return ", ".join(repr(name) for name in known[:12]) + (" and others" if len(known) > 12 else "")


def place_text(kind: str, name: str, *rest: str | int) -> str:
    """Return a place in the player's words: "song 'Harbour', scenes, verse"."""
    return ", ".join([f"{kind} {name!r}", *(str(key) for key in rest)])
