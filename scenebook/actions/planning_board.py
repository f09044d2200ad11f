"""Plan a rig's board, and write its workshop drawing as SVG or PDF by the ending of the file."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from scenebook.actions.files import write_file
from scenebook.actions.planning_library import asked_of
from scenebook.errors import BadValueError, OutputError
from scenebook.model import Library
from scenebook.planning.board import BoardPlan, plan_board, read_board
from scenebook.planning.supply_leads import SupplyAt
from scenebook.planning.under_way import Watch

__all__ = ["ENDINGS", "board_plan", "check_drawing", "write_drawing"]

ENDINGS = (".pdf", ".svg")
PLUG_MM = (15.0, 30.0)
LONGEST_S = 3600


def board_plan(
    path: Path,
    rig: str,
    board: str,
    *,
    gigs: Sequence[str] = (),
    beside: Sequence[str] = (),
    plug: float | None = None,
    supply_at: SupplyAt | None = None,
    seconds: float = 5.0,
    watch: Watch | None = None,
) -> BoardPlan:
    """Return whether a rig fits a board, and how; names may be shortened.

    Args:
        path: the library file.
        rig: the rig.
        board: its width and depth in mm, "600x320".
        gigs: those whose presses count; all unless given.
        beside: units of the rig that stand beside the board.
        plug: mm for a plug, 15 to 30; the library's practice unless given.
        supply_at: where the rig's supply is; unless given what its notes say, else on the board.
        seconds: how long to look for each answer, more than 0, up to an hour.
        watch: told of progress, and says whether to go on; where it says no, the best so far is returned.

    Raises:
        BadValueError: a number without sense, or a board smaller than a unit.
        UnknownNameError: no rig, gig or unit of that name.
        SceneError: a gig that is named cannot be played on the rig.
    """
    size = read_board(board)
    if not 0 < seconds <= LONGEST_S:
        raise BadValueError(f"{seconds:g} s is no time to look", accepted=f"more than 0 s, up to {LONGEST_S}")
    asked = asked_of(path, [rig], gigs)
    planned = _with_plug(asked.library, plug)
    return plan_board(
        planned,
        asked.rigs[0],
        size,
        gigs=asked.gigs,
        beside=beside,
        supply_at=supply_at,
        seconds=seconds,
        watch=watch,
    )


def check_drawing(out: Path) -> Path:
    """Return the file that a drawing is to go to, before any work is done for it.

    Raises:
        OutputError: its ending is neither .pdf nor .svg.
    """
    if out.suffix.lower() not in ENDINGS:
        found = f"no drawing can be written as {out.suffix or 'a file without an ending'}"
        raise OutputError(found, where=str(out), accepted=", ".join(ENDINGS))
    return out


def write_drawing(plan: BoardPlan, out: Path, *, fonts: tuple[Path, ...] = ()) -> Path:
    """Write the drawing of a board that fits, with today's date, whole or not at all, and return its path.

    Raises:
        OutputError: the ending is neither .pdf nor .svg, a character is in no font, or the file cannot be written.
    """
    today = datetime.now(UTC).date()
    if check_drawing(out).suffix.lower() == ".svg":
        from scenebook.sheets.drawing import board_svg

        return write_file(out, board_svg(plan, drawn=today))
    from scenebook.sheets.drawing_pdf import board_pdf  # late: the other needs no page setter

    return write_file(out, board_pdf(plan, drawn=today, fonts=fonts))


def _with_plug(library: Library, plug: float | None) -> Library:
    if plug is None:
        return library
    low, high = PLUG_MM
    if not low <= plug <= high:
        raise BadValueError(f"{plug:g} mm is no room for a plug", accepted=f"{low:g} to {high:g} mm")
    practice = library.settings.practice.model_copy(update={"plug_mm": plug})
    return library.model_copy(update={"settings": library.settings.model_copy(update={"practice": practice})})
