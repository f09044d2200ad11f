"""Run a stand at a terminal: open it, serve its page, say where, and wait until the player ends it."""

import contextlib
import gc
import os
import signal
import sys
import threading
import webbrowser
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from types import FrameType
from typing import Final, NamedTuple

from scenebook.actions.machine import Awake, machine_words, own_addresses
from scenebook.actions.stand import OpenStand, open_stand
from scenebook.cli.plain import command_line, print_lines
from scenebook.errors import WebError
from scenebook.live.facing import Stand
from scenebook.live.snapshot import Role
from scenebook.web.keys import Right
from scenebook.web.opening import PORT, Page, open_page

__all__ = ["Wishes", "run_stand"]

_WHY: Final = {
    number: words
    for name, words in (("SIGTERM", "the stand was ended from outside"), ("SIGHUP", "its terminal was closed"))
    if (number := getattr(signal, name, None)) is not None
}
_SILENT: Final = "Note: the other stand does not answer."
_ALONE: Final = "This laptop stands where it was and sends nothing: take over on its page,"
_SHARED: Final = {Right.SEE: "To see it on another screen:", Right.STEP: "To see it and step:"}
_LOOK_S: Final = 0.5  # between looks whether somebody has ended it: not every system wakes a thread for Ctrl-C


class Wishes(NamedTuple):
    """What the player said beside the gig's name."""

    rig: str | None
    ports: Sequence[str]
    listens: Sequence[str]
    share: bool
    opens_browser: bool
    web_port: int | None
    afresh: bool
    follow: str | None


def run_stand(library: Path, gig: str, wishes: Wishes) -> None:
    """Run a gig until Ctrl-C. Ended from outside (a closed terminal, a shutdown) it is gone on with the next time.

    Raises:
        ScenebookError: it cannot be opened; nothing was sent.
    """
    with ExitStack() as stack, _ended_by_signal() as ended:
        opened = stack.enter_context(
            open_stand(
                library,
                gig,
                rig=wishes.rig,
                ports_given=wishes.ports,
                listens=wishes.listens,
                afresh=wishes.afresh,
                role=Role.FOLLOWING if wishes.follow else Role.CALLING,
            )
        )
        stand, notes = _stand_of(opened, wishes.follow, stack)
        awake = stack.enter_context(Awake())
        addresses = own_addresses() if wishes.share else ()
        page = open_page(
            stand,
            opened.key_file,
            records=opened.journal,
            port=PORT if wishes.web_port is None else wishes.web_port,
            addresses=addresses,
        )
        stack.callback(page.close)
        shared = _Shared(page) if wishes.share and page.shown else None
        _tell(opened, page, awake, wishes, notes)
        _keep_memory_still()
        while not ended.wait(_LOOK_S):
            if shared is not None:
                shared.look()
        stack.callback(_say_the_end, opened.gig, ended.why)
        if ended.why:
            opened.cut_off(ended.why)


def _say_the_end(gig: str, why: str) -> None:
    with contextlib.suppress(OSError):  # the terminal may be what has gone
        print(
            f"Ended{f': {why}' if why else ''}. The evening is told by: {command_line('gig', 'log', gig)}", flush=True
        )


def _stand_of(opened: OpenStand, follow: str | None, stack: ExitStack) -> tuple[Stand, tuple[str, ...]]:
    """Return what the page shows, and what has to be said of it: the engine, or the engine that follows another stand.

    Where the other does not answer any more, this laptop stands where it was, silent, until it takes over: the other
    may be what has failed.
    """
    if follow is None:
        return opened.engine, ()
    from scenebook.web.follower import Following  # late: few follow
    from scenebook.web.link import Link

    try:
        link = Link.again(follow, opened.key_file.with_suffix(".first"))
        following = Following(opened.engine, link, records=opened.journal, goes_on=opened.goes_on)
    except WebError as error:
        if not opened.goes_on:
            raise
        return opened.engine, (f"Note: {error}", f"{_ALONE} or start it again with a fresh address.")
    stack.callback(following.close)
    return following, (_SILENT, f"{_ALONE} or wait until the other is back.") if following.is_alone else ()


class _End(threading.Event):
    """Set when the stand is to end; `why` is empty where the player has said so."""

    why = ""


@contextlib.contextmanager
def _ended_by_signal() -> Iterator[_End]:
    """Give the event that Ctrl-C, or a polite end from outside, sets; a second Ctrl-C ends at once."""
    ended = _End()

    def end(number: int, _: FrameType | None) -> None:
        if ended.is_set() and number == signal.SIGINT:
            raise KeyboardInterrupt
        ended.why = _WHY.get(number, "")
        ended.set()

    kept = {number: signal.signal(number, end) for number in (signal.SIGINT, *_WHY)}
    try:
        yield ended
    finally:
        for number, handler in kept.items():
            signal.signal(number, handler)


def _keep_memory_still() -> None:
    """Look for garbage again, as a long run must, but never through what stays for the whole evening."""
    gc.collect()
    gc.freeze()
    gc.enable()


def _tell(opened: OpenStand, page: Page, awake: Awake, wishes: Wishes, notes: Sequence[str]) -> None:
    lines = [f"Stand: {opened.gig} on {opened.rig}", *opened.said, *notes, *opened.port_words()]
    lines += [*machine_words(), awake.words]
    lines += [page.serving.said] if page.serving.said else []
    print_lines([*lines, "", *_page_lines(page, wishes), ""])
    print("Ctrl-C ends the stand.")
    sys.stdout.flush()
    if wishes.opens_browser and not _has_opened(page.address(Right.STEP, is_here=True)):
        print("No browser could be opened: open the page yourself, or see it on another screen with --share.")
        sys.stdout.flush()


def _page_lines(page: Page, wishes: Wishes) -> Iterator[str]:
    yield f"The page: {page.address(Right.STEP, is_here=True)}"
    yield f"(good for one opening; afterwards the same browser finds it at {page.bare})"
    if not wishes.share:
        return
    if not page.shown:
        yield "Note: this computer is in no network, so no other screen can open the page. Start again when it is."
        return
    for right in Right:
        yield from ["", *_shared_lines(page, right)]
    yield "Each address opens one screen; then a fresh one is printed here. Nothing is encrypted: whoever reads along"
    yield "in this network can see the gig, and step it by what a browser sends. Use a network of your own."


def _shared_lines(page: Page, right: Right) -> tuple[str, str]:
    return f"{_SHARED[right]} {page.address(right)}", page.code(right).rstrip("\n")


class _Shared:
    """The addresses for other screens as they were printed: one that has been used is followed by a fresh one."""

    def __init__(self, page: Page) -> None:
        self._page, self._printed = page, {right: page.keys.key(right) for right in Right}

    def look(self) -> None:
        """Print what has taken the place of an address that was used. A terminal that has gone is no reason to end."""
        for right, before in self._printed.items():
            self._printed[right] = self._page.keys.key(right)
            if self._printed[right] != before:
                with contextlib.suppress(OSError):
                    print_lines(
                        ["", "An address has been used; here is a fresh one.", *_shared_lines(self._page, right)]
                    )
                    sys.stdout.flush()


def _has_opened(address: str) -> bool:
    """Open the player's browser. Where there is no screen, a browser in the terminal would take it away from us."""
    if sys.platform == "linux" and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    with contextlib.suppress(webbrowser.Error, OSError):
        return webbrowser.open(address)
    return False
