"""scenebook rig: list, show and add rigs."""

from typing import TYPE_CHECKING, Annotated

import typer

from scenebook.cli.options import AsJson, LibraryPath, Text, group, library_at
from scenebook.cli.plain import columns, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.model import Rig, StandIn

__all__ = ["app"]

app = group("rig", "Rigs: the units that travel together, and how they are joined.")
Several = list[str] | None


@app.command("list")
def list_command(text: Text = "", json: AsJson = False, library: LibraryPath = None) -> None:
    """List the rigs.

    Example: scenebook rig list
    """
    from scenebook.actions.rigs import list_rigs

    rigs = list_rigs(library_at(library), text)
    if json:
        found = ((name, rig) for name, (rig, _) in rigs.items())
        print_json([{"name": name, "units": list(rig.carried), "ports": list(rig.ports)} for name, rig in found])
    else:
        rows = [(name, count, _ports(rig)) for name, (rig, count) in rigs.items()]
        print_lines(columns(rows) or ["There is no such rig."])


@app.command("show")
def show_command(
    rig: Annotated[str, typer.Argument(help="The rig.")], json: AsJson = False, library: LibraryPath = None
) -> None:
    """Draw the chain of a rig, with parallel paths, loops, sends and channels; then home, leads and stand-ins.

    Example: scenebook rig show "hall board"
    """
    from scenebook.actions.rigs import show_rig

    name, found = show_rig(library_at(library), rig)
    if json:
        print_json({"name": name, **found.model_dump(mode="json", exclude_defaults=True)})
    else:
        print_lines(_shown(name, found))


@app.command("add")
def add_command(
    name: Annotated[str, typer.Argument(help="What the rig is called.")],
    units: Annotated[list[str], typer.Argument(help="Its units in chain order, each as UNIT or UNIT@PORT:CHANNEL.")],
    outside: Annotated[
        Several, typer.Option("--outside", help="A unit outside the chain, such as a loop switcher; the same form.")
    ] = None,
    loop: Annotated[Several, typer.Option("--loop", help="SWITCHER.SWITCH=UNIT: the unit is in that loop.")] = None,
    home: Annotated[
        Several, typer.Option("--home", help="KEY=VALUE as in scene set: how it stands before the first scene.")
    ] = None,
    notes: Annotated[str, typer.Option("--notes", help="Anything else.")] = "",
    library: LibraryPath = None,
) -> None:
    """Put a new rig into the library. Parallel paths, sends and stand-ins come by import of a file.

    A unit without port and channel is worked by hand and foot throughout.

    Example: scenebook rig add "small board" tuner fuzz "delay@main:3" --home "delay.mix=30 %"
    """
    from scenebook.actions.rigs import NewRig, add_rig

    new = NewRig(name, units, outside=outside or (), loops=loop or (), home=home or (), notes=notes)
    made, rig = add_rig(library_at(library), new)
    print(f"Added {made!r}.")
    print_lines(_shown(made, rig))


def _ports(rig: "Rig") -> str:
    return f"MIDI: {', '.join(rig.ports)}" if rig.ports else "no MIDI"


def _shown(name: str, rig: "Rig") -> "Iterator[str]":
    from scenebook.cli.stage_words import stage_lines
    from scenebook.cli.words import chain_rows, midi_words, setting_words

    yield name
    yield from columns(chain_rows(rig), indent=2)
    in_chain = {each for link in rig.chain for each in _names(link)}
    outside = [(each, midi_words(rig.placement(each))) for each in rig.carried if each not in in_chain]
    yield from ["Outside the chain:", *columns(outside, indent=2)] if outside else []
    if rig.home:
        yield "Home:"
        yield from columns(((unit, setting_words(setting)) for unit, setting in rig.home.items()), indent=2)
    if rig.leads:
        yield "MIDI leads:"
        starts = [(f"port {lead.port}" if lead.port else f"thru of {lead.thru}", f"→ {lead.to}") for lead in rig.leads]
        yield from columns(starts, indent=2)
    if rig.stand_ins:
        yield "Stand-ins, with their likeness:"
        yield from columns((_stand_in(each) for each in rig.stand_ins), indent=2)
    on_stage = list(stage_lines(rig))
    yield from ["On stage:", *on_stage] if on_stage else []
    yield from [rig.notes] if rig.notes else []


def _names(link: object) -> list[str]:
    if isinstance(link, str):
        return [link]
    return [name for path in getattr(link, "parallel", ()) for name in path]


def _stand_in(each: "StandIn") -> tuple[str, str, str]:
    part = each.part_switch or (f"preset {each.part_preset}" if each.part_preset else "")
    by = each.switch if each.switch is not None else f"preset {each.preset}"
    return f"{each.part} {part}".strip(), f"by {each.by} {by}", f"{each.likeness:g}"
