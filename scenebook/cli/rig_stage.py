"""scenebook rig stage: how a rig is run on stage."""

from typing import Annotated

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import print_json, print_lines

__all__ = ["app"]

app = group("rig", "Rigs on stage.")
Several = list[str] | None


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("stage")
def stage_command(
    rig: Annotated[str, typer.Argument(help="The rig.")],
    wire: Annotated[
        Several,
        typer.Option("--wire", metavar="PORT=NAME", help="The MIDI port for a port of the rig; PORT= names none."),
    ] = None,
    usb: Annotated[Several, typer.Option("--usb", metavar="PORT", help="It leaves by USB, so it is not paced.")] = None,
    five_pin: Annotated[Several, typer.Option("--five-pin", metavar="PORT", help="It leaves by a 5-pin plug.")] = None,
    clock: Annotated[Several, typer.Option("--clock", metavar="PORT", help="The song's tempo goes out there.")] = None,
    no_clock: Annotated[Several, typer.Option("--no-clock", metavar="PORT", help="No clock there.")] = None,
    step: Annotated[
        Several,
        typer.Option("--step", metavar="STEP=KIND:N:CH", help="A message that steps: next=note:60:16; next= none."),
    ] = None,
    safe: Annotated[
        Several, typer.Option("--safe", metavar="KEY=VALUE", help="The quiet state, as in scene set; =home: no more.")
    ] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say how a rig is run on stage, or show it: MIDI ports, clock, footswitches, the quiet state.

    Example: scenebook rig stage "hall board" --wire "front=interface 1" --clock front --safe "delay, tape=resting"
    """
    from scenebook.actions.rig_stage import OnStage, set_stage
    from scenebook.cli.stage_words import stage_lines

    lists = (wire, usb, five_pin, clock, no_clock, step, safe)
    name, found = set_stage(library_at(library), rig, OnStage(*(each or () for each in lists)))
    if json:
        print_json(
            {"name": name, **found.model_dump(mode="json", include={"wires", "steps", "playback", "safe", "sender"})}
        )
    else:
        print_lines([f"{name} on stage:", *(list(stage_lines(found)) or ["  nothing is said"])])
