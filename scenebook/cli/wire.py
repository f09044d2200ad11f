"""scenebook ports and scenebook send: what MIDI ports there are, and one cue to them."""

from typing import TYPE_CHECKING, Annotated

import typer

from scenebook.cli.options import AsJson, Gig, LibraryPath, Rig, group, library_at
from scenebook.cli.plain import columns, counted, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.sending import SentCueReport

__all__ = ["app"]

app = group("sending", "MIDI ports.")
_DIRECTIONS = {"out": "to send to", "in": "to read from", "both": "for proofs"}


@app.command("ports")
def ports_command(json: AsJson = False) -> None:
    """List the MIDI ports that this machine has; the built-in loopback, for proofs, is always there.

    Example: scenebook ports
    """
    from scenebook.actions.sending import midi_ports

    found = midi_ports()
    if json:
        print_json([{"name": port.name, "direction": port.direction, "kind": port.kind} for port in found])
    else:
        print_lines(columns((_DIRECTIONS[port.direction], port.kind, port.name) for port in found))
        if len(found) == 1:
            print("No MIDI system answers on this machine.")


@app.command("send")
def send_command(
    gig: Gig,
    cue: Annotated[str, typer.Argument(help="The number of the cue, as compile lists it; 0 is home.")],
    port: Annotated[
        list[str] | None,
        typer.Option("--port", help="The MIDI port; for a rig with several: RIG-PORT=MIDI-PORT, once for each."),
    ] = None,
    rig: Rig = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Send one cue to a real port, in full and at its own times, and say what to check by hand.

    Example: scenebook send "Pell Quay" 12 --port front=Interface:1 --port wet=Interface:2
    """
    from scenebook.actions.sending import send_cue

    done = send_cue(library_at(library), gig, cue, rig=rig, ports_given=port or ())
    if json:
        print_json(_json(done))
    else:
        print_lines(_lines(done))


def _lines(done: "SentCueReport") -> "Iterator[str]":
    cue = done.cue
    place = f"{cue.song}, {cue.scene}" if cue.song else cue.scene
    yield f"Sent cue {cue.number} ({place}): {counted(len(cue.messages), 'message')}, {counted(cue.bytes, 'byte')}"
    yield from columns(((f"{rig_port}:", port) for rig_port, port in done.ports.items()), indent=2)
    if cue.by_hand:
        yield "By hand and foot, see that it stands so:"
        yield from columns(((move.unit, move.member, move.after) for move in cue.by_hand), indent=2)


def _json(done: "SentCueReport") -> dict[str, object]:
    from scenebook.sheets.lists import cue_list_json

    return {"ports": dict(done.ports), "cue": cue_list_json(done.cue_list)["cues"][0]}
