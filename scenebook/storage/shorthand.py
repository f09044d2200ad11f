"""Say an aggregate as a person would write it: text, lists and mappings, short where the format has a short form."""

from collections.abc import Callable
from typing import Any

from scenebook.model import MAIN, Settings
from scenebook.storage.mapping import MODELS, Aggregate
from scenebook.storage.marks import Kind

__all__ = ["plain", "plain_settings"]


def plain(kind: Kind, name: str, aggregate: Aggregate) -> dict[str, Any]:
    """Return what the file of an aggregate says, its name first; every scalar is text, as it is written."""
    assert isinstance(aggregate, MODELS[kind])
    said = aggregate.model_dump(mode="json", exclude_defaults=True)
    _SHORT[kind](said)
    return {"name": name, **_as_text(said)}


def plain_settings(settings: Settings) -> dict[str, Any]:
    """Return what the file of the settings says."""
    said: dict[str, Any] = _as_text(settings.model_dump(mode="json", exclude_defaults=True))
    return said


def _short_unit(unit: dict[str, Any]) -> None:
    _shorten(unit.get("controls"), "scale")


def _short_rig(rig: dict[str, Any]) -> None:
    _shorten_settings(rig.get("home"))


def _short_song(song: dict[str, Any]) -> None:
    _shorten(song, "name", only="instrument")
    for scene in song.get("scenes", {}).values():
        _shorten_settings(scene.get("units"))
        _shorten(scene, "name", only="instrument")
    _shorten(song.get("form"), "scene")


def _short_gig(gig: dict[str, Any]) -> None:
    for entries in (*(part.get("songs", []) for part in gig.get("sets", [])), gig.get("spares", [])):
        for entry in entries:
            _shorten(entry.get("form"), "scene")
        _shorten(entries, "song")


_SHORT: dict[Kind, Callable[[dict[str, Any]], None]] = {
    "unit": _short_unit,
    "rig": _short_rig,
    "song": _short_song,
    "gig": _short_gig,
}


def _shorten(holder: Any, key: str, *, only: str | None = None) -> None:
    """Put the bare value in place of each mapping that says nothing but `key`."""
    places = range(len(holder)) if isinstance(holder, list) else list(holder or ())
    for place in places:
        value = holder[place]
        if only in (None, place) and isinstance(value, dict) and list(value) == [key]:
            holder[place] = value[key]


def _shorten_settings(settings: dict[str, Any] | None) -> None:
    for unit, setting in (settings or {}).items():
        if list(setting) == [MAIN] and setting[MAIN] in ("on", "off"):
            settings[unit] = setting[MAIN]  # type: ignore[index]
        elif setting == {"leave": "unit"}:
            settings[unit] = "leave"  # type: ignore[index]
        elif list(setting) == ["preset"] and setting["preset"] not in ("on", "off", "leave"):
            settings[unit] = setting["preset"]  # type: ignore[index]


def _as_text(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _as_text(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_as_text(inner) for inner in value]
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)
