"""A JACK server with no sound card, under a name of its own.

The dummy driver needs neither a device nor realtime rights, so real virtual MIDI ports work as root in a container. The
server is stopped at the end, and nothing here touches a server that somebody else has started.
"""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

__all__ = ["JackError", "JackServer", "jack_server"]

Result = TypeVar("Result")

# Without --sync a client that is late on a busy machine misses a whole period, and the messages in it are gone (seen in
# 1 of 50 bursts with three busy loops on two cores; in none of 200 with it).
_SERVER = ["--no-realtime", "--no-mlock", "--sync", "--timeout", "5000"]
_DRIVER = ["-d", "dummy", "-r", "48000", "-p", "64"]
_START_SECONDS = 20.0
_STOP_SECONDS = 10.0

# Runs in a process of its own, since a client that failed to connect may leave its library in a bad state. A client
# that opens, activates and closes proves more than a log line. Options: JackNoStartServer (0x01), which keeps the
# library from starting a server of its own, and JackServerName (0x04), both from jack/types.h.
_PROBE = """
import ctypes, sys
jack = ctypes.CDLL("libjack.so.0")
jack.jack_client_open.restype = ctypes.c_void_p
status = ctypes.c_int()
client = jack.jack_client_open(b"probe", 0x01 | 0x04, ctypes.byref(status), sys.argv[1].encode())
if not client:
    sys.exit(1)
activated = jack.jack_activate(ctypes.c_void_p(client))
jack.jack_client_close(ctypes.c_void_p(client))
sys.exit(activated)
"""


class JackError(RuntimeError):
    """The server was there before us, did not start in time or ended by itself; the text holds what it printed."""


@dataclass(frozen=True)
class JackServer:
    """A running server; clients find it by the two variables of `environment`."""

    name: str
    log: Path
    process: "subprocess.Popen[bytes] | None" = None

    def kill(self) -> None:
        """End the server at once, as a crash would: nothing is tidied up, and its clients are not told."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    @property
    def environment(self) -> dict[str, str]:
        """The variables that lead a JACK client to this server and keep it from starting another."""
        return {"JACK_DEFAULT_SERVER": self.name, "JACK_NO_START_SERVER": "1"}

    def run(self, function: Callable[[], Result]) -> Result:
        """Call the function while this process's JACK clients find this server; then put the environment back."""
        before = {key: os.environ.get(key) for key in self.environment}
        os.environ.update(self.environment)
        try:
            return function()
        finally:
            for key, value in before.items():
                if value is None:
                    os.environ.pop(key, None)
                else:
                    os.environ[key] = value

    def answers(self) -> bool:
        """Return whether a client can be opened, activated and closed at this moment."""
        command = [sys.executable, "-I", "-S", "-c", _PROBE, self.name]
        return subprocess.run(command, capture_output=True, timeout=_START_SECONDS).returncode == 0


@contextmanager
def jack_server(name: str, folder: Path) -> Iterator[JackServer]:
    """Run a server of this name, its log in `folder`, and stop it at the end.

    Period 64 at 48 kHz, which is 1.3 ms: that, not Python, sets how long a message takes. A new connection may swallow
    what is sent in its first moment, so a test sends something harmless (Active Sensing) until it arrives, and only
    then what counts.

    Raises:
        JackError: one of this name already runs, or it did not answer within 20 s.
    """
    server = JackServer(name, folder / f"{name}.log")
    if server.answers():
        raise JackError(f"a JACK server named {name} already runs")
    command = ["jackd", "-n", name, *_SERVER, *_DRIVER]
    environment = os.environ | {"JACK_NO_AUDIO_RESERVATION": "1"}
    with server.log.open("wb") as log:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            env=environment,
            preexec_fn=_end_with_this_process,
        )
    try:
        _wait_until_it_answers(server, process)
        yield replace(server, process=process)
    finally:
        _stop(process)


def _end_with_this_process() -> None:
    """Let the kernel stop the server if the tests are killed: JACK allows eight servers at once, so none may stay.

    PR_SET_PDEATHSIG is 1 in Linux's sys/prctl.h; elsewhere there is no such call and nothing is done.
    """
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGTERM)


def _wait_until_it_answers(server: JackServer, process: "subprocess.Popen[bytes]") -> None:
    deadline = time.monotonic() + _START_SECONDS
    while not server.answers():
        if process.poll() is not None:
            raise JackError(f"the JACK server ended with code {process.returncode}:\n{_printed(server)}")
        if time.monotonic() > deadline:
            raise JackError(f"the JACK server did not answer within {_START_SECONDS:.0f} s:\n{_printed(server)}")
        time.sleep(0.02)


def _printed(server: JackServer) -> str:
    return server.log.read_text(encoding="utf-8", errors="replace")


def _stop(process: "subprocess.Popen[bytes]") -> None:
    """Ask first, so that the server takes its shared memory away with it."""
    process.terminate()
    try:
        process.wait(_STOP_SECONDS)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
