"""Make a gig's sheet and write it, as PDF, HTML or text by the ending of the file."""

from pathlib import Path

from scenebook.actions.compiling import GigSlice, compiled_slice, gig_slice
from scenebook.actions.files import write_file
from scenebook.actions.sender import pressed
from scenebook.cueing.cues import CueList
from scenebook.errors import OutputError
from scenebook.sheets.gig_view import view_of
from scenebook.sheets.view import GigView, Paper

__all__ = ["ENDINGS", "Paper", "sheet", "sheet_bytes", "view"]

ENDINGS = (".pdf", ".html", ".txt")


def sheet(
    path: Path, gig: str, out: Path, rig: str | None = None, *, paper: str = "a4", fonts: tuple[Path, ...] = ()
) -> Path:
    """Write the sheet of a gig to `out`, whole or not at all, and return its path.

    Where the rig has a sender, the sheet says what to press there at each cue.

    Raises:
        OutputError: the ending is none of .pdf, .html, .txt, or the file cannot be written.
        ScenebookError: the gig cannot be compiled, or the rig's sender has no room for it.
    """
    _check_ending(out)
    part = gig_slice(path, gig, rig)
    played = pressed(part, compiled_slice(part))
    return write_file(out, sheet_bytes(view(part, played, paper=paper), out, fonts=fonts))


def view(part: GigSlice, cue_list: CueList, *, paper: str = "a4") -> GigView:
    """Return what the sheet of a compiled gig says."""
    return view_of(part.library, cue_list, revision=part.revision, paper=Paper(paper))


def sheet_bytes(page: GigView, out: Path, *, fonts: tuple[Path, ...] = ()) -> bytes:
    """Return the bytes of a sheet in the form that the ending of `out` names.

    Raises:
        OutputError: the ending is none of .pdf, .html, .txt, or a character is in no font.
    """
    ending = _check_ending(out)
    if ending == ".pdf":
        from scenebook.sheets.as_pdf import pdf  # late: the other two need no page setter

        return pdf(page, fonts=fonts)
    if ending == ".html":
        from scenebook.sheets.as_html import html

        return html(page).encode()
    from scenebook.sheets.as_text import text

    return text(page).encode()


def _check_ending(out: Path) -> str:
    ending = out.suffix.lower()
    if ending not in ENDINGS:
        raise OutputError(
            f"no sheet can be written as {ending or 'a file without an ending'}",
            where=str(out),
            accepted=", ".join(ENDINGS),
        )
    return ending
