"""scenebook gig work: what hands and feet do between songs."""

from typing import TYPE_CHECKING, Any

from scenebook.cli.options import AsJson, Gig, LibraryPath, Rig, group, library_at
from scenebook.cli.plain import counted, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.cueing.cues import ByHand
    from scenebook.planning.work import BetweenSongs, Work

__all__ = ["app"]

app = group("gig", "The work of a gig.")


@app.command("work")
def work_command(gig: Gig, rig: Rig = None, json: AsJson = False, library: LibraryPath = None) -> None:
    """Say what hands and feet do between neighbouring songs in this order, the worst first.

    Late comes first, then what takes longest. Another order may take less.

    Example: scenebook gig work "Pell Quay"
    """
    from scenebook.actions.planning_reach import work_of_gig

    found = work_of_gig(library_at(library), gig, rig)
    if json:
        print_json(_work_json(found))
    else:
        print_lines(_lines(found))


def _lines(work: "Work") -> "Iterator[str]":
    from scenebook.sheets.words import dos_of

    yield f"{work.gig} on {work.rig}: {work.us / 1e6:.1f} s by hand between songs"
    for change in work.changes:
        if not change.moves:
            continue
        late = f": {change.late}" if change.late else ""
        yield ""
        yield f"{change.entry}. {change.before} → {change.entry + 1}. {change.after}{late}"
        yield f"  {change.us / 1e6:.1f} s {_time(change.time_us)}, {counted(change.presses, 'press', 'presses')}"
        yield from (f"  {do.moment}: {do.words}" for do in dos_of(change.moves, cue=change.cue, short={}))
    idle = sum(not change.moves for change in work.changes)
    yield from ["", f"Nothing to do between {counted(idle, 'other pair')} of songs."] if idle else []


def _time(time_us: float | None) -> str:
    if time_us is None:
        return "in a time that nobody knows"
    return f"of {time_us / 1e6:.0f} s" if time_us else "with no gap"


def _work_json(work: "Work") -> dict[str, Any]:
    return {
        "gig": work.gig,
        "rig": work.rig,
        "takes_ms": work.us / 1000,
        "changes": [_change_json(each) for each in work.changes],
    }


def _change_json(change: "BetweenSongs") -> dict[str, Any]:
    return {
        "before": change.before,
        "after": change.after,
        "cue": change.cue,
        "takes_ms": change.us / 1000,
        "time_ms": None if change.time_us is None else change.time_us / 1000,
        "late": change.late,
        "presses": change.presses,
        "moves": [_move_json(move) for move in change.moves],
    }


def _move_json(move: "ByHand") -> dict[str, Any]:
    """Return a move in the words of `compile --json`."""
    return {
        "do": str(move.action),
        "unit": move.unit,
        "member": move.member,
        "from": move.before,
        "to": move.after,
        "when": str(move.moment),
        "for_cue": move.for_cue,
        "takes_ms": move.us / 1000,
        "presses": move.presses,
    }
