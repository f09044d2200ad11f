"""What comes in from the network and what may go out: hosts, origins, sizes, headers. The outermost layer of the app.

Pages of other sites must neither read nor step a stand. A name of theirs that leads to this machine (DNS rebinding)
fails at the Host header; their requests fail at Origin and Sec-Fetch-Site; what they put into a page fails at the
content security policy. Sources: Fetch Metadata Request Headers (W3C), Content Security Policy Level 3 (W3C), RFC 9110.
"""

import asyncio
import logging
import re
from collections.abc import Collection
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from scenebook.errors import WebError
from scenebook.web.refusing import Refusal, refused

__all__ = ["BODY_BYTES", "HEADER_BYTES", "POLICY", "Guard"]

BODY_BYTES: Final = 16 * 1024
HEADER_BYTES: Final = 16 * 1024  # serving hands it to what reads them
_BODY_S: Final = 5.0

POLICY: Final = "; ".join(
    [
        "default-src 'none'",
        *(f"{kind}-src 'self'" for kind in ("script", "style", "img", "connect", "font")),
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    ]
)
_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_HOST: Final = re.compile(r"(?:\[(?P<six>[^\[\]]+)\]|(?P<name>[^\[\]:]+))(?::[0-9]+)?")  # RFC 3986, section 3.2
_SAFE_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_log = logging.getLogger("scenebook.web")
_log.addHandler(logging.NullHandler())  # the player's terminal stays free of tracebacks


class Guard:
    """Lets in what this stand's own pages and its player's programs send, and nothing else; catches every error."""

    def __init__(self, app: ASGIApp, *, hosts: Collection[str]) -> None:
        """`hosts` are the names and addresses by which the stand is reached, without port."""
        self._app, self._hosts = app, frozenset(_plain(host) for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        answer = _Answer(send, is_kept=scope["path"].startswith("/static/"))
        try:
            self._check(scope)
            if scope["method"] not in _SAFE_METHODS:
                receive = await _whole(Headers(scope=scope), receive)
            await self._app(scope, receive, answer)
        except WebError as error:
            await refused(scope, error)(scope, receive, answer)
        except Exception:
            _log.exception("A request could not be answered")
            if answer.is_begun:
                raise  # nothing can be mended any more: the connection ends
            await refused(scope, Refusal(500, "something went wrong in the page; the gig goes on"))(
                scope, receive, answer
            )

    def _check(self, scope: Scope) -> None:
        if sum(len(name) + len(value) for name, value in scope["headers"]) > HEADER_BYTES:
            raise Refusal(431, f"the request's head is too large; accepted: up to {HEADER_BYTES // 1024} KiB")
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        found = _HOST.fullmatch(host)
        if found is None or _plain(found["six"] or found["name"]) not in self._hosts:
            raise Refusal(
                421, "this stand is not served under that name", remedy="Open the address that the stand gives"
            )
        if scope["method"] not in _SAFE_METHODS:
            _check_origin(headers, host)


def _check_origin(headers: Headers, host: str) -> None:
    """Refuse what another site's page sends. A program that is no browser sends neither header, and needs a cookie."""
    origin, site = headers.get("origin"), headers.get("sec-fetch-site")
    if (origin is not None and origin.lower() != f"http://{host}".lower()) or site not in (None, "same-origin"):
        raise Refusal(
            403, "this came from a page of another site, so nothing was done", remedy="Use the stand's own page"
        )


def _plain(host: str) -> str:
    """Return a name or address as it is compared: without case, and the dot at its end."""
    return host.lower().removesuffix(".")


async def _whole(headers: Headers, receive: Receive) -> Receive:
    """Read a body to its end within its bounds; return how the app reads it again."""
    said = headers.get("content-length", "0")
    if not said.isascii() or not said.isdigit() or len(said) > 9 or int(said) > BODY_BYTES:
        raise _too_large()
    body = b""
    try:
        async with asyncio.timeout(_BODY_S):
            while True:
                message = await receive()
                if message["type"] == "http.disconnect":
                    raise Refusal(400, "the request broke off before it was whole, so nothing was done")
                body += message.get("body", b"")
                if len(body) > BODY_BYTES:
                    raise _too_large()
                if not message.get("more_body", False):
                    break
    except TimeoutError:
        raise Refusal(408, "the request took too long to come in") from None
    return _again(body, receive)


def _again(body: bytes, receive: Receive) -> Receive:
    given = False

    async def read() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return read


def _too_large() -> Refusal:
    return Refusal(413, f"the request is too large; accepted: up to {BODY_BYTES // 1024} KiB")


class _Answer:
    """What goes out, with the headers that every answer has."""

    def __init__(self, send: Send, *, is_kept: bool) -> None:
        self._send, self._caching, self.is_begun = send, "no-cache" if is_kept else "no-store", False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.is_begun = True
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers[name] = value
            headers["Cache-Control"] = self._caching
        await self._send(message)
