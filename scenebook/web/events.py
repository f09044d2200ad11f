"""Server-sent events (WHATWG HTML, "Server-sent events"): what a page shows when it changes, and a sign of life."""

import asyncio
import logging
from collections.abc import Callable
from typing import Final, Literal

from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from scenebook.live.facing import Records
from scenebook.live.snapshot import Snapshot
from scenebook.web import pages
from scenebook.web.readers import Readers

__all__ = ["ALIVE_S", "EVENT", "Drawing", "Events", "View"]

View = Literal["player", "tech"]

ALIVE_S: Final = 1.0
_STALLED_S: Final = 15.0  # a page that has taken nothing for so long has gone
_BREATH_S: Final = 0.03  # two changes that follow each other closer are drawn once
_RETRY_MS: Final = 500
_LOG: Final = 100

EVENT: Final[dict[str, object]] = {
    "type": "object",
    "description": "One event of the stream.",
    "properties": {
        "event": {"enum": ["stand", "alive"]},
        "data": {"type": "string", "description": "stand: the inner part of the page; alive: the version."},
        "id": {"type": "string", "description": "stand: the version."},
    },
    "required": ["event", "data"],
}
"""How the API's description says what an event is."""

_log = logging.getLogger("scenebook.web")


class Drawing:
    """The inner part of the pages, drawn once for all who see the same. On one event loop."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._drawn: dict[tuple[View, bool], tuple[Snapshot, str]] = {}

    def inner(self, snapshot: Snapshot, view: View, can_step: bool) -> str:
        """Return the inner part of a page; a fault in drawing is a sentence, and the page goes on."""
        found = self._drawn.get((view, can_step))
        if found is not None and found[0] is snapshot:
            return found[1]
        try:
            text = self._draw(snapshot, view, can_step)
        except Exception:
            _log.exception("A page could not be drawn")
            text = '<p role="alert">The page could not be drawn. The gig goes on.</p>'
        self._drawn[view, can_step] = (snapshot, text)
        return text

    def _draw(self, snapshot: Snapshot, view: View, can_step: bool) -> str:
        if view == "tech":
            return pages.tech_html(snapshot, can_step, self._records.last(_LOG))
        return pages.page_html(snapshot, can_step)


class Events(Response):
    """The stream of one page. It ends when the page goes, takes nothing any more, or the stand ends."""

    media_type = "text/event-stream"

    def __init__(self, readers: Readers, draw: Callable[[Snapshot], str], *, once: bool = False) -> None:
        """With `once`, what stands now and no more."""
        super().__init__()
        self._readers, self._draw, self._once = readers, draw, once
        del self.headers["content-length"]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send until it ends."""
        with self._readers.entered() as flag:
            pumping = asyncio.ensure_future(self._pump(flag, send))
            going = asyncio.ensure_future(_gone(receive))
            try:
                await asyncio.wait([pumping, going], return_when=asyncio.FIRST_COMPLETED)
            finally:
                for task in (pumping, going):
                    task.cancel()
                await asyncio.gather(pumping, going, return_exceptions=True)

    async def _pump(self, flag: asyncio.Event, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
        await _send(send, f"retry: {_RETRY_MS}\n\n")
        seen: Snapshot | None = None
        while not self._readers.is_closed:
            flag.clear()
            snapshot = self._readers.snapshot
            if snapshot is not seen:
                await _send(send, _event("stand", self._draw(snapshot), snapshot.version))
                seen = snapshot
                if self._once:
                    break
                await asyncio.sleep(_BREATH_S)
            if not await _set_within(flag, ALIVE_S):
                await _send(send, _event("alive", str(snapshot.version)))
        await _send(send, "", more=False)


def _event(name: str, data: str, number: int | None = None) -> str:
    lines = [f"event: {name}", *(f"data: {line}" for line in data.splitlines() or [""])]
    if number is not None:
        lines.append(f"id: {number}")
    return "\n".join(lines) + "\n\n"


async def _send(send: Send, text: str, *, more: bool = True) -> None:
    async with asyncio.timeout(_STALLED_S):
        await send({"type": "http.response.body", "body": text.encode(), "more_body": more})


async def _set_within(flag: asyncio.Event, seconds: float) -> bool:
    try:
        async with asyncio.timeout(seconds):
            await flag.wait()
    except TimeoutError:
        return False
    return True


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
