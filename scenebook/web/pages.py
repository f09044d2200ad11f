"""What the pages say of a running gig. Plain, until the stand's own look takes its place."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from scenebook.live.snapshot import Snapshot

__all__ = ["document", "page_html", "refusal", "tech_html"]


def page_html(snapshot: Snapshot, can_step: bool) -> str:
    """Return what a player sees."""
    cue, ahead = snapshot.step.full, snapshot.ahead
    lines = [cue.song, cue.scene, f"then {ahead.full.song} {ahead.full.scene}" if ahead else "the last cue"]
    lines += [notice.words for notice in snapshot.notices]
    return "\n".join(f"<p>{escape(line)}</p>" for line in (*lines, "steps" if can_step else "sees"))


def tech_html(snapshot: Snapshot, can_step: bool, log: Sequence[Mapping[str, Any]]) -> str:
    """Return what a tech sees: the set, and the log, oldest first."""
    return page_html(snapshot, can_step) + "".join(f"<p>{escape(str(record.get('kind')))}</p>" for record in log)


def document(view: str, inner: str, *, can_step: bool, version: int) -> str:
    """Return the whole page around its inner part."""
    step = "step" if can_step else "see"
    body = f'<main data-view="{view}" data-may="{step}" data-version="{version}">{inner}</main>'
    return f"<!doctype html><html lang=en><meta charset=utf-8><title>Stand</title>{body}</html>"


def refusal(sentence: str) -> str:
    """Return the page that says why there is none."""
    return f"<!doctype html><html lang=en><meta charset=utf-8><title>Stand</title><p>{escape(sentence)}</p></html>"
