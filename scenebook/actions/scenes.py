"""Show, set, copy, rename and delete scenes."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from scenebook.actions.entry import Changed, find_key, said
from scenebook.actions.making import made
from scenebook.cueing.cues import Cue, CueList
from scenebook.errors import BadValueError, ScenebookError, SceneError, UnknownNameError
from scenebook.model import FormEntry, Gig, GigSet, Library, Scene, SetEntry, Song, find_name, near_name
from scenebook.model.base import place_text
from scenebook.storage import open_library

if TYPE_CHECKING:
    from scenebook.storage.change import Change
    from scenebook.storage.store import Store

__all__ = [
    "Deleted",
    "SceneChange",
    "SceneShown",
    "copy_scene",
    "delete_scene",
    "rename_scene",
    "set_scene",
    "show_scene",
]


class SceneShown(NamedTuple):
    """A scene as written, and, on a rig, the list of the one cue that puts the rig into it, whatever came before.

    Where no full list can be made, the cue is the one that leads there from home, and `note` says why.
    """

    song: str
    name: str
    scene: Scene
    rig: str | None
    cue_list: CueList | None
    note: str = ""

    @property
    def cue(self) -> Cue | None:
        """The full cue that puts the rig into the scene."""
        return self.cue_list.cues[0] if self.cue_list else None


class SceneChange(NamedTuple):
    """What was changed of a scene, and how it is now; `near` is a scene whose name a new one's looks like."""

    song: str
    name: str
    made: bool
    near: str | None
    changes: tuple[Changed, ...]
    scene: Scene


class Deleted(NamedTuple):
    """A scene that is gone, and the numbers (from 1) of the form's entries that went with it."""

    song: str
    name: str
    entries: tuple[int, ...]


def show_scene(path: Path, song: str, scene: str, rig: str | None = None) -> SceneShown:
    """Return a scene; on the rig, or the only one there is, also how it will stand there, coming from home.

    Raises:
        UnknownNameError: no song, scene or rig of a name.
        SceneError: the scene cannot be reached on the rig, not even from home.
    """
    with open_library(path, read_only=True) as store:
        song_name = store.find("song", song)
        whole = store.song(song_name)
        name = find_scene(whole, scene, song_name)
        rigs = store.names("rig")
        carrier = find_name(rig, rigs, "rig") if rig is not None else rigs[0] if len(rigs) == 1 else None
        library = _one_scene(store, song_name, whole, name, carrier) if carrier else None
    cue_list, note = _compiled(library, carrier) if library and carrier else (None, "")
    return SceneShown(song_name, name, whole.scenes[name], carrier, cue_list, note)


def set_scene(
    path: Path,
    song: str,
    scene: str,
    entries: Sequence[str],
    *,
    colours: Sequence[str] = (),
    musts: Sequence[str] = (),
    triggers: Sequence[str] = (),
    level: float | None = None,
    notes: str | None = None,
    new: bool = False,
) -> SceneChange:
    """Put settings into a scene; return what changed.

    A scene is found by its name or by a beginning that fits it alone; if none is found, or with `new`, one is made.

    `entries` are texts as `entry.said` reads them; `colours` and `musts` name units or unit.member that may be missing,
    or not; `triggers` fire when the scene begins, or with "=home" behind them no more.

    Raises:
        ScenebookError: anything that does not fit; nothing has been changed.
    """
    with open_library(path) as store, store.change(f"scene set {song}, {scene}") as change:
        song_name = store.find("song", song)
        whole = store.song(song_name)
        name = _known_or_new(whole, scene, song_name, new=new)
        old = whole.scenes.get(name, Scene())
        names = store.names("unit")
        units, changes = said(old.units, entries, names, store.unit)
        keys = [[_colour(key, names, store) for key in each] for each in (colours, musts)]
        kept = dict.fromkeys([*_still_named(old.colours, units), *keys[0]])
        values: dict[str, Any] = {**_fields(old), "units": units, "colours": [c for c in kept if c not in keys[1]]}
        values["triggers"] = _triggers(old.triggers, triggers, names, store)
        values |= {key: now for key, now in (("notes", notes), ("level", level)) if now is not None}
        now = made(Scene, values, place_text("song", song_name, name))
        _put(change, song_name, whole, {**whole.scenes, name: now})
    is_new = name not in whole.scenes
    near = near_name(name, whole.scenes) if is_new else None
    return SceneChange(song_name, name, is_new, near, (*changes, *_other_changes(old, now)), now)


def copy_scene(path: Path, song: str, scene: str, new: str, to: str | None = None) -> tuple[str, str, bool]:
    """Copy a scene under a new name, in its own song or another; return that song, the name, whether it has a form.

    Raises:
        UnknownNameError: no song or scene of a name.
        BadValueError: there is a scene of the new name.
    """
    with open_library(path) as store, store.change(f"scene copy {song}, {scene}") as change:
        song_name = store.find("song", song)
        whole = store.song(song_name)
        found = whole.scenes[find_scene(whole, scene, song_name)]
        target = store.find("song", to) if to is not None else song_name
        goal = store.song(target)
        _check_new(goal, new, target)
        _put(change, target, goal, {**goal.scenes, new.strip(): found})
    return target, new.strip(), bool(goal.form)


def rename_scene(path: Path, song: str, scene: str, new: str) -> tuple[str, str, tuple[str, ...]]:
    """Give a scene another name, in the form and in gigs that play another form as well; return song, name, gigs.

    Raises:
        UnknownNameError: no song or scene of a name.
        BadValueError: there is a scene of the new name.
    """
    with open_library(path) as store, store.change(f"scene rename {song}, {scene}") as change:
        song_name, clean = store.find("song", song), new.strip()
        whole = store.song(song_name)
        old = find_scene(whole, scene, song_name)
        _check_new(whole, clean, song_name, but=old)
        scenes = {clean if name == old else name: each for name, each in whole.scenes.items()}
        _put(change, song_name, whole, scenes, _renamed(whole.form, old, clean))
        gigs = _gigs_with_form(store, song_name, old)
        for name, gig in gigs.items():
            change.put_gig(name, _renamed_gig(gig, song_name, old, clean))
    return old, clean, tuple(gigs)


def delete_scene(path: Path, song: str, scene: str, *, from_form: bool = False) -> Deleted:
    """Take a scene out of its song; with `from_form` also the entries of the form that play it.

    Raises:
        UnknownNameError: no song or scene of a name.
        BadValueError: the form, or a gig's own form, plays it.
    """
    with open_library(path) as store, store.change(f"scene delete {song}, {scene}") as change:
        song_name = store.find("song", song)
        whole = store.song(song_name)
        name = find_scene(whole, scene, song_name)
        entries = tuple(number for number, entry in enumerate(whole.form, 1) if entry.scene == name)
        _check_unused(entries, _gigs_with_form(store, song_name, name), song_name, name, from_form=from_form)
        form = tuple(entry for entry in whole.form if entry.scene != name)
        _put(change, song_name, whole, {each: s for each, s in whole.scenes.items() if each != name}, form)
    return Deleted(song_name, name, entries)


def find_scene(song: Song, text: str, song_name: str) -> str:
    """Return the full name of a song's scene.

    Raises:
        UnknownNameError: none of that name, or several.
    """
    try:
        return find_name(text, song.scenes, "scene")
    except UnknownNameError as error:
        raise error.at(place_text("song", song_name)) from None


def _one_scene(store: "Store", song_name: str, song: Song, scene: str, rig_name: str) -> Library:
    """Return a library in which the scene is all that is played."""
    rig = store.rig(rig_name)
    named = [*rig.carried, *rig.home, *song.scenes[scene].units, *(each.part for each in rig.stand_ins)]
    units = {name: store.unit(name) for name in dict.fromkeys(named)}
    entry = SetEntry(song=song_name, form=(FormEntry(scene=scene),))
    gig = Gig(rig=rig_name, sets=(GigSet(name="alone", songs=(entry,)),))
    parts: dict[str, Any] = {"units": units, "rigs": {rig_name: rig}, "songs": {song_name: song}, "gigs": {_ALONE: gig}}
    return Library(settings=store.settings(), **parts)


_ALONE = "the scene alone"


def _compiled(library: Library, rig: str) -> tuple[CueList, str]:
    """Return the list of the one cue, full; or, where that cannot be, the one from home, and why it is not full.

    A full list sends everything, so it can need what a gig's lean list never does: a settle time, say.
    """
    from scenebook.cueing.compile import compile_gig  # late: a scene as written needs no compiler

    note = ""
    try:
        try:
            found = compile_gig(library, _ALONE, rig, full=True)
        except SceneError as error:
            note = str(error)
            found = compile_gig(library, _ALONE, rig)
    except ScenebookError as error:
        raise error.at(f"rig {rig!r}") from None
    return replace(found, cues=found.cues[1:]), note


def _known_or_new(song: Song, scene: str, song_name: str, *, new: bool) -> str:
    """Return the name of the scene that is meant: one that is there, by a beginning that fits it, or a new one."""
    wanted = scene.strip()
    if new:
        _check_new(song, wanted, song_name)
        return wanted
    begun = [known for known in song.scenes if known.casefold().startswith(wanted.casefold())]
    return find_scene(song, wanted, song_name) if begun and wanted else wanted


def _colour(key: str, names: Sequence[str], store: "Store") -> str:
    unit, member = find_key(key, names, store.unit)
    return f"{unit}.{member}" if member else unit


def _triggers(old: Sequence[str], entries: Sequence[str], names: Sequence[str], store: "Store") -> list[str]:
    found = dict.fromkeys(old)
    for entry in entries:
        trigger = _trigger(entry.removesuffix("=home"), names, store)
        if entry.endswith("=home"):
            found.pop(trigger, None)
        else:
            found[trigger] = None
    return list(found)


def _trigger(key: str, names: Sequence[str], store: "Store") -> str:
    unit, _, trigger = key.rpartition(".")
    name = find_name(unit or key, names, "unit")
    return f"{name}.{find_name(trigger, store.unit(name).triggers, 'trigger')}"


def _still_named(colours: Sequence[str], units: dict[str, dict[str, str]]) -> list[str]:
    """Return the colours that the scene still names; a thing that is not named cannot be one."""
    named = {*units, *(f"{unit}.{member}" for unit, setting in units.items() for member in setting)}
    return [colour for colour in colours if colour in named]


def _other_changes(old: Scene, new: Scene) -> list[Changed]:
    changes = []
    for what in ("colours", "triggers"):
        before, after = set(getattr(old, what)), set(getattr(new, what))
        changes += [Changed(each, what[:-1], "yes", "no") for each in sorted(before - after)]
        changes += [Changed(each, what[:-1], "no", "yes") for each in sorted(after - before)]
    if old.level != new.level:
        changes.append(
            Changed("scene", "level", *("not said" if db is None else f"{db:g} dB" for db in (old.level, new.level)))
        )
    return changes + ([Changed("scene", "notes", old.notes, new.notes)] if old.notes != new.notes else [])


def _fields(thing: Song | Scene | Gig) -> dict[str, Any]:
    return {name: getattr(thing, name) for name in type(thing).model_fields}


def _put(change: "Change", name: str, song: Song, scenes: dict[str, Scene], form: Any = None) -> None:
    values = {**_fields(song), "scenes": scenes, **({} if form is None else {"form": form})}
    change.put_song(name, made(Song, values, place_text("song", name)))


def _check_new(song: Song, name: str, song_name: str, but: str = "") -> None:
    twin = next((known for known in song.scenes if known.casefold() == name.strip().casefold()), None)
    if twin is not None and twin != but:
        where = place_text("song", song_name)
        raise BadValueError(f"there is a scene {twin!r} already", where=where, remedy="Choose another name")


def _check_unused(entries: Sequence[int], gigs: dict[str, Gig], song: str, scene: str, *, from_form: bool) -> None:
    where = place_text("song", song, scene)
    if entries and not from_form:
        numbers = ", ".join(map(str, entries))
        raise BadValueError(
            f"the form plays it, as number {numbers}",
            where=where,
            remedy="Take it out of the form too with --from-form",
        )
    if gigs:
        raise BadValueError(
            f"a form of its own plays it at {', '.join(gigs)}", where=where, remedy="Change the form of that gig first"
        )


def _gigs_with_form(store: "Store", song: str, scene: str) -> dict[str, Gig]:
    """Return the gigs that play a song in a form of their own which names the scene."""
    gigs = {name: store.gig(name) for name in store.gigs_using(song)}
    return {
        name: gig
        for name, gig in gigs.items()
        for entries in [(*gig.entries, *gig.spares)]
        if any(entry.song == song and any(part.scene == scene for part in entry.form or ()) for entry in entries)
    }


def _renamed(form: Sequence[FormEntry], old: str, new: str) -> tuple[FormEntry, ...]:
    return tuple(entry.model_copy(update={"scene": new}) if entry.scene == old else entry for entry in form)


def _renamed_gig(gig: Gig, song: str, old: str, new: str) -> Gig:
    def renamed(entries: Sequence[SetEntry]) -> tuple[SetEntry, ...]:
        return tuple(
            entry.model_copy(update={"form": _renamed(entry.form, old, new)})
            if entry.song == song and entry.form is not None
            else entry
            for entry in entries
        )

    sets = tuple(part.model_copy(update={"songs": renamed(part.songs)}) for part in gig.sets)
    return Gig(**{**_fields(gig), "sets": sets, "spares": renamed(gig.spares)})
