"""The far end of a MIDI lead as a process of its own, so that a test can take it away and put it back.

Run as a script it makes one virtual port on JACK: `far_end.py in NAME` prints each message that comes in as hex,
`far_end.py out NAME` sends each line of hex that it reads. It lets go of its port when its standard input ends.
"""

import contextlib
import os
import select
import subprocess
import sys
import threading
import time
from typing import Any

__all__ = ["Box", "Pedal"]

POLL_S = 0.0002


def main(way: str, name: str) -> None:
    """Serve one port until standard input ends."""
    import rtmidi

    client = (rtmidi.MidiIn if way == "in" else rtmidi.MidiOut)(rtmidi.API_UNIX_JACK, name=name)
    if way == "in":
        client.ignore_types(False, False, False)
    client.open_virtual_port("in" if way == "in" else "out")
    print("up", flush=True)
    (_print_all if way == "in" else _send_all)(client)
    threading.Timer(1.0, os._exit, (1,)).start()  # the server may be gone, and closing never return
    client.close_port()
    client.delete()
    os._exit(0)


def _print_all(client: Any) -> None:
    while not select.select([0], [], [], POLL_S)[0]:
        while (item := client.get_message()) is not None:
            print(bytes(item[0]).hex(" "), flush=True)


def _send_all(client: Any) -> None:
    for line in sys.stdin:
        client.send_message(bytes.fromhex(line))


class _FarEnd:
    """One such process."""

    def __init__(self, way: str, name: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__, way, name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._stdin, self._stdout = self._process.stdin, self._process.stdout
        if self._stdout.readline() != "up\n":
            self.stop()
            raise RuntimeError(f"the port {name} could not be made")

    def stop(self) -> None:
        """Take the port away."""
        with contextlib.suppress(OSError):
            self._stdin.close()
        try:
            self._process.wait(5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._stdout.close()


class Box(_FarEnd):
    """Something on the stage that hears."""

    def __init__(self, name: str) -> None:
        super().__init__("in", name)
        self.heard: list[str] = []
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        with contextlib.suppress(ValueError):  # closed while it is read
            for line in self._stdout:
                self.heard.append(line.strip().upper())

    def take(self, wanted: list[str], seconds: float = 5.0) -> list[str]:
        """Return what was heard since the last time, as soon as it is what is wanted; real-time bytes are left out."""
        end = time.monotonic() + seconds
        while (heard := [each for each in self.heard if each[0] != "F"]) != wanted and time.monotonic() < end:
            time.sleep(0.005)
        self.heard.clear()
        return heard


class Pedal(_FarEnd):
    """Something on the stage that sends."""

    def __init__(self, name: str) -> None:
        super().__init__("out", name)

    def send(self, data: str) -> None:
        """Send one message, in hex."""
        self._stdin.write(f"{data}\n")
        self._stdin.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
