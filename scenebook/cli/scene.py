"""scenebook scene: show, set, copy, rename and delete scenes."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import columns, names_words, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.entry import Changed
    from scenebook.actions.scenes import SceneChange, SceneShown
    from scenebook.cueing.cues import Cue, UnitState

__all__ = ["app"]

app = group("scene", "Scenes: the whole state of the rig for one part of a song.")
Song = Annotated[str, typer.Argument(help="The song.")]
Scene = Annotated[str, typer.Argument(help="The scene.")]
Several = list[str] | None


@app.command("show")
def show_command(
    song: Song,
    scene: Scene,
    rig: Annotated[str | None, typer.Option("--rig", help="The rig; unless given, the only one there is.")] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Show a scene as written, and how the rig will stand in it.

    Example: scenebook scene show Limpet stuck --rig "hall board"
    """
    from scenebook.actions.scenes import show_scene

    found = show_scene(library_at(library), song, scene, rig)
    if json:
        print_json(_json(found))
    else:
        print_lines(_shown(found))


@app.command("set")
def set_command(
    song: Song,
    scene: Annotated[str, typer.Argument(help="The scene; it is made if there is none of that name.")],
    settings: Annotated[
        Several, typer.Argument(metavar="KEY=VALUE", help="Settings, put in one after the other.")
    ] = None,
    colour: Annotated[Several, typer.Option("--colour", help="UNIT or UNIT.MEMBER that may be missing.")] = None,
    must: Annotated[
        Several, typer.Option("--must", help="UNIT or UNIT.MEMBER that may not be missing after all.")
    ] = None,
    trigger: Annotated[
        Several, typer.Option("--trigger", help="UNIT.TRIGGER that fires when the scene begins; =home: no more.")
    ] = None,
    level: Annotated[
        float | None, typer.Option("--level", metavar="DB", help="How loud it is, against your other scenes.")
    ] = None,
    notes: Annotated[str | None, typer.Option("--notes", help="Anything else.")] = None,
    new: Annotated[bool, typer.Option("--new", help="Make a new scene, even if its name begins another's.")] = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Put settings into a scene, and say what changed. If one of them is wrong nothing is changed.

    UNIT=on and UNIT=off are its main switch, UNIT=12 its preset (the slot as displayed, or the name), UNIT=leave keeps
    it as it was, UNIT.MEMBER=VALUE sets one thing, and =home takes a setting away. Quote names with spaces.

    Example: scenebook scene set Limpet verse fuzz=on "delay, tape.time=1/8." multi=12 looper=leave
    """
    from scenebook.actions.scenes import set_scene

    lists = {"colours": colour or (), "musts": must or (), "triggers": trigger or ()}
    done = set_scene(library_at(library), song, scene, settings or (), **lists, level=level, notes=notes, new=new)
    if json:
        print_json(_change_json(done))
    else:
        print_lines(_changed(done))


@app.command("copy")
def copy_command(
    song: Song,
    scene: Scene,
    new: Annotated[str, typer.Argument(help="What the copy is called.")],
    to: Annotated[str | None, typer.Option("--to", metavar="SONG", help="Another song that gets the copy.")] = None,
    library: LibraryPath = None,
) -> None:
    """Copy a scene under a new name, in its own song or to another.

    Example: scenebook scene copy Limpet verse "last verse"
    """
    from scenebook.actions.scenes import copy_scene

    target, name, has_form = copy_scene(library_at(library), song, scene, new, to)
    print(f"Made scene {name!r} of {target!r}.")
    print(
        "The form does not name it yet: scenebook song form" if has_form else "With no form given, it is played last."
    )


@app.command("rename")
def rename_command(
    song: Song,
    scene: Scene,
    new: Annotated[str, typer.Argument(help="Its new name.")],
    library: LibraryPath = None,
) -> None:
    """Give a scene another name; the form, and gigs that play a form of their own, follow.

    Example: scenebook scene rename Limpet stuck "first verse"
    """
    from scenebook.actions.scenes import rename_scene

    old, name, gigs = rename_scene(library_at(library), song, scene, new)
    print(f"Scene {old!r} is now {name!r}.")
    if gigs:
        print(f"Changed in the form of its own at: {names_words(gigs)}")


@app.command("delete")
def delete_command(
    song: Song,
    scene: Scene,
    from_form: Annotated[bool, typer.Option("--from-form", help="Take it out of the song's form as well.")] = False,
    library: LibraryPath = None,
) -> None:
    """Delete a scene; one that the form plays only with --from-form. The library's history keeps what stood there.

    Example: scenebook scene delete Limpet "last verse" --from-form
    """
    from scenebook.actions.scenes import delete_scene

    done = delete_scene(library_at(library), song, scene, from_form=from_form)
    print(f"Deleted scene {done.name!r} of {done.song!r}.")
    if done.entries:
        print(f"The form lost number {', '.join(map(str, done.entries))}.")


def _json(found: "SceneShown") -> dict[str, Any]:
    from scenebook.sheets.lists import cue_list_json

    written = found.scene.model_dump(mode="json", exclude_defaults=True)
    standing = None
    if found.cue_list is not None:
        standing = {"rig": found.rig, "cue": cue_list_json(found.cue_list)["cues"][0], "note": found.note}
    return {"song": found.song, "scene": found.name, "written": written, "standing": standing}


def _shown(found: "SceneShown") -> "Iterator[str]":
    from scenebook.cli.words import setting_words

    scene = found.scene
    yield f"{found.song}, {found.name}, as written:"
    rows = [(unit, setting_words(setting)) for unit, setting in scene.units.items()]
    yield from columns(rows, indent=2) or ["  nothing: the rig stands as at home"]
    more = (("may be missing", scene.colours), ("fires", scene.triggers))
    yield from (f"  {what}: {names_words(things)}" for what, things in more if things)
    yield from [f"  {scene.notes}"] if scene.notes else []
    if found.cue is None:
        yield "Name a rig with --rig to see how it will stand."
    else:
        yield f"On {found.rig} it will stand so:"
        yield from _standing(found.cue)
    if found.note:
        yield f"Note: it cannot be sent in full, whatever came before: {found.note}"


def _standing(cue: "Cue") -> "Iterator[str]":
    yield from columns((_state_row(state) for state in cue.states), indent=2)
    yield from (f"  lacks {thing}" for thing in cue.lacks)
    yield from (f"  without {thing}" for thing in cue.without)
    yield from (f"  stand-in: {text}" for text in cue.stand_ins)
    yield from (f"  not carried: {text}" for text in cue.not_carried)
    yield from (f"  {note}" for note in cue.notes)


def _state_row(state: "UnitState") -> tuple[str, str, str]:
    preset = f"preset {state.preset}" if state.preset is not None else ""
    variant = f"variant {state.variant}" if state.variant else ""
    members = ", ".join(f"{member} {text}" for member, text in state.values.items())
    said = ", ".join(filter(None, [preset, variant, members]))
    return ("● sounds" if state.sounds else "○ silent"), state.unit, said


def _changed(done: "SceneChange") -> "Iterator[str]":
    if done.made:
        near = f" (there is {done.near!r} as well)" if done.near else ""
        yield f"Made scene {done.name!r} of {done.song!r}{near}."
    else:
        yield f"{done.song}, {done.name}:"
    rows = [_change_row(each) for each in done.changes]
    nothing = "the rig stands as at home" if done.made else "nothing changed: it was so already"
    yield from columns(rows, indent=2) or [f"  {nothing}"]


def _change_row(each: "Changed") -> tuple[str, str, str, str]:
    if each.member == "leave":
        before, after = ("leave the unit as it is" if text else "home" for text in (each.before, each.after))
        return each.unit, "", before, f"→ {after}"
    return each.unit, each.member, each.before or "home", f"→ {each.after or 'home'}"


def _change_json(done: "SceneChange") -> dict[str, Any]:
    changes = [{"unit": c.unit, "member": c.member, "from": c.before, "to": c.after} for c in done.changes]
    written = done.scene.model_dump(mode="json", exclude_defaults=True)
    return {"song": done.song, "scene": done.name, "made": done.made, "changes": changes, "written": written}
