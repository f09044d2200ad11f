"""The API of a stand: read how the gig stands, ask for a step, follow what is written. Errors are one sentence."""

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.requests import Request
from fastapi.responses import JSONResponse, Response

from scenebook.web.keys import Right
from scenebook.web.models import ActBody, AddressBody, KeysBody, ProgrammeBody, RecordsBody, StateBody, UnfinishedBody
from scenebook.web.qr import qr_svg
from scenebook.web.refusing import Refusal, troubles
from scenebook.web.site import Here, Seeing, Site, Stepping

__all__ = ["PATIENCE_S", "router"]

PATIENCE_S = 2.0  # for what has to be worked out
_AT_ONCE = 500  # records in one answer
_UNFINISHED: dict[int | str, dict[str, Any]] = {
    202: {"model": UnfinishedBody, "description": "It is still being worked out, and may be refused yet."}
}

router = APIRouter(prefix="/api", tags=["stand"])


@router.get("/state", responses=troubles(401))
async def read_state(site: Here, right: Seeing) -> StateBody:
    """Return how the gig stands now."""
    return StateBody.of(site.stand.snapshot, right)


@router.post(
    "/act",
    response_model=StateBody,
    responses={**_UNFINISHED, **troubles(400, 401, 403, 409, 413, 415, 422)},
)
def act(site: Here, right: Stepping, asked: ActBody) -> StateBody | Response:
    """Ask the gig for something: a step, a change for tonight, to take over. The answer is how it stands then.

    409 says why the gig cannot do it; nothing has changed. 202 comes where a change for tonight takes long: `version`
    of the state grows when it is done, or its `refused` says why it was not.
    """
    snapshot = site.stand.ask(asked.act, seconds=PATIENCE_S)
    if snapshot.refused:
        raise Refusal(409, snapshot.refused.rstrip("."))
    if snapshot.unfinished:
        return JSONResponse(UnfinishedBody(unfinished=f"{snapshot.unfinished.rstrip('.')}.").model_dump(), 202)
    return StateBody.of(snapshot, right)


@router.get("/programme", responses=troubles(401))
def read_programme(site: Here, _: Seeing) -> ProgrammeBody:
    """Return all that can be called tonight, each cue with its place and a digest of what it does."""
    return ProgrammeBody.of(site.stand.snapshot.programme)


@router.get("/records", responses=troubles(401, 422))
def read_records(
    site: Here,
    _: Seeing,
    after: Annotated[int, Query(ge=0, le=2**53, description="0, or the `next` of the answer before.")] = 0,
    count: Annotated[int, Query(ge=1, le=_AT_ONCE)] = _AT_ONCE,
) -> RecordsBody:
    """Return what the gig has written, for a second laptop that follows: the records after a cursor, in their order."""
    records, following = site.records.read(after, count)
    return RecordsBody(records=tuple(dict(record) for record in records), next=following)


@router.get("/keys", responses=troubles(401, 403))
def read_keys(request: Request, site: Here, _: Stepping) -> KeysBody:
    """Return the addresses that open the stand on one more screen. Each is good for one opening."""
    see, step = (_address(request, site, right) for right in (Right.SEE, Right.STEP))
    return KeysBody(see=see, step=step, shared=bool(site.shown))


def _address(request: Request, site: Site, right: Right) -> AddressBody:
    address = site.address(request, f"/open/{site.keys.key(right)}")
    return AddressBody(address=address, qr=qr_svg(address))
