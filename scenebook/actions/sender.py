"""What a rig's sender stores for a gig: worked out, and written as a sheet or as a Standard MIDI File."""

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from scenebook.actions.compiling import GigSlice, compiled_slice, gig_slice
from scenebook.actions.files import write_file
from scenebook.cueing.cues import CueList
from scenebook.cueing.sender import SenderLists, sender_lists
from scenebook.cueing.sender_presses import in_order, without_ports
from scenebook.errors import OutputError

if TYPE_CHECKING:
    from scenebook.sheets.plain_pages import PlainPages

__all__ = ["ENDINGS", "SenderPlan", "check_ending", "has_sender", "pressed", "sender_note", "sender_plan", "write_plan"]

ENDINGS = (".pdf", ".txt", ".mid")


class SenderPlan(NamedTuple):
    """What to store, the gig as it is played with it, and the sheet that says so."""

    stored: SenderLists
    played: CueList
    pages: "PlainPages"
    revision: int


def sender_plan(path: Path, gig: str, rig: str | None = None, *, paper: str = "a4") -> SenderPlan:
    """Return what the sender of a rig stores for a gig.

    Raises:
        BadValueError: the rig names no sender, or it has no room for the gig.
        ScenebookError: the gig cannot be compiled.
    """
    from scenebook.sheets.sender_sheet import sender_pages

    part = gig_slice(path, gig, rig)
    lean, full = compiled_slice(part), compiled_slice(part, full=True)
    stored = sender_lists(part.library, lean, full)
    played = in_order(part.library, lean, full, stored)
    pages = sender_pages(stored, played, part.library.units, revision=part.revision, paper=paper)
    return SenderPlan(stored, played, pages, part.revision)


def has_sender(part: GigSlice) -> bool:
    """Tell whether the gig's rig has a sender that is not out tonight."""
    sender, gig = part.library.rigs[part.rig].sender, part.library.gigs[part.gig]
    return sender is not None and gig.played_by.get(sender.unit, sender.unit) not in gig.out


def sender_note(part: GigSlice) -> str:
    """Return one line on the messages that the rig's sender stores and sends itself; "" without one."""
    sender, gig = part.library.rigs[part.rig].sender, part.library.gigs[part.gig]
    if sender is None or not has_sender(part):
        return ""
    unit, ports = gig.played_by.get(sender.unit, sender.unit), ", ".join(sender.ports)
    command = f'scenebook rig sender "{part.rig}" --gig "{part.gig}"'
    return f"What goes to {ports} is stored in {unit}, which sends it when its lists are pressed: {command} tells them"


def pressed(part: GigSlice, lean: CueList) -> CueList:
    """Return a lean list with what is pressed at each cue, where the gig's rig has a sender; else the list itself.

    Raises:
        BadValueError: the sender has no room for the gig.
    """
    if not has_sender(part):
        return lean
    full = compiled_slice(part, full=True)
    stored = sender_lists(part.library, lean, full)
    return without_ports(in_order(part.library, lean, full, stored), stored.ports)


def check_ending(out: Path) -> str:
    """Return the ending of a file that a plan can be written as.

    Raises:
        OutputError: it is none of .pdf, .txt, .mid.
    """
    ending = out.suffix.lower()
    if ending not in ENDINGS:
        found = f"no lists can be written as {ending or 'a file without an ending'}"
        raise OutputError(found, where=str(out), accepted=", ".join(ENDINGS))
    return ending


def write_plan(plan: SenderPlan, out: Path, *, fonts: tuple[Path, ...] = ()) -> Path:
    """Write a plan to `out` as its ending says, whole or not at all, and return its path.

    Raises:
        OutputError: the ending is none of .pdf, .txt, .mid, a character is in no font, or the file cannot be written.
    """
    ending = check_ending(out)
    if ending == ".mid":
        from scenebook.actions.sender_smf import sender_smf  # late: it loads the writer of files

        return write_file(out, sender_smf(plan.stored))
    from scenebook.sheets.plain_pages import pages_pdf, pages_text  # late: who proves a gig sets no page

    return write_file(out, pages_pdf(plan.pages, fonts=fonts) if ending == ".pdf" else pages_text(plan.pages).encode())
