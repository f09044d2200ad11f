"""scenebook gig work: what hands and feet do between songs."""

import math
from typing import TYPE_CHECKING, Any

from scenebook.cli.options import AsJson, Gig, LibraryPath, Rig, group, library_at
from scenebook.cli.plain import columns, counted, print_json, print_lines
from scenebook.model.amounts import time_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from scenebook.planning.work import BetweenSongs, Work
    from scenebook.sheets.view import Do

__all__ = ["app"]

app = group("gig", "The work of a gig.")


@app.command("work")
def work_command(gig: Gig, rig: Rig = None, json: AsJson = False, library: LibraryPath = None) -> None:
    """Say what hands and feet do between neighbouring songs in this order, the worst first.

    Late comes first, then what takes longest. Another order may take less. The first press at a cue falls on the beat
    itself, so it makes nothing late; all that comes before or after it needs time.

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

    yield f"{work.gig} on {work.rig}: {time_words(work.us / 1e6)} by hand between songs"
    for change in work.changes:
        if not change.moves:
            continue
        late = f": {change.late}" if change.late else ""
        yield ""
        yield f"{change.entry}. {change.before} → {change.entry + 1}. {change.after}{late}"
        yield f"  {_taken(change)}; {_time(change.time_us)}"
        yield from columns(_moves(dos_of(change.moves, cue=change.cue, short={})), indent=2)
    idle = sum(not change.moves for change in work.changes)
    if idle or any(change.on_the_beat for change in work.changes):
        yield ""
    if idle:
        yield f"Nothing to do between {counted(idle, 'other pair')} of songs."
    if any(change.on_the_beat for change in work.changes):
        yield (
            "The first press at a cue falls on the beat itself, so it makes nothing late; all else is done before or "
            "after it, and needs time."
        )


def _taken(change: "BetweenSongs") -> str:
    if not change.us:
        return f"{counted(change.presses, 'press', 'presses')} in time with the music"
    presses = f" with {counted(change.presses, 'press', 'presses')}" if change.presses else ""
    free = ""
    if change.on_the_beat:
        free = ", on the beat" if change.on_the_beat == change.us else ", the first on the beat"
    return f"takes {time_words(change.us / 1e6)}{presses}{free}"


def _time(time_us: float | None) -> str:
    if time_us is None:
        return "how long there is, nobody knows"
    if math.isinf(time_us):
        return "there is all the time in the world"
    return f"there are {time_words(time_us / 1e6)}" if time_us else "there is no gap"


def _moves(dos: "Iterable[Do]") -> "Iterator[tuple[str, str]]":
    """Yield moves with their moment, said once for all that are made in it."""
    last = ""
    for do in dos:
        yield ("" if do.moment == last else f"{do.moment}:"), do.words
        last = do.moment


def _work_json(work: "Work") -> dict[str, Any]:
    return {
        "gig": work.gig,
        "rig": work.rig,
        "takes_ms": work.us / 1000,
        "changes": [_change_json(each) for each in work.changes],
    }


def _change_json(change: "BetweenSongs") -> dict[str, Any]:
    from scenebook.sheets.lists import by_hand_json

    return {
        "before": change.before,
        "after": change.after,
        "cue": change.cue,
        "takes_ms": change.us / 1000,
        "time_ms": None if change.time_us is None else change.time_us / 1000,
        "late": change.late,
        "on_the_beat_ms": change.on_the_beat / 1000,
        "presses": change.presses,
        "moves": [by_hand_json(move) for move in change.moves],
    }
