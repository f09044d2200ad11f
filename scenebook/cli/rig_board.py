"""scenebook rig board: does a rig fit a board, and how."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import columns, print_json, print_lines
from scenebook.errors import BadValueError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.planning.board import BoardPlan
    from scenebook.planning.supply_leads import SupplyAt

__all__ = ["app"]

app = group("rig", "The board of a rig.")
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

    Example: scenebook rig board "fly board" --board 600x320 -o fly-board.pdf
    """
    from scenebook.actions.planning_board import board_plan, check_drawing, write_drawing
    from scenebook.sheets.board_words import board_json

    if out is not None:
        check_drawing(out)
    found = board_plan(
        library_at(library),
        rig,
        board,
        gigs=gig or (),
        beside=beside or (),
        plug=plug,
        supply_at=_supply_at(supply),
        seconds=seconds,
    )
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
