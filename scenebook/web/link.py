"""Ask another stand over the network, as its own pages do: how it stands, what it has written, to be silent."""

import http.client
import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final, Self
from urllib.parse import urlsplit

from scenebook.errors import AccessError, BadValueError, WebError
from scenebook.live.snapshot import Role
from scenebook.web.private import read_private, write_private

__all__ = ["Link"]

_OPENING_S: Final = 5.0
_ANSWER_S: Final = 0.7  # on a stage a second laptop has to know soon that the first is gone
_MOST_BYTES: Final = 32_000_000
_MOST_OF_ONE: Final = 1_000_000  # the largest tells of a bulk dump that was sent
_LATEST: Final = 1e11  # seconds since the epoch that every calendar knows
_STANDS: Final = ("opened", "set", "step", "tonight", "line check", "learned", "role", "closed")
_KINDS: Final = (*_STANDS, "sent", "dropped", "port", "notice")
_KEY_PATH: Final = re.compile(r"/open/[A-Za-z0-9_-]+")
_FORMAT: Final = "http://ADDRESS:PORT/open/KEY"


class Link:
    """Another stand, with the cookie that its key has left. Every call raises WebError where it does not answer."""

    def __init__(self, host: str, port: int, cookie: str, *, seconds: float = _ANSWER_S) -> None:
        self.name = f"{host}:{port}"
        self._host, self._port, self._cookie, self._seconds = host, port, cookie, seconds

    @classmethod
    def again(cls, address: str, kept: Path, *, seconds: float = _ANSWER_S) -> Self:
        """Use the one-time address of a stand, and keep in a file of the owner alone what lets this one in again.

        Where its key has been used, or nothing answers there, go on with what was kept when the same stand was
        followed before; it may not answer then.

        Raises:
            BadValueError: it is no such address.
            AccessError: its key is wrong or has been used, and nothing is kept.
            WebError: nothing answers there, or no stand does, and nothing is kept.
            OutputError: the file cannot be written.
        """
        host, port, _ = _parsed(address)
        try:
            link = cls.opened(address, seconds=seconds)
        except WebError:
            before = _object((read_private(kept) or "").encode())
            if (before.get("host"), before.get("port")) != (host, port):
                raise
            return cls(host, port, str(before.get("cookie", "")), seconds=seconds)
        said = {"host": host, "port": port, "cookie": link._cookie}
        write_private(kept, json.dumps(said), "what lets this stand follow again")
        return link

    @classmethod
    def opened(cls, address: str, *, seconds: float = _ANSWER_S) -> Self:
        """Use the one-time address of a stand.

        Raises:
            BadValueError: it is no such address.
            AccessError: its key is wrong or has been used.
            WebError: nothing answers there, or no stand does.
        """
        host, port, path = _parsed(address)
        link = cls(host, port, "", seconds=_OPENING_S)
        answer, body = link._exchange("GET", path)
        if answer.status == 403:
            raise AccessError(str(_object(body).get("error", "")).rstrip(".") or "the key is wrong", where=link.name)
        cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
        if answer.status not in (200, 303) or "=" not in cookie:
            raise link._no_stand()
        return cls(host, port, cookie, seconds=seconds)

    def state(self) -> Mapping[str, Any]:
        """Return how it stands."""
        said = self._read("/api/state", "gig", "rig", "role")
        if not (isinstance(said["gig"], str) and isinstance(said["rig"], str) and said["role"] in tuple(Role)):
            raise self._no_stand()
        return said

    def programme(self) -> Mapping[str, Any]:
        """Return all that it can call."""
        return self._read("/api/programme", "steps", "spares", "house", "safe")

    def records(self, after: int) -> tuple[Sequence[Mapping[str, Any]], int]:
        """Return what it has written from a cursor on, as much as fits into one answer, and the cursor after that.

        What no stand writes is left out. The cursor stays, or falls back, where there is nothing more.
        """
        said = self._read(f"/api/records?after={after}", "records", "next")
        records, following = said["records"], said["next"]
        if not isinstance(records, list) or type(following) is not int or (records and following <= after):
            raise self._no_stand()
        return [each for each in records if _is_record(each)], following

    def act(self, verb: str, by: str) -> str:
        """Ask it for something; return why it was not done, "" when it was.

        Raises:
            AccessError: the key lets see and not step.
        """
        answer, body = self._exchange("POST", "/api/act", json.dumps({"verb": verb, "by": by}).encode())
        said = self._checked(answer, body)
        return str(said.get("error", "")) if answer.status == 409 else ""

    def _read(self, path: str, *needs: str) -> Mapping[str, Any]:
        said = self._checked(*self._exchange("GET", path))
        if not set(needs) <= said.keys():
            raise self._no_stand()
        return said

    def _checked(self, answer: http.client.HTTPResponse, body: bytes) -> Mapping[str, Any]:
        said = _object(body)
        if answer.status in (401, 403):
            raise AccessError(
                str(said.get("error", "")).rstrip(".") or "it lets this stand in no more", where=self.name
            )
        if answer.status not in (200, 202, 409):
            raise self._no_stand()
        return said

    def _exchange(self, method: str, path: str, body: bytes | None = None) -> tuple[http.client.HTTPResponse, bytes]:
        connection = http.client.HTTPConnection(self._host, self._port, timeout=self._seconds)
        headers = {"Accept": "application/json", "Cookie": self._cookie, "Connection": "close"}
        if body is not None:
            headers["Content-Type"] = "application/json"
        try:
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            return answer, answer.read(_MOST_BYTES)
        except (OSError, http.client.HTTPException) as error:
            raise WebError(
                f"the other stand does not answer: {str(error) or type(error).__name__}",
                where=self.name,
                remedy="See that both laptops are in one network and that the other stand is shared",
            ) from None
        finally:
            connection.close()

    def _no_stand(self) -> WebError:
        return WebError("what answers there is no stand, or one of another version", where=self.name)


def _parsed(address: str) -> tuple[str, int, str]:
    try:
        parts = urlsplit(address.strip())
        host, port = parts.hostname, parts.port or 80
    except ValueError:
        host, port = None, 0
    if not host or parts.scheme != "http" or not _KEY_PATH.fullmatch(parts.path):
        raise BadValueError(f"{address!r} is no address of a stand", accepted=_FORMAT)
    return host, port, parts.path


def _is_record(said: Any) -> bool:
    """Whether this is something that a stand writes down, and small enough to be kept."""
    if not isinstance(said, dict) or said.get("kind") not in _KINDS:
        return False
    at = said.get("at")
    return isinstance(at, (int, float)) and 0 <= at < _LATEST and len(json.dumps(said)) <= _MOST_OF_ONE


def _object(body: bytes) -> Mapping[str, Any]:
    try:
        said = json.loads(body)
    except (ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}
