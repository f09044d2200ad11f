"""Ask the model's classes what stands at a place: which keys are known there, between which limits a number lies."""

from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from scenebook.errors import Path

__all__ = ["Shape", "is_whole", "known_keys", "limits", "shape_at", "without_arms", "without_nothing"]

Shape = tuple[Any, tuple[Any, ...]]
"""A type, and what its annotations and field say beside it."""


def shape_at(model: type[BaseModel], path: Path) -> Shape:
    """Return what is declared at `path`; what pydantic adds to a path (the arm of a union) is passed over."""
    shape: Shape = (model, ())
    for key in path:
        shape = _inside(shape, key) or shape
    return shape


def without_arms(model: type[BaseModel], path: Path) -> Path:
    """Return a path up to where pydantic names the arm of a union that it tried."""
    shape: Shape = (model, ())
    for index, key in enumerate(path):
        inner = _inside(shape, key)
        if inner is None and sum(kind is not type(None) for kind, _ in _arms(shape)) > 1:
            return path[:index]
        shape = inner or shape
    return path


def is_whole(shape: Shape) -> bool:
    """Tell whether a number of this shape is a whole one."""
    return any(kind is int for kind, _ in _arms(shape))


def known_keys(shape: Shape) -> list[str]:
    """Return the keys that a mapping of this shape may have; none where they are the player's own names."""
    return [key for model in _models_in(shape) for key in model.model_fields]


def _models_in(shape: Shape) -> list[type[BaseModel]]:
    """Return the model classes that a value of this shape may be."""
    return [kind for kind, _ in _arms(shape) if isinstance(kind, type) and issubclass(kind, BaseModel)]


def limits(shape: Shape) -> dict[str, Any]:
    """Return the limits of a number or text of this shape: any of ge, gt, le, max_length, pattern."""
    found: dict[str, Any] = {}
    for _, metadata in _arms(shape):
        for item in metadata:
            for inner in (item, *getattr(item, "metadata", ())):
                for key in ("ge", "gt", "le", "max_length", "pattern"):
                    if getattr(inner, key, None) is not None:
                        found[key] = getattr(inner, key)
    return found


def without_nothing(shape: Shape, value: Any) -> Any:
    """Leave out the keys of which nothing is said; a name of the player's own with nothing after it is kept, empty."""
    if isinstance(value, list):
        return [without_nothing(_inside(shape, index) or shape, item) for index, item in enumerate(value)]
    if not isinstance(value, dict):
        return value
    known, cleaned = known_keys(shape), {}
    for key, said in value.items():
        inner = _inside(shape, key) or (Any, ())
        if said is None and key in known:
            continue
        cleaned[key] = {} if said is None and _may_be_empty(inner) else without_nothing(inner, said)
    return cleaned


def _may_be_empty(shape: Shape) -> bool:
    return any(
        _origin(kind) is dict or (isinstance(kind, type) and issubclass(kind, BaseModel) and not any(_required(kind)))
        for kind, _ in _arms(shape)
    )


def _required(model: type[BaseModel]) -> Iterator[bool]:
    return (field.is_required() for field in model.model_fields.values())


_ARM_LABELS = ("dict[", "function-", "list[", "tuple[")  # how pydantic names the arms of a union that have no class


def _inside(shape: Shape, key: str | int) -> Shape | None:
    if isinstance(key, str) and key.startswith(_ARM_LABELS):
        return None
    for kind, _ in _arms(shape):
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            if key in kind.model_fields:
                field = kind.model_fields[str(key)]
                return field.annotation, tuple(field.metadata)
        elif _origin(kind) is dict and key != "[key]" and isinstance(key, str):
            return get_args(kind)[1], ()
        elif _origin(kind) is tuple and isinstance(key, int):
            items = get_args(kind)
            return items[0 if items[-1] is Ellipsis else min(key, len(items) - 1)], ()
    return None


def _origin(kind: Any) -> Any:
    return get_origin(kind)


def _arms(shape: Shape) -> Iterator[Shape]:
    kind, metadata = shape
    if _origin(kind) is Annotated:
        inner, *more = get_args(kind)
        yield from _arms((inner, (*metadata, *more)))
    elif _origin(kind) in (Union, UnionType):
        for arm in get_args(kind):
            yield from _arms((arm, metadata))
    else:
        yield shape
