"""The pages as HTML: what the other files of this room say in words, set by templates."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from scenebook.live.snapshot import Snapshot
from scenebook.web.log_words import log_lines
from scenebook.web.over import go_sheet, tonight_sheet
from scenebook.web.player import player_page
from scenebook.web.running_order import running_order

__all__ = ["document", "page_html", "refusal", "tech_html"]

_ENVIRONMENT = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def page_html(snapshot: Snapshot, can_step: bool) -> str:
    """Return the inner part of the player's page; who cannot step gets nothing that steps."""
    over = {"go": go_sheet(snapshot), "tonight": tonight_sheet(snapshot)} if can_step else {}
    return _set("player.html", page=player_page(snapshot), can_step=can_step, **over)


def tech_html(snapshot: Snapshot, can_step: bool, log: Sequence[Mapping[str, Any]]) -> str:
    """Return the inner part of the tech's page: the set as a running order, and the log (given oldest first)."""
    page = player_page(snapshot)
    return _set("tech.html", page=page, order=running_order(snapshot), log=log_lines(log), can_step=can_step)


def document(view: str, inner: str, *, can_step: bool, version: int) -> str:
    """Return the whole page around its inner part. `view` is "player" or "tech"."""
    return _set("document.html", view=view, inner=inner, can_step=can_step, version=version)


def refusal(sentence: str) -> str:
    """Return the page that says in a sentence why there is none."""
    return _set("refusal.html", sentence=sentence)


def _set(template: str, **words: Any) -> str:
    return _ENVIRONMENT.get_template(template).render(**words)
