"""What people read: one view of a gig, and PDF, HTML, text, CSV and JSON made from it.

Knows the model and the compiled cues; writes no file. Each form is imported when it is first asked for: who lists cues
needs no page setter.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scenebook.sheets.as_html import html
    from scenebook.sheets.as_pdf import pdf
    from scenebook.sheets.as_text import text
    from scenebook.sheets.gig_view import view_of
    from scenebook.sheets.lists import cue_list_json, cue_rows_csv, plain_cues
    from scenebook.sheets.view import GigView, Paper

__all__ = ["GigView", "Paper", "cue_list_json", "cue_rows_csv", "html", "pdf", "plain_cues", "text", "view_of"]

_HOMES = {
    "GigView": "view",
    "Paper": "view",
    "cue_list_json": "lists",
    "cue_rows_csv": "lists",
    "html": "as_html",
    "pdf": "as_pdf",
    "plain_cues": "lists",
    "text": "as_text",
    "view_of": "gig_view",
}


def __getattr__(name: str) -> Any:
    """Import what is asked for (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
