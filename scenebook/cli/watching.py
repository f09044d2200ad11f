"""Long work on the terminal: how far it is, and Ctrl-C, which ends it and keeps the best so far."""

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["watching"]


@contextmanager
def watching() -> Iterator[Callable[[str], bool]]:
    """Give what shows a line where somebody watches and says whether to go on; the line is gone at the end.

    Ctrl-C makes it say no. Pressed a second time it ends the work at once, with nothing kept.
    """
    stopped: list[bool] = []
    shown = sys.stderr.isatty()

    def stop(number: int, frame: object) -> None:
        if stopped:
            raise KeyboardInterrupt  # a second time: at once
        stopped.append(True)

    def show(line: str) -> bool:
        if shown:
            print(f"\r\x1b[K{line}", end="", file=sys.stderr, flush=True)
        return not stopped

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield show
    finally:
        signal.signal(signal.SIGINT, before)
        if shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
