"""scenebook rig sender: what to store in the unit that holds the lists itself, where no laptop is on stage."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import print_json
from scenebook.cli.sheet import Paper

if TYPE_CHECKING:
    from scenebook.actions.sender import SenderPlan
    from scenebook.cueing.cues import Cue
    from scenebook.cueing.sender import StoredList

__all__ = ["app"]

app = group("rig", "What to store in a sender.")


@app.command("sender")
def sender_command(
    rig: Annotated[str, typer.Argument(help="The rig.")],
    gig: Annotated[str, typer.Option("--gig", metavar="GIG", help="The gig to store.")],
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="FILE", help="Write it: .pdf, .txt, or .mid for a sender.")
    ] = None,
    paper: Annotated[Paper, typer.Option("--paper", metavar="a4|letter", help="The page.")] = Paper.a4,
    font: Annotated[
        list[Path] | None, typer.Option("--font", metavar="FILE", help="A font for a script that ours lacks (PDF).")
    ] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say what to store in a rig's sender for a gig: the lists, message by message, and what to press at each cue.

    Each list sets everything, so any may follow any other; equal ones are stored once. Home comes first, and a song
    starts a bank where there is room. What the sender has no room for is an error that names the cue.
    With a .mid file each list has a marker. scenebook verify proves the rig from these lists.

    Example: scenebook rig sender "fly board, foot controller" --gig "Pell Quay" -o lists.pdf
    """
    from scenebook.actions.sender import check_ending, sender_plan, write_plan
    from scenebook.sheets.plain_pages import pages_text

    if out is not None:
        check_ending(out)
    plan = sender_plan(library_at(library), gig, rig, paper=paper.value)
    written = write_plan(plan, out, fonts=tuple(font or ())) if out is not None else None
    if json:
        print_json(_plan_json(plan))
    elif written is not None:
        print(f"Wrote {written}")
    else:
        print(pages_text(plan.pages), end="")


def _plan_json(plan: "SenderPlan") -> dict[str, Any]:
    stored, played = plan.stored, plan.played
    songs = [("spare song", spare.song, spare.cues) for spare in played.spares]
    songs += [("house sounds", played.house.song, played.house.cues)] if played.house else []
    return {
        "gig": stored.gig,
        "rig": stored.rig,
        "revision": plan.revision,
        "sender": stored.unit,
        "ports": list(stored.ports),
        "holds": stored.holds.model_dump(mode="json"),
        "lists": [_list_json(each) for each in stored.lists],
        "cues": [_cue_json(cue, stored.unit) for cue in played.cues],
        "others": [
            {"part": part, "song": song, "cues": [_cue_json(cue, stored.unit) for cue in cues]}
            for part, song, cues in songs
        ],
    }


def _list_json(each: "StoredList") -> dict[str, Any]:
    return {
        "number": each.number,
        "label": each.label,
        "name": each.name,
        "step": each.step,
        "flips": each.flips._asdict() if each.flips else None,
        "fires": [trigger._asdict() for trigger in each.triggers],
        "cues": list(each.cues),
        "messages": [
            {
                "port": message.port,
                "unit": message.unit,
                "member": message.member,
                "value": message.value,
                "bytes": message.data.hex(" ").upper(),
                "at_ms": message.at_us / 1000,
            }
            for message in each.messages
        ],
    }


def _cue_json(cue: "Cue", unit: str) -> dict[str, Any]:
    presses = [move.member for move in cue.by_hand if move.unit == unit]
    return {"cue": cue.number, "song": cue.song, "scene": cue.scene, "press": presses, "late": cue.late}
