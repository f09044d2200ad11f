"""What to store in a rig's units and what to pack: worked out, and written as PDF or text by the file's ending."""

from pathlib import Path
from typing import NamedTuple

from scenebook.actions.files import write_file
from scenebook.actions.planning_library import asked_of
from scenebook.actions.stored_presets import presets_plan
from scenebook.errors import BadValueError, OutputError
from scenebook.planning.packing_list import PackingList, packing_list
from scenebook.planning.programming import programming
from scenebook.planning.recalls import with_recalls
from scenebook.planning.slot_plans import Programming
from scenebook.sheets.plain_pages import PlainPages, pages_pdf, pages_text

__all__ = ["ENDINGS", "Packed", "Programmed", "check_ending", "pack_rig", "program_rig", "write_pages"]

ENDINGS = (".pdf", ".txt")


class Programmed(NamedTuple):
    """What to store, and the sheet that says so."""

    plan: Programming
    pages: PlainPages
    revision: int


class Packed(NamedTuple):
    """A rig packed, and the sheet that says so."""

    packed: PackingList
    pages: PlainPages
    revision: int


def program_rig(
    path: Path,
    rig: str,
    gigs: tuple[str, ...] = (),
    *,
    copies: bool | None = None,
    as_presets: bool = False,
    paper: str = "a4",
) -> Programmed:
    """Return what to store in each programmable unit of a rig for some gigs, or all.

    `copies` gives each song slots of its own; unless it is said, units that feet or hands recall get them. With
    `as_presets` each sound has one slot, and only what compiling will recall has any.

    Raises:
        BadValueError: copies are asked for, and presets.
        UnknownNameError: no rig or gig of that name.
        ScenebookError: a gig that was named cannot be played on the rig.
    """
    from scenebook.sheets.programming_sheet import programming_pages

    if copies and as_presets:
        raise BadValueError(
            "--copies stores a sound in several slots, and a compiled gig recalls one of them",
            remedy="Leave out --copies, or --as-presets",
        )
    asked = asked_of(path, [rig], gigs)
    if as_presets:
        plan = presets_plan(asked.library, asked.rigs[0], asked.gigs)
    else:
        plan = programming(asked.library, asked.rigs[0], asked.gigs, copies=copies)
        plan = with_recalls(asked.library, plan, asked.gigs)
    return Programmed(plan, programming_pages(plan, revision=asked.revision, paper=paper), asked.revision)


def pack_rig(path: Path, rig: str, gigs: tuple[str, ...] = (), *, paper: str = "a4") -> Packed:
    """Return a rig packed; what a loss costs is counted over some gigs, or all.

    Raises:
        UnknownNameError: no rig or gig of that name.
        ScenebookError: the rig's home cannot be set.
    """
    from scenebook.sheets.pack_sheet import pack_pages

    asked = asked_of(path, [rig], gigs)
    packed = packing_list(asked.library, asked.rigs[0], asked.gigs)
    pages = pack_pages(asked.library, packed, revision=asked.revision, paper=paper)
    return Packed(packed, pages, asked.revision)


def check_ending(out: Path) -> str:
    """Return the ending of a file that pages can be written as.

    Raises:
        OutputError: it is none of .pdf, .txt.
    """
    ending = out.suffix.lower()
    if ending not in ENDINGS:
        raise OutputError(
            f"no sheet can be written as {ending or 'a file without an ending'}",
            where=str(out),
            accepted=", ".join(ENDINGS),
        )
    return ending


def write_pages(pages: PlainPages, out: Path, *, fonts: tuple[Path, ...] = ()) -> Path:
    """Write pages to `out`, whole or not at all, and return its path.

    Raises:
        OutputError: the ending is none of .pdf, .txt, a character is in no font, or the file cannot be written.
    """
    is_pdf = check_ending(out) == ".pdf"
    return write_file(out, pages_pdf(pages, fonts=fonts) if is_pdf else pages_text(pages).encode())
