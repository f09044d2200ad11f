"""What people read: one view of a gig, and PDF, HTML, text, CSV and JSON made from it.

Knows the model and the compiled cues; writes no file.
"""

from scenebook.sheets.as_html import html
from scenebook.sheets.as_pdf import pdf
from scenebook.sheets.as_text import text
from scenebook.sheets.gig_view import view_of
from scenebook.sheets.lists import cue_list_json, cue_rows_csv, plain_cues
from scenebook.sheets.view import GigView, Paper

__all__ = ["GigView", "Paper", "cue_list_json", "cue_rows_csv", "html", "pdf", "plain_cues", "text", "view_of"]
