"""Connections that hold nothing up: a few for each machine, none that is silent for long, always room for this one."""

import asyncio
import ipaddress
from typing import Any, Final

from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["FROM_ONE", "FROM_OTHERS", "Connection"]

FROM_ONE: Final = 48  # a browser opens six
FROM_OTHERS: Final = 240
_SAYS_NOTHING_S: Final = 10.0


class Connection(H11Protocol):
    """One connection. Those of other machines are bounded, so that none of them keeps the player's own page out."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take the connection, or end it."""
        super().connection_made(transport)
        self._seen: Any = None
        if self._is_one_too_many():
            transport.abort()
        else:
            self._look_later()

    def _is_one_too_many(self) -> bool:
        host = _host(self)
        if _is_here(host):
            return False
        others = [each for each in map(_host, self.connections) if not _is_here(each)]
        return len(others) > FROM_OTHERS or others.count(host) > FROM_ONE

    def _look_later(self) -> None:
        self.loop.call_later(_SAYS_NOTHING_S, self._look)

    def _look(self) -> None:
        """End the connection where no request has come in since the last look and none is being answered."""
        if self.transport.is_closing():
            return
        is_busy = self.cycle is not None and not self.cycle.response_complete
        if not is_busy and self.cycle is self._seen:
            self.transport.abort()
            return
        self._seen = self.cycle
        self._look_later()


def _host(connection: Any) -> str:
    client = connection.client
    return str(client[0]) if client else ""


def _is_here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:  # no address: a socket of another kind, which nobody else reaches
        return True
