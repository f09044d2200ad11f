"""The stand's web application: routes, guard and error handlers put together. It knows a `Stand`, never the engine."""

from collections.abc import Collection
from pathlib import Path
from typing import Annotated, Final

from fastapi import APIRouter, FastAPI, Query
from fastapi.exceptions import RequestValidationError
from fastapi.requests import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles
from fastapi.telemetry import TelemetryConfig
from starlette.exceptions import HTTPException

from scenebook import __version__
from scenebook.errors import AccessError, ScenebookError
from scenebook.live.facing import Records, Stand
from scenebook.web import api, pages
from scenebook.web.events import EVENT, Drawing, Events, View
from scenebook.web.keys import Keys, Right
from scenebook.web.readers import MOST_READERS, Readers
from scenebook.web.refusing import Refusal, http_error, invalid, our_error, troubles
from scenebook.web.security import Guard
from scenebook.web.site import ASK_FOR_A_KEY, Here, NoRecords, Seeing, Site, right_of

__all__ = ["THIS_MACHINE", "create_app"]

THIS_MACHINE: Final = ("127.0.0.1", "localhost", "::1")
_STATIC: Final = Path(__file__).parent / "static"
# Nothing of a gig leaves the machine, whatever is set in its environment.
_NO_TELEMETRY: Final[TelemetryConfig] = {
    "tracing": False,
    "metrics": False,
    "logs": False,
    "operation_spans": False,
    "auto_configure": False,
}
_EVENING_S: Final = 24 * 60 * 60  # a browser that was closed in between is still let in

_windows = APIRouter(include_in_schema=False)
_streams = APIRouter(tags=["stand"])


def create_app(
    stand: Stand,
    keys: Keys,
    *,
    records: Records | None = None,
    hosts: Collection[str] = (),
    shown: str = "",
    most_readers: int = MOST_READERS,
) -> FastAPI:
    """Return the application of one stand.

    `hosts` are the names and addresses by which it is reached besides this machine's own, without port. `shown` is
    the one that other screens are given; without it the stand counts as not shared. `records` is what was written.
    """
    app = FastAPI(
        title="Stand",
        version=__version__,
        description="A running gig: how it stands, what it is asked, what it has written.",
        docs_url=None,  # their pages load scripts from elsewhere
        redoc_url=None,
        redirect_slashes=False,
        telemetry=_NO_TELEMETRY,
    )
    site = Site(stand, keys, records or NoRecords(), Readers(stand, most=most_readers), shown)
    app.state.site, app.state.drawing = site, Drawing(site.records)
    for router in (api.router, _streams, _windows):
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=_STATIC))
    app.add_exception_handler(ScenebookError, our_error)
    app.add_exception_handler(HTTPException, http_error)
    app.add_exception_handler(RequestValidationError, invalid)
    app.add_middleware(Guard, hosts=(*THIS_MACHINE, *hosts, *((shown,) if shown else ())))
    _name_the_cookie(app, keys.cookie)
    return app


def _name_the_cookie(app: FastAPI, name: str) -> None:
    """Let the API's description say what the cookie is called, since each stand's has a name of its own."""
    described = app.openapi()
    described["components"]["securitySchemes"]["cookie"]["name"] = name


@_streams.get(
    "/events",
    response_class=Events,
    status_code=200,
    responses={**troubles(401, 422, 503, beside_stream=True), 200: {"content": {Events.media_type: {"schema": EVENT}}}},
)
async def read_events(
    request: Request,
    site: Here,
    right: Seeing,
    view: View = "player",
    once: Annotated[bool, Query(description="Only what stands now, then the end.")] = False,
) -> Events:
    """Follow the stand by server-sent events.

    Event "stand" is the inner part of the page as HTML, at once and whenever it changes, its id the version; a slow
    reader gets fewer of them. Event "alive" comes every second without a change.
    """
    drawing: Drawing = request.app.state.drawing
    can_step = right is Right.STEP
    return Events(site.readers, lambda snapshot: drawing.inner(snapshot, view, can_step), once=once)


@_windows.get("/")
async def player(request: Request, site: Here) -> Response:
    """Serve the player's page."""
    return _window(request, site, "player")


@_windows.get("/tech")
async def tech(request: Request, site: Here) -> Response:
    """Serve the tech's page: the set and the log."""
    return _window(request, site, "tech")


def _window(request: Request, site: Site, view: View) -> Response:
    right = right_of(request, site)
    if right is None:
        raise Refusal(401, ASK_FOR_A_KEY)
    snapshot, can_step = site.stand.snapshot, right is Right.STEP
    drawing: Drawing = request.app.state.drawing
    inner = drawing.inner(snapshot, view, can_step)
    return HTMLResponse(pages.document(view, inner, can_step=can_step, version=snapshot.version))


@_windows.get("/open/{key}")
async def use_key(request: Request, site: Here, key: str) -> Response:
    """Take a one-time key, leave a cookie, and lead on to an address without it.

    Who may step already stays so whatever the key; a browser that opens a used address again is led on as well.
    """
    if "prefetch" in request.headers.get("sec-purpose", ""):
        raise AccessError("a key is used by opening its address, not by looking ahead")
    before = right_of(request, site)
    try:
        right = site.keys.spend(key)
    except AccessError:
        if before is None:
            raise
        return _led_on(request)
    answer = _led_on(request)
    allowed = before if before is Right.STEP else right
    answer.set_cookie(
        site.keys.cookie,
        site.keys.admitted(allowed),
        max_age=_EVENING_S,
        httponly=True,
        samesite="strict",
    )
    return answer


def _led_on(request: Request) -> Response:
    """Lead on.

    A redirect that began at a link in another site's page would come without its strict cookie; a page of our own that
    leads on brings it.
    """
    if request.headers.get("sec-fetch-site", "none") in ("none", "same-origin"):
        return RedirectResponse("/", 303)
    return HTMLResponse(
        '<!doctype html><html lang="en"><meta charset="utf-8"><meta http-equiv="refresh" content="0; url=/">'
        '<title>Stand</title><p><a href="/">To the stand</a></p></html>'
    )
