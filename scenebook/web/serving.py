"""Serve the application in a thread of its own, so that the gig's thread knows nothing of it."""

import errno
import logging
import os
import socket
import threading
import time
from contextlib import suppress
from typing import Final

import uvicorn
from fastapi import FastAPI

from scenebook.errors import WebError
from scenebook.web.connections import Connection
from scenebook.web.security import HEADER_BYTES
from scenebook.web.site import Site

__all__ = ["PORT", "Serving", "serve"]

PORT: Final = 8737  # among those that anyone may use (RFC 6335, section 6)
_TRIES: Final = 20
_LAST_PORT: Final = 65_535
_GONE_MS: Final = 20_000
_START_S: Final = 10.0
_END_S: Final = 5.0
_TAKEN: Final = frozenset({errno.EADDRINUSE, errno.EACCES})

# What uvicorn has to say is nothing for a player; without a handler it would go to the terminal.
logging.getLogger("uvicorn").addHandler(logging.NullHandler())


class _Server(uvicorn.Server):
    """Lets the readers go before it waits for them."""

    def __init__(self, config: uvicorn.Config, site: Site) -> None:
        super().__init__(config)
        self._site = site

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop serving."""
        self._site.readers.close()
        await super().shutdown(sockets)


class Serving:
    """A stand that is served. `said` is what the player has to be told of the port, or nothing."""

    def __init__(self, server: uvicorn.Server, listening: socket.socket, host: str, said: str) -> None:
        self._server, self._socket, self._host, self.said = server, listening, host, said
        self.port: int = listening.getsockname()[1]
        self._thread = threading.Thread(target=self._run, name="web", daemon=True)
        self._thread.start()
        ends = time.monotonic() + _START_S
        while not server.started and self._thread.is_alive() and time.monotonic() < ends:
            time.sleep(0.005)
        if not server.started:
            self.close()
            raise WebError("the page cannot be served", where=f"port {self.port}", remedy="Choose another port")

    def address(self, path: str = "/", host: str = "") -> str:
        """Return an address of the stand, by default the one for a browser on this machine."""
        host = host or ("127.0.0.1" if self._host in ("0.0.0.0", "::", "") else self._host)
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}{path}"

    def close(self) -> None:
        """Let every page go and end the thread; a second time does nothing."""
        self._server.should_exit = True
        self._thread.join(_END_S)
        self._socket.close()

    def _run(self) -> None:
        with suppress(SystemExit):  # what uvicorn raises where it cannot start
            self._server.run(sockets=[self._socket])


def serve(app: FastAPI, host: str = "127.0.0.1", port: int = PORT) -> Serving:
    """Serve an application until it is closed. Where the port is in use the next that is free is taken, and said.

    Port 0 takes any. `host` is the address to listen at: this machine's own unless the stand is shared.

    Raises:
        WebError: the address is none of this machine's, or no port is free.
    """
    listening, taken = _listening(host, port)
    config = uvicorn.Config(
        app,
        http=Connection,
        ws="none",
        loop="asyncio",
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        date_header=False,
        proxy_headers=False,  # anyone could say by a header that he is somebody else
        h11_max_incomplete_event_size=HEADER_BYTES,
        timeout_graceful_shutdown=1,
    )
    said = f"Port {port} is in use, so the page is served on port {listening.getsockname()[1]}." if taken else ""
    return Serving(_Server(config, app.state.site), listening, host, said)


def _listening(host: str, port: int) -> tuple[socket.socket, bool]:
    """Return a socket that listens, and whether the port asked for was taken."""
    if not 0 <= port <= _LAST_PORT:
        raise WebError(f"there is no port {port}", accepted=f"0 to {_LAST_PORT}")
    for number in range(port, min(port + _TRIES, _LAST_PORT) + 1):
        try:
            return _bound(host, number), number != port
        except OSError as error:
            if error.errno not in _TAKEN:
                raise WebError(
                    f"the page cannot be served at {host!r}: {error.strerror or error}",
                    remedy="Give an address of this machine, or none",
                ) from None
    raise WebError(f"ports {port} to {number} are in use", remedy="Choose another port")


def _bound(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # By name: only where it says TCP does asyncio send small answers at once, else each waits 40 ms for the one before.
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if os.name == "posix":  # elsewhere it would take a port from whoever has it
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if hasattr(socket, "TCP_USER_TIMEOUT"):  # a page that takes nothing any more frees its place
            listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, _GONE_MS)
        listening.bind((host, port))
        listening.listen()
    except OSError:
        listening.close()
        raise
    return listening
