"""A stand to be served: a real engine on ports in memory, its journal, its keys, and clients that may see or step."""

import asyncio
import socket
import time
from collections.abc import Callable, Coroutine, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any, Self, TypeVar

import httpx
from fastapi import FastAPI

from scenebook.live.caller import Caller
from scenebook.live.doors import Worker, aside
from scenebook.live.engine import Engine
from scenebook.live.facing import Stand
from scenebook.live.records import replayed
from scenebook.live.snapshot import Role, Snapshot
from scenebook.model import Library
from scenebook.web.app import create_app
from scenebook.web.follower import Following
from scenebook.web.keys import Keys, KeyStore, MemoryKeyStore, Right
from scenebook.web.link import Link
from scenebook.web.serving import Serving, serve
from tests.support.build import GIG, RIG
from tests.support.running import Kept, MemoryPorts, library_on_stage

__all__ = ["Browser", "House", "Written", "held", "house", "in_a_loop_of_its_own", "until"]

Asked = TypeVar("Asked")
OUT = "box front"


class Written(Kept):
    """A journal in memory that can be read: a cursor counts records."""

    def read(self, after: int, count: int) -> tuple[Sequence[Mapping[str, Any]], int]:
        found = list(self)[after : after + count]
        return found, min(after, len(self)) + len(found)

    def last(self, count: int) -> Sequence[Mapping[str, Any]]:
        return list(self)[-count:]


def until(is_so: Callable[[], object], seconds: float = 10.0) -> None:
    """Wait until something is so."""
    ends = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < ends, "it never came to be so"
        time.sleep(0.002)


class House:
    """One laptop: an engine that runs, and what is served of it. `follows` is the address of the stand it follows.

    `goes_on` says that it has followed before on the same evening; `work` is what does things aside.
    """

    def __init__(
        self,
        library: Library | None = None,
        *,
        role: Role | None = None,
        journal: Written | None = None,
        store: KeyStore | None = None,
        follows: str | Link = "",
        goes_on: bool = False,
        work: Worker = aside,
        **said: Any,
    ) -> None:
        role = role or (Role.FOLLOWING if follows else Role.CALLING)
        self.library = library or library_on_stage()
        self.journal = journal if journal is not None else Written()
        self.ports = MemoryPorts((OUT,), ("pedal",))
        caller = Caller(self.library, GIG, RIG, standing=replayed(self.journal), role=role)
        self.engine = Engine(caller, self.ports, self.journal, {}, library=self.library, gig=GIG, rig=RIG, work=work)
        self.keys = Keys(store or MemoryKeyStore())
        self.engine.start()
        self.stand: Stand = _following(self, follows, goes_on) if follows else self.engine
        self.app: FastAPI = create_app(self.stand, self.keys, records=self.journal, **said)
        self.serving: Serving | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.serving is not None:
            self.serving.close()
        self.stand.close()

    @property
    def snapshot(self) -> Snapshot:
        return self.stand.snapshot

    def client(self, right: Right | None = None, host: str = "127.0.0.1") -> "Browser":
        """Return a browser that has used a key, or none; it asks the application itself."""
        return Browser(self.app, self.cookies(right), host)

    def cookies(self, right: Right | None) -> dict[str, str]:
        return {self.keys.cookie: self.keys.admitted(right)} if right else {}

    def serve(self, port: int = 0) -> Serving:
        self.serving = serve(self.app, port=port)
        return self.serving

    def address(self, right: Right) -> str:
        """Return the address that opens the stand once."""
        assert self.serving is not None
        return self.serving.address(f"/open/{self.keys.key(right)}")


def _following(made: House, first: str | Link, goes_on: bool) -> Following:
    link = Link.opened(first) if isinstance(first, str) else first
    return Following(made.engine, link, records=made.journal, goes_on=goes_on, every=0.02)


def in_a_loop_of_its_own(doing: Coroutine[Any, Any, Asked]) -> Asked:
    """Return what a coroutine returns, run in a thread: a test of the real browser leaves its loop running here."""
    with ThreadPoolExecutor(1) as aside:
        return aside.submit(asyncio.run, doing).result()


class Browser:
    """Asks an application without a socket, and keeps its cookies; redirects are not followed."""

    def __init__(self, app: FastAPI, cookies: dict[str, str], host: str) -> None:
        self._app, self._base, self.cookies = app, f"http://{host}", httpx.Cookies(cookies)

    def get(self, path: str, **said: Any) -> httpx.Response:
        return self.request("GET", path, **said)

    def post(self, path: str, **said: Any) -> httpx.Response:
        return self.request("POST", path, **said)

    def request(self, method: str, path: str, **said: Any) -> httpx.Response:
        return in_a_loop_of_its_own(self._request(method, path, **said))

    async def _request(self, method: str, path: str, **said: Any) -> httpx.Response:
        transport = httpx.ASGITransport(app=self._app)
        async with httpx.AsyncClient(transport=transport, base_url=self._base, cookies=self.cookies) as client:
            answer = await client.request(method, path, **said)
            self.cookies = client.cookies
            return answer


@contextmanager
def house(library: Library | None = None, **said: Any) -> Iterator[House]:
    """Run one laptop."""
    with House(library, **said) as made:
        yield made


@contextmanager
def held() -> Iterator[int]:
    """Hold a port, as another program would."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        yield taken.getsockname()[1]
