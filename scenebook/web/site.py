"""What the routes of one stand share, and who may use them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.openapi.models import APIKey, APIKeyIn
from fastapi.security.base import SecurityBase

from scenebook.errors import AccessError
from scenebook.live.facing import Records, Stand
from scenebook.web.keys import Keys, Right
from scenebook.web.readers import Readers
from scenebook.web.refusing import Refusal

__all__ = ["ASK_FOR_A_KEY", "Here", "NoRecords", "Seeing", "Site", "Stepping", "right_of"]

ASK_FOR_A_KEY = "This page needs a key: open the address that the stand gave, or scan its code"


class NoRecords:
    """A stand of which nothing is written."""

    def read(self, after: int, count: int) -> tuple[Sequence[Mapping[str, Any]], int]:
        """Return nothing."""
        return (), 0

    def last(self, count: int) -> Sequence[Mapping[str, Any]]:
        """Return nothing."""
        return ()


@dataclass(frozen=True)
class Site:
    """One stand as the web sees it. `shown` is the host that other machines reach it by, "" where none does."""

    stand: Stand
    keys: Keys
    records: Records
    readers: Readers
    shown: str = ""

    def address(self, request: Request, path: str) -> str:
        """Return an address for another screen; the port is the one that is served."""
        port = (request.scope.get("server") or (None, None))[1] or 80
        host = self.shown or "127.0.0.1"
        return f"http://{f'[{host}]' if ':' in host else host}:{port}{path}"


async def _site(request: Request) -> Site:
    site: Site = request.app.state.site
    return site


Here = Annotated[Site, Depends(_site)]


def right_of(request: Request, site: Site) -> Right | None:
    """Return what the one who asks may do."""
    return site.keys.right_of(request.cookies.get(site.keys.cookie))


class _Cookie(SecurityBase):
    """The cookie as the API's description names it; its name is put in when the app is made."""

    def __init__(self) -> None:
        self.model = APIKey(**{"in": APIKeyIn.cookie}, name="cookie", description="What a key leaves behind.")
        self.scheme_name = "cookie"

    async def __call__(self, request: Request, site: Here) -> Right:
        right = right_of(request, site)
        if right is None:
            raise Refusal(401, ASK_FOR_A_KEY)
        return right


_COOKIE = _Cookie()
Seeing = Annotated[Right, Depends(_COOKIE)]


async def _stepping(right: Seeing) -> Right:
    if right is not Right.STEP:
        raise AccessError("this screen may see the gig and not step it", remedy="Open it with the stepping key")
    return right


Stepping = Annotated[Right, Depends(_stepping)]
