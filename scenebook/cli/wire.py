"""scenebook ports and scenebook send: what MIDI ports there are, and one cue to them."""

from typing import TYPE_CHECKING, Annotated

import typer

from scenebook.cli.options import AsJson, Gig, LibraryPath, Rig, group, library_at
from scenebook.cli.plain import columns, counted, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.sending import SentCueReport
    from scenebook.midi import PortInfo

__all__ = ["app"]

app = group("sending", "MIDI ports.")
_DIRECTIONS = {"out": "to send to", "in": "to read from", "both": "for proofs"}
_TWO_WAYS = "to send to and read from"


@app.command("ports")
def ports_command(json: AsJson = False) -> None:
    """List the MIDI ports that this machine has; the built-in loopback, for proofs, is always there.

    Example: scenebook ports
    """
    from scenebook.actions.sending import CONNECT, midi_ports

    found = midi_ports()
    if json:
        print_json([{"name": port.name, "direction": port.direction, "kind": port.kind} for port in found])
    else:
        print_lines(columns(_port_rows(found)))
        if all(port.direction == "both" for port in found):
            print(f"No MIDI port is there but our own. {CONNECT}.")


@app.command("send")
def send_command(
    gig: Gig,
    cue: Annotated[
        str,
        typer.Argument(
            help="Its number as compile lists it (0 is home), the scene of a house sound, a spare song, or SONG/SCENE."
        ),
    ],
    port: Annotated[
        list[str] | None,
        typer.Option("--port", help="The MIDI port; for a rig with several: RIG-PORT=MIDI-PORT, once for each."),
    ] = None,
    rig: Rig = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Send one cue to a real port, in full and at its own times, and say what to check by hand.

    A house sound goes by its scene (clean), a spare song by its name (its first cue) or as SONG/SCENE, which serves for
    every song of the gig.

    Example: scenebook send "Pell Quay" 12 --port front=Interface:1 --port wet=Interface:2
    """
    from scenebook.actions.sending import send_cue

    done = send_cue(library_at(library), gig, cue, rig=rig, ports_given=port or ())
    if json:
        print_json(_json(done))
    else:
        print_lines(_lines(done))


def _port_rows(found: "list[PortInfo]") -> "Iterator[tuple[str, ...]]":
    """Yield a row for each port, one for both its ways; the loopback, which is its own kind, is named once."""
    ways: dict[tuple[str, str], list[str]] = {}
    for port in found:
        ways.setdefault((port.kind, port.name), []).append(port.direction)
    for (kind, name), directions in ways.items():
        said = _TWO_WAYS if len(set(directions)) > 1 else _DIRECTIONS[directions[0]]
        yield (said, name) if kind == name else (said, name, kind)


def _lines(done: "SentCueReport") -> "Iterator[str]":
    cue = done.cue
    place = f"{cue.song}, {cue.scene}" if cue.song else cue.scene
    what = f"{done.part} {place}" if done.part else f"cue {cue.number} ({place})"
    yield f"Sent {what}: {counted(len(cue.messages), 'message')}, {counted(cue.bytes, 'byte')}"
    yield from columns(((f"{rig_port}:", port) for rig_port, port in done.ports.items()), indent=2)
    if cue.by_hand:
        yield "By hand and foot, see that it stands so:"
        yield from columns(((move.unit, move.member, move.after) for move in cue.by_hand), indent=2)


def _json(done: "SentCueReport") -> dict[str, object]:
    from scenebook.sheets.lists import cue_list_json

    return {"ports": dict(done.ports), "cue": cue_list_json(done.cue_list)["cues"][0]}
