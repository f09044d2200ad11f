"""How fast a running gig answers beside its pages: a footswitch while screens follow, and a key in a real browser.

Everything goes over the loopback interface; who follows is a process of its own, as screens are other machines.
"""

import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from scenebook.live.programme import programme_of
from scenebook.model import Library
from scenebook.storage.folder import read_folder
from tests.benchmarks import stand_side
from tests.benchmarks.bench_stand import Far, percentile, pressed_in_turn, side
from tests.benchmarks.table import Row
from tests.demo_library.reading import DEMO
from tests.support.checkout import ROOT
from tests.support.jack import jack_server
from tests.support.stand_process import StandProcess
from tests.support.terminal import typed
from tests.web.browser import browser

__all__ = ["key_in_a_browser", "run", "while_pages_follow"]

PRESSES, PAGES, KEYS = 800, 20, 200
GIG = "Pell Quay hall"
_HEARD_S = 5.0
_APART_S = (0.15, 0.25)  # a quick player; what a cue has to wait for is over by then

# The browser says when it made the event, in milliseconds of its own clock, which is the machine's monotonic one less
# some offset (W3C, "High Resolution Time"; HTML's event.timeStamp).
_STAMP = "addEventListener('keydown', (event) => { window.pressedAt = event.timeStamp; }, true)"


def run() -> list[Row]:
    """Return the rows of the stand that need its pages."""
    with tempfile.TemporaryDirectory() as name, jack_server(f"scenebook-pages-{os.getpid()}", Path(name)) as server:
        os.environ.update(server.environment)
        return [*while_pages_follow(Path(name)), *key_in_a_browser(Path(name))]


def while_pages_follow(folder: Path, presses: int = PRESSES) -> list[Row]:
    """Return how long a press takes to the first byte while pages follow, against the loop that has none."""
    file, journal = folder / "answers.json", folder / "gig.jsonl"
    stand_side.answers(file)
    with Far("one") as ours, Far("two") as theirs, ExitStack() as stack:
        stack.enter_context(side("served-gig", ours, journal))
        stack.enter_context(side("answer", theirs, file))
        states = stack.enter_context(_readers(stand_side.page_file(journal)))
        mine, bare = pressed_in_turn(ours, theirs, presses)
        drawn = states()
    rows = []
    for words, at, goal in (("median", 50, 1.15), ("99th percentile, reported", 99, float("inf"))):
        a, b = percentile(mine, at), percentile(bare, at)
        note = f"{a * 1000:.2f} ms against {b * 1000:.2f} ms, {presses} presses each, {drawn} states shown"
        rows.append(Row(f"the same while {PAGES} pages follow and the log is written, {words}", a / b, goal, note))
    return rows


@contextmanager
def _readers(file: Path) -> Iterator[Callable[[], int]]:
    """Let screens follow; give the function that ends them and says how many states they have had."""
    command = [sys.executable, "-m", "tests.benchmarks.page_readers", str(file), str(PAGES)]
    process: subprocess.Popen[Any] = subprocess.Popen(
        command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdin is not None
    assert process.stdout is not None
    with process:
        if process.stdout.readline() != "up\n":
            raise RuntimeError("the pages' readers did not come up")

        def ended() -> int:
            process.stdin.close()  # type: ignore[union-attr]
            return int(process.stdout.readline())  # type: ignore[union-attr]

        yield ended


def key_in_a_browser(folder: Path, keys: int = KEYS) -> list[Row]:
    """Return the milliseconds from a key to the first byte of its cue: the real command, a real browser."""
    library, path = read_folder(DEMO)[0], folder / "library.scenebook"
    typed("library", "create", "--library", str(path))
    typed("library", "import", str(ROOT / "demo_library"), "--library", str(path))
    ports = library.rigs[library.gigs[GIG].rig or ""].ports
    named = [text for port in ports for text in ("--port", f"{port}=hall {port}")]
    with ExitStack() as stack:
        ears = _Ears([f"hall {port}" for port in ports])
        stack.callback(ears.close)
        stand = stack.enter_context(StandProcess(path, GIG, *named))
        stand.wait(lambda state: all(each["state"] == "there" for each in state["ports"]), 30)
        page = _page(stack, stand)
        pairs = _walked(stand, page, ears, _sending(library), keys)
        stand.end()
    by_event, by_press = (sorted(pair[n] * 1000 for pair in pairs) for n in (0, 1))
    note = f"from the browser's keydown event; from the call that presses: {percentile(by_press, 50):.1f} ms"
    last = f"{len(pairs)} keys; from the call that presses: {percentile(by_press, 99):.1f} ms"
    return [
        Row("key in Chromium to first byte out in ms, median", percentile(by_event, 50), 20, note),
        Row(
            "key in Chromium to first byte out in ms, 99th perc., reported",
            percentile(by_event, 99),
            float("inf"),
            last,
        ),
    ]


class _Ears:
    """The boxes on the stage. They keep the moment of the first byte since they were last asked, clock left out."""

    def __init__(self, names: list[str]) -> None:
        import rtmidi

        self._first, self._came = 0.0, threading.Event()
        self._boxes = [rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=name) for name in names]
        for box in self._boxes:
            box.set_callback(self._hear)
            box.open_virtual_port("in")

    def _hear(self, *_: object) -> None:
        """In JACK's thread, as it comes in; real-time bytes are not asked for."""
        now = time.monotonic()
        if not self._came.is_set():
            self._first = now
            self._came.set()

    def clear(self) -> None:
        """Forget what has come."""
        self._came.clear()

    def first(self) -> float:
        """Wait for the first byte, and return its moment."""
        if not self._came.wait(_HEARD_S):
            raise RuntimeError("the cue has not come")
        return self._first

    def close(self) -> None:
        for box in self._boxes:
            box.delete()


def _page(stack: ExitStack, stand: StandProcess) -> Page:
    """Open the player's page with the right to step."""
    address = str(stand.client.base_url)
    context = stack.enter_context(browser()).new_context(viewport={"width": 1280, "height": 800})
    context.add_cookies(
        [{"name": name, "value": value, "url": address} for name, value in stand.client.cookies.items()]
    )
    context.add_init_script(_STAMP)
    page = context.new_page()
    page.goto(address)
    page.locator("#stand header").wait_for()
    return page


def _sending(library: Library) -> set[tuple[int, int]]:
    """Return the places of the set, entry and form, whose cue sends something to who comes from the one before."""
    programme = programme_of(library, GIG, library.gigs[GIG].rig or "")
    return {(step.place.entry, step.place.form) for step in programme.steps[1:] if step.lean.messages}


def _walked(
    stand: StandProcess, page: Page, ears: _Ears, sending: set[tuple[int, int]], keys: int
) -> list[tuple[float, float]]:
    """Walk through the gig with a page turner's key; return the seconds from event and from press to first byte."""
    chance, found = random.Random(20261125), list[tuple[float, float]]()
    page.keyboard.press("PageDown")  # the first goes out in full
    while len(found) < keys:
        time.sleep(chance.uniform(*_APART_S))
        state = stand.wait(lambda state: bool(state["sent"]["done"]))
        if state["ahead"] is None:
            stand.act("go", place=("set", 0, 0))
            continue
        ears.clear()
        begun = time.monotonic()
        page.keyboard.press("PageDown")
        place = state["ahead"]["place"]
        if (place["entry"], place["form"]) in sending:
            first = ears.first()
            found.append((first - _pressed_at(page), first - begun))
    return found


def _pressed_at(page: Page) -> float:
    """Return the moment of the last key on this process's monotonic clock, from the browser's own.

    Of some questions after the browser's clock the quickest counts: half its way is the most by which this is off.
    """
    asked = []
    for _ in range(5):
        before = time.monotonic()
        now, pressed = page.evaluate("[performance.now(), window.pressedAt]")
        after = time.monotonic()
        asked.append((after - before, (before + after) / 2 - (now - pressed) / 1000))
    return float(min(asked)[1])
