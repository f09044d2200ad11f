"""scenebook rig board: does a rig fit a board, and how."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import columns, print_json, print_lines
from scenebook.cli.watching import watching
from scenebook.errors import BadValueError
from scenebook.model.amounts import number_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.planning.board import BoardPlan
    from scenebook.planning.supply_leads import SupplyAt
    from scenebook.planning.under_way import Progress

__all__ = ["app"]

app = group("rig", "The board of a rig.")
_CM2 = 100  # mm²
Gigs = Annotated[
    list[str] | None,
    typer.Option("--gig", metavar="GIG", help="Count this gig's presses, or several; unless given, all."),
]
Beside = Annotated[
    list[str] | None, typer.Option("--beside", metavar="UNIT", help="A unit that stands beside the board, or several.")
]
Fonts = Annotated[
    list[Path] | None, typer.Option("--font", metavar="FILE", help="A font for a script that ours lacks (PDF).")
]


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("board")
def board_command(
    rig: Annotated[str, typer.Argument(help="The rig.")],
    board: Annotated[str, typer.Option("--board", metavar="WIDTHxDEPTH", help="The board in mm, such as 600x320.")],
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="FILE", help="Write the workshop drawing: .pdf or .svg.")
    ] = None,
    gig: Gigs = None,
    beside: Beside = None,
    plug: Annotated[
        float | None,
        typer.Option("--plug", metavar="MM", help="Room for a plug, 15 to 30; unless given, the library's."),
    ] = None,
    supply: Annotated[
        str | None,
        typer.Option(
            "--supply-at",
            metavar="PLACE",
            help="Where the rig's supply is: board, under (the frame) or beside; unless given as its notes say.",
        ),
    ] = None,
    seconds: Annotated[float, typer.Option("--seconds", metavar="S", help="How long to look for an answer.")] = 5.0,
    font: Fonts = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say whether a rig fits a board, plugs counted, and where each unit stands; or the least larger one that would do.

    What is pressed most stands in front, footswitches keep a shoe's width apart, and the signal runs roughly from
    right to left. The rig's supply stands on the board too, unless its notes say "under the frame". Then the leads to
    cut, one from the supply to each unit that it feeds. The drawing is to scale. Exit code 1 if the rig does not fit.
    Ctrl-C ends the search and keeps the best arrangement so far, which the drawing then says.

    Example: scenebook rig board "fly board" --board 600x320 -o fly-board.pdf
    """
    from scenebook.actions.planning_board import board_plan, check_drawing, write_drawing
    from scenebook.sheets.board_words import board_json

    if out is not None:
        check_drawing(out)
    with watching() as show:
        found = board_plan(
            library_at(library),
            rig,
            board,
            gigs=gig or (),
            beside=beside or (),
            plug=plug,
            supply_at=_supply_at(supply),
            seconds=seconds,
            watch=lambda far: show(_far_words(far)),
        )
    if found.stopped and found.fits is None and found.larger is None:
        raise KeyboardInterrupt  # there is no best so far yet
    written = write_drawing(found, out, fonts=tuple(font or ())) if out is not None and found.fits else None
    if json:
        print_json({**board_json(found), "drawing": str(written) if written else None})
    else:
        print_lines(_lines(found, out, written))
    raise typer.Exit(0 if found.fits else 1)


def _supply_at(text: str | None) -> "SupplyAt | None":
    from scenebook.planning.supply_leads import SupplyAt

    try:
        return None if text is None else SupplyAt(text.strip().lower())
    except ValueError:
        raise BadValueError(f"no supply is at {text!r}", accepted=", ".join(SupplyAt)) from None


def _far_words(far: "Progress") -> str:
    """Return how far the search is: of arrangements how far each is from what is liked, of larger boards the size."""
    best, bound = far.best, far.bound
    if best is None:
        said = "no arrangement yet"
    elif far.larger is not None:
        least = "" if bound is None else f", at least {number_words(bound / _CM2, 0)} cm2 is possible"
        said = f"best {far.larger.width} × {far.larger.depth} mm, {number_words(best / _CM2, 0)} cm2{least}"
    else:
        least = "" if bound is None else f", at least {number_words(bound)} is possible"
        said = f"best {number_words(best)}{least} (less is better)"
    return f"{number_words(far.seconds, 0)} s: {said}"


def _lines(plan: "BoardPlan", out: Path | None, written: Path | None) -> "Iterator[str]":
    from scenebook.sheets.board_words import CUT_HEAD, PARTS_HEAD, cut_rows, cut_total, parts_rows, remarks, verdict

    yield verdict(plan)
    if plan.placed:
        yield from ["", "Parts list (mm):", *columns([PARTS_HEAD, *parts_rows(plan)], indent=2)]
    if plan.leads:
        yield from ["", "Cut list of leads:", *columns([CUT_HEAD, *cut_rows(plan)], indent=2)]
        yield f"To cut: {cut_total(plan)}."
    yield from ["", *remarks(plan)]
    if out is not None:
        yield f"Wrote {written}" if written else "No drawing was written: there is nothing to draw."
