"""Screens that follow a served gig, all in a process of its own, since they are other machines on stage.

Run as a script: `page_readers.py FILE COUNT`. FILE says the page's port and a cookie. It says "up" as soon as every
reader has the first state, ends with its standard input, and then says how many states all of them have had.
"""

import json
import selectors
import socket
import sys
from pathlib import Path

__all__ = ["main"]

_STATE = b"event: stand"  # as the stream names what a page shows


def main(file: str, count: int) -> None:
    """Follow until standard input ends."""
    said = json.loads(Path(file).read_text())
    readers = [_Reader(said["port"], said["cookie"]) for _ in range(count)]
    with selectors.DefaultSelector() as selector:
        for reader in readers:
            selector.register(reader.socket, selectors.EVENT_READ, reader)
        selector.register(sys.stdin, selectors.EVENT_READ)
        is_up = False
        while True:
            for key, _ in selector.select():
                if key.data is None:
                    print(sum(reader.states for reader in readers), flush=True)
                    return
                key.data.read()
            if not is_up and all(reader.states for reader in readers):
                is_up = True
                print("up", flush=True)


class _Reader:
    """One page's live updates."""

    def __init__(self, port: int, cookie: str) -> None:
        self.states, self._rest = 0, b""
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=10)
        head = f"GET /events?view=player HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nCookie: {cookie}\r\n\r\n"
        self.socket.sendall(head.encode())
        self.socket.setblocking(False)

    def read(self) -> None:
        """Take all that has come."""
        data = self.socket.recv(1 << 20)
        if not data:
            raise ConnectionError("the stand has ended the stream")
        text = self._rest + data
        self.states += text.count(_STATE)
        self._rest = text[-len(_STATE) + 1 :]  # a name may come in two parts


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
