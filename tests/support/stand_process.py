"""A stand as a player starts it: a real process, its page asked over a real socket."""

import contextlib
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx

from tests.support.checkout import ROOT

__all__ = ["StandProcess"]

_START_S = 60.0
_PLACE = ("part", "entry", "form")


class StandProcess:
    """`scenebook stand ... --no-browser`, on any free port of the page; a browser's cookie is kept."""

    def __init__(self, library: Path, *arguments: str, **environment: str) -> None:
        env = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "SCENEBOOK_LIBRARY": str(library)} | environment
        if "--web-port" not in arguments:
            arguments = (*arguments, "--web-port", "0")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "scenebook", "stand", *arguments, "--no-browser"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            env=env,
        )
        self.said = self._until_it_runs()
        self.client = httpx.Client(base_url=self._found(r"finds it at (\S+?)/\)"), timeout=10, trust_env=False)
        self.client.get(self.key_address, follow_redirects=True).raise_for_status()

    def _until_it_runs(self) -> str:
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        guard = threading.Timer(_START_S, self.process.kill)
        guard.start()
        said = ""
        for line in self.process.stdout:
            said += line
            if line.startswith("Ctrl-C ends"):
                break
        else:
            raise AssertionError(f"the stand ended:\n{said}{self.process.stderr.read()}")
        guard.cancel()
        return said

    def _found(self, pattern: str) -> str:
        match = re.search(pattern, self.said)
        assert match is not None, self.said
        return match[1]

    @property
    def key_address(self) -> str:
        """The address with the stepping key, as it was printed."""
        return self._found(r"The page: (\S+)")

    def act(self, verb: str, **said: Any) -> dict[str, Any]:
        """Ask for something and return the state after it."""
        if "place" in said:
            said["place"] = dict(zip(_PLACE, said["place"], strict=True))
        answer = self.client.post("/api/act", json={"verb": verb, "by": "key", **said})
        answer.raise_for_status()
        return dict(answer.json())

    def state(self) -> dict[str, Any]:
        """Return how the gig stands."""
        answer = self.client.get("/api/state")
        answer.raise_for_status()
        return dict(answer.json())

    def wait(self, holds: Callable[[dict[str, Any]], bool], seconds: float = 10.0) -> dict[str, Any]:
        """Wait until the state is as wanted."""
        end = time.monotonic() + seconds
        while not holds(state := self.state()):
            assert time.monotonic() < end, state
            time.sleep(0.02)
        return state

    def kill(self) -> None:
        """End it as a crash would."""
        self.process.kill()
        self._over()

    def end(self, number: int = signal.SIGINT) -> tuple[int, str, str]:
        """Press Ctrl-C; return the exit code and what it printed after the start."""
        self.process.send_signal(number)
        return self._over()

    def _over(self) -> tuple[int, str, str]:
        self.client.close()
        out, err = self.process.communicate(timeout=20)
        return self.process.returncode, out, err

    def __enter__(self) -> "StandProcess":
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            with contextlib.suppress(Exception):
                self.kill()
