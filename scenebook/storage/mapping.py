"""The one bridge between the model and the rows: for each aggregate a pair, its rows from it and its JSON from them.

Rows are given back as JSON text in the model's own form, spliced from the bodies, and `models` puts them through the
model's validation all at once. Pure: texts and models in, texts and models out.
"""

from collections.abc import Mapping
from functools import cache, lru_cache
from json import dumps, loads
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError

from scenebook.errors import LibraryError
from scenebook.model import Gig, Library, Rig, Settings, Song, Unit
from scenebook.model.base import Name, place_text
from scenebook.model.songs import Scene
from scenebook.storage.marks import Kind
from scenebook.storage.shapes import without_arms

__all__ = ["MODELS", "Aggregate", "EntryRow", "GigRows", "RigRows", "SceneRows", "SongRows"]
__all__ += ["gig_json", "gig_rows", "library_of", "models", "one_model", "rig_rows", "settings_of", "song_json"]
__all__ += ["song_rows", "unit_body", "whole_json"]

Aggregate = Unit | Rig | Song | Gig
MODELS: dict[str, type[Unit] | type[Rig] | type[Song] | type[Gig]] = {
    "unit": Unit,
    "rig": Rig,
    "song": Song,
    "gig": Gig,
}


class RigRows(NamedTuple):
    """A rig: its body, and every unit that it names with whether it is carried."""

    body: str
    units: list[tuple[str, bool]]


class SceneRows(NamedTuple):
    """A scene: its name, its body, and what it says of each unit (nothing: it only fires a trigger of it)."""

    name: str
    body: str
    units: list[tuple[str, str | None]]


class SongRows(NamedTuple):
    """A song: its body and its scenes in order."""

    body: str
    scenes: list[SceneRows]


class EntryRow(NamedTuple):
    """A song in a gig: in which set (none: a spare), which song, and what is said of it for this gig."""

    set_index: int | None
    song: str
    body: str


class GigRows(NamedTuple):
    """A gig: its body, rig, house song, entries, and the units that are out (no second name) or played by another."""

    body: str
    rig: str | None
    house: str | None
    entries: list[EntryRow]
    units: list[tuple[str, str | None]]


def unit_body(unit: Unit) -> str:
    """Return a unit's one row; read back as it is."""
    return unit.model_dump_json(exclude_defaults=True)


def rig_rows(rig: Rig) -> RigRows:
    """Return a rig's rows; the body is read back as it is, and the units are there to be found by."""
    named = dict.fromkeys(rig.carried, True)
    inside = [
        name for held in (rig.loops, rig.sends) for loops in held.values() for names in loops.values() for name in names
    ]
    ends = [end for lead in rig.leads for end in (lead.thru, lead.to) if end]
    parts = [name for stand_in in rig.stand_ins for name in (stand_in.part, stand_in.by)]
    for name in (*rig.loops, *rig.sends, *inside, *rig.home, *ends, *parts, *([rig.supply] if rig.supply else [])):
        named.setdefault(name, False)
    return RigRows(rig.model_dump_json(exclude_defaults=True), list(named.items()))


def song_rows(song: Song) -> SongRows:
    """Return a song's rows."""
    body = song.model_dump_json(exclude_defaults=True, exclude={"scenes"})
    return SongRows(body, [_scene_rows(name, scene) for name, scene in song.scenes.items()])


def _scene_rows(name: str, scene: Scene) -> SceneRows:
    units: dict[str, str | None] = {unit: _text(setting) for unit, setting in scene.units.items()}
    for trigger in scene.triggers:
        units.setdefault(trigger.rpartition(".")[0], None)
    return SceneRows(name, scene.model_dump_json(exclude_defaults=True, exclude={"units"}), list(units.items()))


def gig_rows(gig: Gig) -> GigRows:
    """Return a gig's rows."""
    body = gig.model_dump(
        mode="json", exclude_defaults=True, exclude={"rig", "house", "spares", "out", "played_by", "sets"}
    )
    if gig.sets:
        body["sets"] = [part.model_dump(mode="json", exclude_defaults=True, exclude={"songs"}) for part in gig.sets]
    placed = [(index, entry) for index, part in enumerate(gig.sets) for entry in part.songs]
    entries = [
        EntryRow(index, entry.song, entry.model_dump_json(exclude_defaults=True, exclude={"song"}))
        for index, entry in (*placed, *((None, entry) for entry in gig.spares))
    ]
    units = [*((name, None) for name in gig.out), *gig.played_by.items()]
    return GigRows(_text(body), gig.rig, gig.house, entries, units)


def song_json(rows: SongRows) -> str:
    """Return a song as JSON in the model's form."""
    scenes = ",".join([f"{_quoted(scene.name)}:{_scene_json(scene)}" for scene in rows.scenes])
    return _spliced(f'"scenes":{{{scenes}}}', rows.body) if scenes else rows.body


def _scene_json(rows: SceneRows) -> str:
    said = ",".join([f"{_quoted(unit)}:{setting}" for unit, setting in rows.units if setting is not None])
    return _spliced(f'"units":{{{said}}}', rows.body) if said else rows.body


def gig_json(rows: GigRows) -> str:
    """Return a gig as JSON in the model's form."""
    whole: dict[str, Any] = loads(rows.body)
    sets: list[Any] = whole.setdefault("sets", [])
    spares: list[Any] = []
    for index, song, body in rows.entries:
        entry = {"song": song, **loads(body)}
        (spares if index is None else sets[index].setdefault("songs", [])).append(entry)
    whole.update(rig=rows.rig, house=rows.house, spares=spares)
    whole["out"] = [unit for unit, by in rows.units if by is None]
    whole["played_by"] = {unit: by for unit, by in rows.units if by is not None}
    return _text(whole)


def whole_json(kind: Kind, aggregate: Aggregate) -> str:
    """Return an aggregate as one JSON text, as history keeps it and as two are compared, order included."""
    assert isinstance(aggregate, MODELS[kind])
    return aggregate.model_dump_json(exclude_defaults=True)


def one_model(kind: Kind, name: str, text: str) -> Aggregate:
    """Return the aggregate that a JSON text says.

    Raises:
        LibraryError: the text is damaged, or says what the model does not accept; the place is named.
    """
    try:
        return MODELS[kind].model_validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise LibraryError(
            f"what the library holds is damaged: {first['msg']}",
            where=place_text(kind, name, *without_arms(MODELS[kind], first["loc"])),
            remedy="Go back to a backup of the library, or import this from its file again",
        ) from None


def models(kind: Kind, texts: Mapping[str, str]) -> dict[str, Any]:
    """Return many aggregates of a kind by name, all validated at once.

    Raises:
        LibraryError: one of them is damaged; the first place is named.
    """
    whole = ",".join([f"{_quoted(name)}:{text}" for name, text in texts.items()])
    try:
        return _adapter(kind).validate_json(f"{{{whole}}}")
    except ValidationError:
        return {name: one_model(kind, name, text) for name, text in texts.items()}


def settings_of(text: str) -> Settings:
    """Return the library's settings.

    Raises:
        LibraryError: they are damaged.
    """
    try:
        return Settings.model_validate_json(text)
    except ValidationError as error:
        message = error.errors(include_url=False)[0]["msg"]
        raise LibraryError(f"what the library holds is damaged: {message}", where="settings") from None


def library_of(settings: Settings, parts: Mapping[str, Mapping[str, Any]]) -> Library:
    """Return a library of parts that have been validated, without validating them again."""
    return Library.model_construct(
        settings=settings,
        units=dict(parts.get("unit", {})),
        rigs=dict(parts.get("rig", {})),
        songs=dict(parts.get("song", {})),
        gigs=dict(parts.get("gig", {})),
    )


@cache
def _adapter(kind: Kind) -> TypeAdapter[dict[str, Any]]:
    shape: Any = dict.__class_getitem__((Name, MODELS[kind]))
    return TypeAdapter(shape)


def _spliced(text: str, body: str) -> str:
    return f"{{{text}}}" if body == "{}" else f"{{{text},{body[1:]}"


def _text(value: Any) -> str:
    return dumps(value, ensure_ascii=False, separators=(",", ":"))


@lru_cache(maxsize=65536)
def _quoted(name: str) -> str:
    return dumps(name, ensure_ascii=False)
