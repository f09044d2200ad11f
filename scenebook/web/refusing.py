"""Errors as a page or a program sees them: one sentence, with the status that HTTP has for it (RFC 9110)."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any, Final

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import Scope

from scenebook.errors import AccessError, BadValueError, ScenebookError, UnknownNameError, WebError
from scenebook.web import pages

__all__ = ["Refusal", "Trouble", "http_error", "invalid", "our_error", "refused", "troubles"]

_STATUS: Final = {UnknownNameError: 404, BadValueError: 422, AccessError: 403}
_PLAIN: Final = {
    400: "the request could not be read",
    404: "there is nothing at this address",
    405: "this address is not used so",
}


class Trouble(BaseModel):
    """Why something was not done."""

    error: str = Field(description="One sentence for a player.")


class Refusal(WebError):
    """A request that is not answered, with its HTTP status."""

    def __init__(self, status: int, found: str, *, remedy: str = "") -> None:
        super().__init__(found, remedy=remedy)
        self.status = status


def troubles(*statuses: int, beside_stream: bool = False) -> dict[int | str, dict[str, Any]]:
    """Return how a route's description names the refusals that it may answer with.

    Those `beside_stream` are JSON though what the route gives is not.
    """
    words = {
        400: "The request could not be read.",
        401: "No key has been used yet, or the cookie is of another stand.",
        403: "The key lets its holder see and not step, or another site's page asked.",
        404: "There is nothing of that name.",
        409: "The gig cannot do that now; the sentence says why.",
        413: "The request is too large.",
        415: "The body is not JSON.",
        422: "Something in the request is not understood; the sentence says what.",
        503: "Too many pages follow already.",
    }
    body: dict[str, Any] = {"model": Trouble}
    if beside_stream:
        body = {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Trouble"}}}}
    return {status: {**body, "description": words[status]} for status in statuses}


def refused(scope: Scope, error: ScenebookError, *, headers: Mapping[str, str] | None = None) -> Response:
    """Return the answer to a request that is not done: a page for a browser's window, else JSON."""
    status = error.status if isinstance(error, Refusal) else _STATUS.get(type(error), 409)
    text = str(error).encode("utf-8", "backslashreplace").decode()
    sentence = text[:1].upper() + text[1:]
    if _is_window(Request(scope)):
        with suppress(Exception):  # a fault in the page that says it must not hide what it says
            return HTMLResponse(pages.refusal(sentence), status, headers)
    return JSONResponse({"error": sentence}, status, headers)


def _is_window(request: Request) -> bool:
    return not request.url.path.startswith("/api/") and "text/html" in request.headers.get("accept", "")


def our_error(request: Request, error: Exception) -> Response:
    """Answer where one of our own errors was raised."""
    assert isinstance(error, ScenebookError)
    return refused(request.scope, error)


def http_error(request: Request, error: Exception) -> Response:
    """Answer what the framework refuses: an address or method that there is not, a body that is no JSON."""
    assert isinstance(error, HTTPException)
    found = _PLAIN.get(error.status_code, str(error.detail).rstrip("."))
    return refused(request.scope, Refusal(error.status_code, found), headers=error.headers)


def invalid(request: Request, error: Exception) -> Response:
    """Answer a request of which a part is not as it must be."""
    assert isinstance(error, RequestValidationError)
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() not in ("", "application/json"):
        return refused(request.scope, Refusal(415, "the body is not understood; accepted: application/json"))
    return refused(request.scope, Refusal(422, _first(error.errors())))


def _first(errors: Sequence[Any]) -> str:
    """Say the first of what is wrong; what was found is not repeated, since it may be anything."""
    where = ", ".join(str(part) for part in errors[0]["loc"])
    return f"{where}: {str(errors[0]['msg']).rstrip('.')}"
