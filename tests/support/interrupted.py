"""A command on a terminal that somebody ends with Ctrl-C once it shows what is waited for: all of it real."""

import os
import pty
import signal
import subprocess
import sys
import threading

from tests.support.checkout import ROOT
from tests.support.terminal import Printed

__all__ = ["interrupted_at"]

_LONGEST_S = 120.0


def interrupted_at(shown: str, *arguments: str) -> Printed:
    """Run a command whose standard error is a terminal, press Ctrl-C once `shown` stands there, and let it end."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "scenebook", *arguments],
        stdout=subprocess.PIPE,
        stderr=theirs,
        encoding="utf-8",
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"},
    )
    os.close(theirs)
    guard = threading.Timer(_LONGEST_S, process.kill)
    guard.start()
    try:
        err = _read(ours, process, shown)
        out, _ = process.communicate()
    finally:
        guard.cancel()
        os.close(ours)
    return Printed(process.returncode, out, err)


def _read(terminal: int, process: "subprocess.Popen[str]", shown: str) -> str:
    """Return all that comes on a terminal until its process leaves it; Ctrl-C once `shown` has come."""
    said, pressed = b"", False
    while True:
        try:
            said += (more := os.read(terminal, 4096))
        except OSError:  # so a terminal ends on Linux, as others do with nothing more
            more = b""
        if not more:
            return said.decode()
        if not pressed and shown.encode() in said:
            process.send_signal(signal.SIGINT)
            pressed = True
