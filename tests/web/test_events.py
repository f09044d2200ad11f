"""Pages that follow: each gets the newest at once, and none holds up the gig or another page."""

import gc
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest

from scenebook.live.acts import Act, Verb
from scenebook.live.snapshot import Snapshot
from scenebook.web import events, pages
from scenebook.web.keys import Right
from tests.web.support import House, house, in_a_loop_of_its_own, until

STEP = Act(Verb.NEXT, "test")
FORTH_AND_BACK = [Act(Verb.NEXT, "test"), Act(Verb.BACK, "test")]


def numbered(snapshot: Snapshot, can_step: bool) -> str:
    """Stand in for the page, so that these tests tell nothing of its look."""
    return f"{snapshot.step.full.song}\n{snapshot.step.full.scene}\n{can_step}"


@pytest.fixture(autouse=True)
def _plain_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pages, "page_html", numbered)
    monkeypatch.setattr(pages, "tech_html", lambda snapshot, can_step, log: f"{can_step} {len(log)}")


@pytest.fixture
def one() -> Iterator[House]:
    with house(most_readers=8) as made:
        made.serve()
        yield made


class Reading:
    """A page that follows on a real socket, in a thread; `events` are those that came: name, data, id."""

    def __init__(self, one: House, right: Right = Right.SEE, view: str = "player") -> None:
        assert one.serving is not None
        self.address, self.cookies = one.serving.address(f"/events?view={view}"), one.cookies(right)
        self.events: list[tuple[str, str, str]] = []
        self.is_over, self._ends = False, False
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        event, data, number = "", list[str](), ""
        with httpx.stream("GET", self.address, cookies=self.cookies, timeout=10) as answer:
            for line in answer.iter_lines():
                if self._ends:
                    break
                name, _, value = line.partition(": ")
                if name == "event":
                    event, data, number = value, [], ""
                elif name == "data":
                    data.append(value)
                elif name == "id":
                    number = value
                elif not line and event:
                    self.events.append((event, "\n".join(data), number))
        self.is_over = True

    def stop(self) -> None:
        self._ends = True

    @property
    def newest(self) -> str:
        return next((data for event, data, _ in reversed(self.events) if event == "stand"), "")


@contextmanager
def raw(one: House, *, buffer: int = 0) -> Iterator[socket.socket]:
    """Ask for events on a bare socket, and read nothing."""
    assert one.serving is not None
    with socket.socket() as made:
        if buffer:
            made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer)
        made.connect(("127.0.0.1", one.serving.port))
        name, value = next(iter(one.cookies(Right.SEE).items()))
        made.sendall(f"GET /events HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {name}={value}\r\n\r\n".encode())
        yield made


def readers(one: House) -> int:
    return len(one.app.state.site.readers._flags)


def test_a_page_gets_what_stands_at_once_and_every_step(one: House) -> None:
    """Two screens are in step with the gig, whoever steps."""
    pages_open = [Reading(one), Reading(one, Right.STEP)]
    until(lambda: all(page.newest.startswith("\nhome") for page in pages_open))

    one.engine.ask(STEP)

    until(lambda: [page.newest for page in pages_open] == ["one\nverse\nFalse", "one\nverse\nTrue"])
    assert int(pages_open[0].events[-1][2]) <= one.snapshot.version


def test_the_tech_sees_the_log(one: House) -> None:
    """What was written so far, the step that is shown included."""
    page = Reading(one, view="tech")
    until(lambda: page.newest)

    one.engine.ask(STEP)

    until(lambda: page.newest.startswith("False") and int(page.newest.split()[1]) >= 2)


def test_a_page_hears_every_second_that_the_stand_is_there(one: House) -> None:
    """Silence means that the connection is lost, however the network hides it."""
    page = Reading(one)
    until(lambda: page.newest)

    until(lambda: [event for event, _, _ in page.events].count("alive") >= 2, 4)
    assert page.events[-1][1] == str(one.snapshot.version)


def test_changes_that_follow_each_other_closely_are_drawn_once(one: House) -> None:
    """A page that flickers through states that nobody could read helps nobody, and costs the machine."""
    page = Reading(one)
    until(lambda: page.newest)
    before = one.snapshot.version

    for _ in range(50):
        for act in FORTH_AND_BACK:
            one.engine.ask(act)
    one.engine.ask(STEP)

    until(lambda: page.newest == "one\nverse\nFalse")
    drawn = sum(event == "stand" for event, _, _ in page.events)
    assert one.snapshot.version - before >= 101
    assert drawn < 60


def test_a_page_that_stops_reading_delays_neither_the_gig_nor_another_page(
    one: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A phone that is carried out of reach in the middle of a song; large pages fill what lies between very soon."""
    monkeypatch.setattr(pages, "page_html", lambda *said: numbered(*said) + "\n" + "x" * 300_000)
    with raw(one, buffer=4_096) as stalled:
        until(lambda: readers(one) == 1)
        page, slowest = Reading(one, Right.STEP), 0.0
        until(lambda: page.newest)
        gc.collect()
        for number in range(100):
            begun = time.perf_counter()
            one.engine.ask(FORTH_AND_BACK[number % 2])
            slowest = max(slowest, time.perf_counter() - begun)
            time.sleep(0.01)
        one.engine.ask(STEP)

        until(lambda: page.newest.startswith("one\nverse\nTrue"), 2)
        assert slowest < 0.25
        assert readers(one) == 2  # it may still come back
        heard = stalled.recv(1_000_000)

    assert heard.startswith(b"HTTP/1.1 200")
    until(lambda: readers(one) == 1)
    page.stop()


def test_a_page_that_comes_back_after_a_pause_gets_the_newest(one: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """It does not work through what it has missed."""
    monkeypatch.setattr(pages, "page_html", lambda *said: numbered(*said) + "\n" + "x" * 300_000)
    with raw(one, buffer=4_096) as slow:
        until(lambda: readers(one) == 1)
        for _ in range(30):
            for act in FORTH_AND_BACK:
                one.engine.ask(act)
            time.sleep(0.01)
        one.engine.ask(STEP)
        slow.settimeout(5)
        heard = b""
        while b"data: one\ndata: verse" not in heard[-400_000:]:
            heard += slow.recv(65_536)

    assert heard.count(b"event: stand") < 30


def test_a_page_that_takes_nothing_any_more_is_let_go(one: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its place is for another."""
    monkeypatch.setattr(pages, "page_html", lambda *said: numbered(*said) + "\n" + "x" * 3_000_000)
    monkeypatch.setattr(events, "_STALLED_S", 0.2)
    with raw(one, buffer=4_096):
        until(lambda: readers(one) == 1)
        until(lambda: readers(one) == 0)


def test_so_many_pages_follow_and_no_more(one: House) -> None:
    """A page that is left open in every pocket must not use the machine up; who is refused reads why."""
    assert one.serving is not None
    open_pages = [Reading(one) for _ in range(8)]
    until(lambda: readers(one) == 8)

    refused = httpx.get(one.serving.address("/events"), cookies=one.cookies(Right.STEP))

    assert refused.status_code == 503
    assert refused.json() == {"error": "8 pages follow this stand already. Close one that nobody looks at."}
    open_pages[0].stop()
    one.engine.ask(STEP)
    until(lambda: readers(one) == 7)
    assert httpx.get(one.serving.address("/events?once=true"), cookies=one.cookies(Right.SEE)).status_code == 200


def test_pages_that_come_and_go_leave_nothing_behind(one: House) -> None:
    """Two hundred reloads in an evening, some in the middle of an update."""
    for _ in range(200):
        with raw(one) as page:
            one.engine.act(FORTH_AND_BACK[0])
            page.recv(1)
            one.engine.act(FORTH_AND_BACK[1])

    until(lambda: readers(one) == 0)
    assert one.engine._watchers == ()


def test_a_fault_in_drawing_is_said_and_the_page_goes_on(one: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next change is drawn again."""
    page = Reading(one)
    until(lambda: page.newest)
    monkeypatch.setattr(pages, "page_html", lambda *_: 1 / 0)
    one.engine.ask(STEP)
    until(lambda: "could not be drawn" in page.newest)
    monkeypatch.setattr(pages, "page_html", numbered)

    one.engine.ask(STEP)

    until(lambda: page.newest == "one\nchorus\nFalse")


def test_pages_end_with_the_stand_and_do_not_hold_it_up(one: House) -> None:
    """Ctrl+C means now."""
    assert one.serving is not None
    page = Reading(one)
    until(lambda: page.newest)
    begun = time.monotonic()

    one.serving.close()

    assert time.monotonic() - begun < 1.0
    until(lambda: page.is_over)


def test_what_is_drawn_is_drawn_once_for_all_who_see_the_same(one: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twenty phones cost as much as one."""
    drawn: list[tuple[int, bool]] = []

    def draw(snapshot: Snapshot, can_step: bool) -> str:
        drawn.append((snapshot.version, can_step))
        return "drawn"

    monkeypatch.setattr(pages, "page_html", draw)
    open_pages = [Reading(one, right) for right in (Right.SEE, Right.SEE, Right.SEE, Right.STEP)]
    until(lambda: all(page.newest for page in open_pages))

    one.engine.ask(STEP)

    until(lambda: all(len(page.events) >= 2 for page in open_pages))
    assert len(drawn) == len(set(drawn))


def test_events_without_a_loop_are_no_ones(one: House) -> None:
    """A change that comes when the server has just gone is not the gig's trouble."""

    async def come_and_go() -> None:
        with one.app.state.site.readers.entered():
            pass

    in_a_loop_of_its_own(come_and_go())
    one.engine.ask(STEP)

    assert not [notice for notice in one.snapshot.notices if notice.about == "page"]
