"""The stand is served on a real socket, in a thread of its own, and let go of cleanly."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, suppress

import httpx
import pytest

from scenebook.errors import WebError
from scenebook.live.acts import Act, Verb
from scenebook.web.keys import Right
from scenebook.web.security import BODY_BYTES, HEADER_BYTES
from scenebook.web.serving import serve
from tests.web.support import House, held, house, until


@pytest.fixture
def one() -> Iterator[House]:
    with house() as made:
        made.serve()
        yield made


def asked(one: House, request: str) -> bytes:
    """Return what comes back for the bytes of a request, until the connection ends or nothing more comes."""
    assert one.serving is not None
    found = b""
    with socket.create_connection(("127.0.0.1", one.serving.port), timeout=1) as made, suppress(OSError):
        made.sendall(request.encode("latin-1"))
        while piece := made.recv(65_536):
            found += piece
    return found


def cookie(one: House, right: Right) -> str:
    return "; ".join(f"{name}={value}" for name, value in one.cookies(right).items())


def test_a_browser_opens_the_address_and_steps(one: House) -> None:
    """The whole way, over the loopback interface."""
    with httpx.Client(follow_redirects=True) as browser:
        page = browser.get(one.address(Right.STEP))
        base = str(page.url)
        step = browser.post(f"{base}api/act", json={"verb": "next", "by": "key"})

    assert (page.status_code, page.url.path) == (200, "/")
    assert step.json()["cue"]["song"] == "one"
    until(lambda: one.ports.sent)


def test_only_this_machine_reaches_a_stand_that_is_not_shared(one: House) -> None:
    """It listens at the loopback interface alone."""
    assert one.serving is not None
    assert one.serving._socket.getsockname()[0] == "127.0.0.1"
    assert one.serving.address() == f"http://127.0.0.1:{one.serving.port}/"


def test_a_shared_stand_says_its_address_for_this_machine_too() -> None:
    """The player's own browser goes the short way."""
    with house() as made:
        serving = serve(made.app, "0.0.0.0", 0)
        address = serving.address("/x"), serving.address("/x", "192.168.1.5")
        serving.close()

    assert address == (f"http://127.0.0.1:{serving.port}/x", f"http://192.168.1.5:{serving.port}/x")


def test_a_port_in_use_makes_way_for_the_next_and_it_is_said() -> None:
    """Another program, or the stand of the support band's rehearsal, holds the usual one."""
    with held() as taken, house() as made:
        serving = made.serve(taken)

        assert serving.port > taken
        assert serving.said == f"Port {taken} is in use, so the page is served on port {serving.port}."
        assert httpx.get(serving.address("/openapi.json")).status_code == 200


def test_a_free_port_is_taken_without_a_word(one: House) -> None:
    """Nothing to read where nothing is wrong."""
    assert one.serving is not None
    assert one.serving.said == ""


@pytest.mark.parametrize("port", [-1, 65_536])
def test_a_port_that_cannot_be_is_said(one: House, port: int) -> None:
    """With what is accepted."""
    with pytest.raises(WebError, match=f"there is no port {port}; accepted: 0 to 65535"):
        serve(one.app, port=port)


@pytest.mark.parametrize("host", ["203.0.113.7", "no such host", "::zz"])
def test_an_address_that_is_not_this_machines_is_said(one: House, host: str) -> None:
    """The laptop was in another network at the last gig."""
    with pytest.raises(WebError, match="cannot be served at"):
        serve(one.app, host, 0)


def test_closing_frees_the_port_at_once_and_the_gig_goes_on(one: House) -> None:
    """A stand that is started again finds its port, so that the screens find it."""
    assert one.serving is not None
    port = one.serving.port
    httpx.get(one.serving.address("/openapi.json"))
    threads = {thread.name for thread in threading.enumerate()}

    one.serving.close()
    one.serving.close()

    assert "web" in threads
    assert "web" not in {thread.name for thread in threading.enumerate()}
    assert one.engine.ask(Act(Verb.NEXT)).step.full.song == "one"
    again = serve(one.app, port=port)
    assert (again.port, again.said) == (port, "")
    again.close()


def test_screens_go_on_after_a_restart_of_the_stand() -> None:
    """The process was killed; the same cookie is good for the next one, on the same port."""
    with house() as before:
        serving = before.serve()
        cookies, store, journal = before.cookies(Right.STEP), before.keys, before.journal
        before.engine.ask(Act(Verb.NEXT))
        serving.close()
    with house(journal=journal) as after:
        after.app.state.site.keys._secret = store._secret
        serving = after.serve(serving.port)

        state = httpx.get(serving.address("/api/state"), cookies=cookies)

    assert state.json()["cue"]["song"] == "one"
    assert state.json()["offer"] == "The rig may stand anywhere: send again"


def test_a_step_is_answered_at_once(one: House) -> None:
    """Small pieces go out as they are, and do not wait for the other side to say that it got the one before."""
    assert one.serving is not None
    took = []
    with httpx.Client(cookies=one.cookies(Right.STEP)) as browser:
        for _ in range(9):
            begun = time.perf_counter()
            browser.get(one.serving.address("/api/state"))
            took.append(time.perf_counter() - begun)

    assert min(took) < 0.03


# Requests that no browser sends.


def test_a_head_that_is_too_large_is_refused(one: House) -> None:
    """A megabyte of headers is not kept while it comes in."""
    head = f"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: {'x' * HEADER_BYTES}"

    unfinished, whole = asked(one, head), asked(one, f"{head}\r\n\r\n")

    assert unfinished.startswith(b"HTTP/1.1 400")
    assert whole.startswith(b"HTTP/1.1 431")
    assert b"accepted: up to 16 KiB" in whole


def test_a_body_without_a_length_is_bounded_too(one: House) -> None:
    """Chunk after chunk, and never an end."""
    head = f"POST /api/act HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {cookie(one, Right.STEP)}\r\n"
    chunk = f"{4_096:x}\r\n{' ' * 4_096}\r\n"

    answer = asked(one, f"{head}Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n{chunk * 5}")

    assert answer.startswith(b"HTTP/1.1 413")
    assert f"{BODY_BYTES // 1024} KiB".encode() in answer


def test_a_body_that_never_comes_holds_nothing_up(one: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Said to be there, and kept back: after a while the request is refused, and others are answered meanwhile."""
    assert one.serving is not None
    monkeypatch.setattr("scenebook.web.security._BODY_S", 0.3)
    with socket.create_connection(("127.0.0.1", one.serving.port), timeout=5) as slow:
        head = f"POST /api/act HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {cookie(one, Right.STEP)}\r\n"
        slow.sendall(f"{head}Content-Type: application/json\r\nContent-Length: 15\r\n\r\n{{".encode())
        begun = time.monotonic()
        other = httpx.get(one.serving.address("/api/state"), cookies=one.cookies(Right.SEE))
        answered = time.monotonic() - begun
        refused = slow.recv(65_536)

    assert (other.status_code, answered < 0.3) == (200, True)
    assert refused.startswith(b"HTTP/1.1 408")


@pytest.mark.parametrize("length", ["-1", "abc", "99999999999999999999", "1, 2"])
def test_a_length_that_cannot_be_is_refused(one: House, length: str) -> None:
    """Whether by the server or by the stand: nothing is done."""
    head = f"POST /api/act HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {cookie(one, Right.STEP)}\r\n"

    answer = asked(one, f"{head}Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n{{}}")

    assert answer.split(b" ")[1] in (b"400", b"413")
    assert one.snapshot.step.place.entry == -1


@pytest.mark.parametrize("host", ["", "Host: evil.example\r\n", "Host: 127.0.0.1\r\nHost: evil.example\r\n"])
def test_a_request_needs_one_host_and_ours(one: House, host: str) -> None:
    """None, another, or two of them."""
    answer = asked(one, f"GET /api/state HTTP/1.1\r\n{host}Cookie: {cookie(one, Right.SEE)}\r\n\r\n")

    assert answer.split(b" ")[1] in (b"400", b"421")


def test_an_address_with_another_host_in_it_is_no_way_round(one: House) -> None:
    """A request line may hold a whole address; what it names is not believed."""
    answer = asked(one, "GET http://evil.example/api/keys HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Forwarded-Host: a\r\n\r\n")

    assert answer.split(b" ")[1] in (b"400", b"401", b"404")


def test_noise_on_the_port_says_nothing_in_the_terminal(one: House, capfd: pytest.CaptureFixture[str]) -> None:
    """Something in the venue's network looks for open doors."""
    for noise in ("\x16\x03\x01\x02\x00\x01", "GET\r\n\r\n", "\x00" * 100, "SSH-2.0-x\r\n"):
        asked(one, noise)

    assert one.serving is not None
    assert httpx.get(one.serving.address("/openapi.json")).status_code == 200
    assert capfd.readouterr() == ("", "")


# Connections.


def test_a_connection_that_says_nothing_is_ended(one: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a request, and one that was answered long ago; a page that follows stays."""
    assert one.serving is not None
    monkeypatch.setattr("scenebook.web.connections._SAYS_NOTHING_S", 0.2)
    where = ("127.0.0.1", one.serving.port)
    head = f"GET /events HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {cookie(one, Right.SEE)}\r\n"
    with socket.create_connection(where, 5) as silent, socket.create_connection(where, 5) as follows:
        follows.sendall(f"{head}\r\n".encode())
        silent.sendall(head.encode())
        begun = time.monotonic()
        with suppress(ConnectionResetError):
            assert silent.recv(10) == b""
        ended = time.monotonic() - begun
        first = follows.recv(65_536)
        one.engine.ask(Act(Verb.NEXT))
        until(lambda: b"event: " in follows.recv(65_536))

    assert ended < 2
    assert first.startswith(b"HTTP/1.1 200")


def test_other_machines_keep_nobody_out(one: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Something in the hall's network opens connection after connection; the player's own page is answered."""
    assert one.serving is not None
    monkeypatch.setattr("scenebook.web.connections.FROM_ONE", 3)
    monkeypatch.setattr("scenebook.web.connections._is_here", lambda host: host != "127.0.0.2")
    where = ("127.0.0.1", one.serving.port)
    with ExitStack() as stack:
        made = [
            stack.enter_context(socket.create_connection(where, 5, source_address=("127.0.0.2", 0))) for _ in range(5)
        ]
        for each in made[3:]:
            with suppress(ConnectionResetError):
                assert each.recv(10) == b""
        made[0].sendall(b"GET /openapi.json HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")

        assert made[0].recv(12) == b"HTTP/1.1 200"
        assert httpx.get(one.serving.address("/openapi.json")).status_code == 200
