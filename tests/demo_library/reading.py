"""Read the demo library's files without the tool's own reader: every scalar is text, as the player wrote it."""

from functools import cache
from pathlib import Path
from typing import Any

import yaml

from scenebook.model import Library

__all__ = ["DEMO", "demo_library"]

DEMO = Path(__file__).parents[2] / "demo_library"


@cache
def demo_library() -> Library:
    """Return the demo library, validated; its files by a plain YAML loader that types nothing."""
    parts: dict[str, Any] = {"settings": _text(DEMO / "library.yaml")}
    for kind in ("units", "rigs", "songs", "gigs"):
        parts[kind] = dict(_named(path) for path in sorted((DEMO / kind).glob("*.yaml")))
    return Library.model_validate(parts)


def _named(path: Path) -> tuple[str, dict[str, Any]]:
    fields = _text(path)
    return fields.pop("name"), fields


def _text(path: Path) -> dict[str, Any]:
    loaded: dict[str, Any] = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    return loaded
