"""What other sites, other names and large requests get: a refusal in a sentence, and nothing is done."""

import re
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

import scenebook.web
from scenebook.web.keys import Right
from scenebook.web.security import BODY_BYTES
from tests.web.support import House, house

HOME = -1
NEXT = {"verb": "next"}
PATHS = ["/", "/tech", "/api/state", "/api/programme", "/api/records", "/api/keys", "/events?once=true"]
PATHS += ["/openapi.json", "/static/none.css", "/nothing/here", "/open/wrong"]
OUR_NAMES = ["127.0.0.1", "127.0.0.1:8737", "localhost:1", "LOCALHOST", "localhost.", "[::1]:8737", "192.168.1.5:8737"]
OUR_NAMES += ["stage.local", "Stage.Local:8737"]
OTHER_NAMES = ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:8737", "", "::1", "[::1", "127.1"]
OTHER_NAMES += ["127.0.0.1@evil.example", "192.168.1.6", "stage.local:80:80.evil", "evil.example:127.0.0.1", "0.0.0.0"]
OTHER_NAMES += ["2130706433", "stage.local:", "[stage.local]x", "stage.local:80x"]
TRICKS = [
    "../app.py",
    "..%2fapp.py",
    "%2e%2e/app.py",
    "....//app.py",
    "..\\app.py",
    "..%5capp.py",
    "%00",
    "/etc/passwd",
]
TRICKS += ["//etc/passwd", "static/../../app.py", "%252e%252e%252fapp.py", ".", "", "a" * 5_000, "..%c0%afapp.py"]


@pytest.fixture
def one() -> Iterator[House]:
    with house(shown="192.168.1.5", hosts=("stage.local",)) as made:
        yield made


def stands_at_home(made: House) -> bool:
    return made.snapshot.step.place.entry == HOME


# Keys and cookies.


@pytest.mark.parametrize("right", list(Right))
def test_a_key_becomes_a_cookie_and_leaves_the_address(one: House, right: Right) -> None:
    """What stands in the browser's history, and on a photograph of its window, opens nothing."""
    browser = one.client()

    opened = browser.get(f"/open/{one.keys.key(right)}")

    assert (opened.status_code, opened.headers["location"]) == (303, "/")
    said = opened.headers["set-cookie"]
    assert {"HttpOnly", "SameSite=strict", "Path=/", "Max-Age=86400"} <= set(said.split("; "))
    assert "Domain" not in said
    assert browser.get("/api/state").json()["may"] == right


def test_a_used_key_opens_no_second_screen(one: House) -> None:
    """The first who scanned it has it."""
    address = f"/open/{one.keys.key(Right.STEP)}"
    one.client().get(address)

    again = one.client().get(address)

    assert again.status_code == 403
    assert again.json() == {
        "error": "This key is wrong, or has been used: a key opens the stand once. "
        "Take a fresh address from a page that steps: Tonight, Another screen; "
        "with --share the terminal gives one as well."
    }
    assert "set-cookie" not in again.headers


def test_a_browser_that_opens_its_used_address_again_is_led_on(one: House) -> None:
    """A phone that brings back its last address after a restart is still let in."""
    browser, address = one.client(), f"/open/{one.keys.key(Right.STEP)}"
    browser.get(address)

    again = browser.get(address)

    assert (again.status_code, again.headers["location"]) == (303, "/")
    assert browser.get("/api/state").json()["may"] == "step"


def test_who_steps_goes_on_stepping_whatever_key_he_tries(one: House) -> None:
    """The player tries on his own laptop whether the band's address works."""
    browser = one.client(Right.STEP)

    browser.get(f"/open/{one.keys.key(Right.SEE)}")

    assert browser.get("/api/state").json()["may"] == "step"


def test_who_sees_may_be_given_the_steps(one: House) -> None:
    """The tech takes over for a song."""
    browser = one.client(Right.SEE)

    browser.get(f"/open/{one.keys.key(Right.STEP)}")

    assert browser.get("/api/state").json()["may"] == "step"


def test_a_look_ahead_uses_no_key_up(one: House) -> None:
    """A browser that fetches what its user may click next would otherwise take the key for nobody."""
    address = f"/open/{one.keys.key(Right.SEE)}"

    ahead = one.client().get(address, headers={"sec-purpose": "prefetch;prerender"})

    assert ahead.status_code == 403
    assert one.client().get(address).status_code == 303


def test_a_link_from_another_site_arrives_with_its_cookie(one: House) -> None:
    """An address sent by mail: a redirect would be asked for without the strict cookie, a page that leads on is not."""
    opened = one.client().get(f"/open/{one.keys.key(Right.SEE)}", headers={"sec-fetch-site": "cross-site"})

    assert opened.status_code == 200
    assert 'http-equiv="refresh" content="0; url=/"' in opened.text
    assert "set-cookie" in opened.headers


@pytest.mark.parametrize("path", ["/", "/tech", *PATHS[2:7]])
@pytest.mark.parametrize("cookie", [None, "step.x.y", "see"])
def test_without_a_cookie_of_ours_there_is_nothing_to_see(one: House, path: str, cookie: str | None) -> None:
    """Whoever is in the hall's network learns not even what is played."""
    browser = one.client()
    if cookie:
        browser.cookies.set(one.keys.cookie, cookie)

    answer = browser.get(path)

    assert (answer.status_code, list(answer.json())) == (401, ["error"])
    assert "one" not in re.findall(r"\w+", answer.text)


def test_a_window_without_a_key_says_so_as_a_page(one: House) -> None:
    """A player who typed the address reads what to do, not braces."""
    answer = one.client().get("/", headers={"accept": "text/html,*/*"})

    assert answer.status_code == 401
    assert answer.headers["content-type"].startswith("text/html")
    assert "This page needs a key" in answer.text


def test_who_may_see_reads_all_and_steps_nothing(one: House) -> None:
    """The band's phones follow; a thumb on one of them does not change the sound."""
    browser = one.client(Right.SEE)

    assert [browser.get(path).status_code for path in PATHS[:5]] == [200] * 5
    answer = browser.post("/api/act", json=NEXT)

    assert (answer.status_code, answer.json()) == (
        403,
        {"error": "This screen may see the gig and not step it. Open it with the stepping key."},
    )
    assert browser.get("/api/keys").status_code == 403
    assert stands_at_home(one)


def test_who_may_step_gets_the_next_addresses_to_pass_on(one: House) -> None:
    """One more screen from the page itself; what it shows is what opens."""
    keys = one.client(Right.STEP).get("/api/keys").json()

    assert keys["shared"]
    for right in Right:
        start = f"http://192.168.1.5:80/open/{one.keys.key(right)}"
        assert keys[right]["address"] == start
        assert keys[right]["qr"].startswith("<svg")
        assert "style" not in keys[right]["qr"]  # the policy would not let it


# Names, origins.


@pytest.mark.parametrize("host", OUR_NAMES)
def test_the_stand_answers_to_its_own_names(one: House, host: str) -> None:
    """This machine's, and those that it was told."""
    assert one.client(Right.SEE, "127.0.0.1").get("/api/state", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("host", OTHER_NAMES)
@pytest.mark.parametrize("path", ["/", "/api/state", "/static/none.css", "/open/x"])
def test_a_name_that_is_not_ours_gets_nothing(one: House, host: str, path: str) -> None:
    """DNS rebinding: a site lets its own name lead to this machine, and its page would read what the stand says."""
    key = one.keys.key(Right.STEP)

    answer = one.client(Right.STEP).get(path.replace("x", key) if "open" in path else path, headers={"host": host})

    assert answer.status_code == 421
    assert "not served under that name" in answer.text
    assert one.keys.key(Right.STEP) == key


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": ""},
        {"origin": "https://127.0.0.1"},
        {"origin": "http://127.0.0.1:81"},
        {"origin": "http://127.0.0.1.evil.example"},
        {"origin": "http://127.0.0.1", "sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
    ],
)
def test_another_sites_page_steps_nothing(one: House, headers: dict[str, str]) -> None:
    """Even if its request brought the cookie along."""
    answer = one.client(Right.STEP).post("/api/act", json=NEXT, headers=headers)

    assert (answer.status_code, answer.json()["error"]) == (
        403,
        "This came from a page of another site, so nothing was done. Use the stand's own page.",
    )
    assert stands_at_home(one)


@pytest.mark.parametrize(
    "headers",
    [{}, {"origin": "http://127.0.0.1"}, {"origin": "http://127.0.0.1", "sec-fetch-site": "same-origin"}],
)
def test_our_own_page_and_programs_step(one: House, headers: dict[str, str]) -> None:
    """A browser says where it comes from; a program of the player's says nothing, and brings the cookie."""
    answer = one.client(Right.STEP).post("/api/act", json=NEXT, headers=headers)

    assert answer.status_code == 200
    assert not stands_at_home(one)


@pytest.mark.parametrize("content_type", ["application/x-www-form-urlencoded", "text/plain", "multipart/form-data"])
def test_a_form_steps_nothing(one: House, content_type: str) -> None:
    """What a page can send to another site without asking is no JSON."""
    browser = one.client(Right.STEP)

    answer = browser.post("/api/act", content=b'{"verb": "next"}', headers={"content-type": content_type})

    assert (answer.status_code, stands_at_home(one)) == (415, True)


# What goes out.


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("right", [None, Right.STEP])
def test_every_answer_closes_the_page_to_all_else(one: House, path: str, right: Right | None) -> None:
    """Refusals, errors and files too; nothing is asked from elsewhere, framed elsewhere, kept by a cache."""
    headers = one.client(right).get(path).headers

    policy = {part.split(" ", 1)[0]: part.split(" ", 1)[1] for part in headers["content-security-policy"].split("; ")}
    own = dict.fromkeys(["script-src", "style-src", "img-src", "connect-src", "font-src", "form-action"], "'self'")
    closed = dict.fromkeys(["default-src", "base-uri", "frame-ancestors"], "'none'")
    assert policy == {**own, **closed}
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == ("no-cache" if path.startswith("/static/") else "no-store")
    assert headers["referrer-policy"] == "no-referrer"
    assert "access-control-allow-origin" not in headers
    assert "server" not in headers


def test_no_file_but_those_of_the_static_folder_is_given(one: House) -> None:
    """Whatever the path, the library beside it and the code stay here."""
    here = Path(scenebook.web.__file__).parent
    assert (here / "app.py").is_file()

    answers = {trick: one.client(Right.STEP).get(f"/static/{trick}") for trick in TRICKS}

    assert {trick: answer.status_code for trick, answer in answers.items() if answer.status_code != 404} == {}
    assert all("create_app" not in answer.text for answer in answers.values())


@pytest.mark.parametrize("path", ["/docs", "/redoc", "/api", "/API/state", "//api/state", "/events/"])
def test_there_are_no_other_addresses(one: House, path: str) -> None:
    """The usual pages that describe an API load scripts from elsewhere, so there are none."""
    assert one.client(Right.STEP).get(path).status_code == 404


# Sizes.


def test_a_request_that_is_too_large_is_not_read(one: House) -> None:
    """By what it says of itself, or by what comes."""
    browser = one.client(Right.STEP)

    said = browser.post("/api/act", content=b" " * (BODY_BYTES + 1))
    fits = browser.post(
        "/api/act", content=b'{"verb":"next"}'.ljust(BODY_BYTES), headers={"content-type": "application/json"}
    )

    assert (said.status_code, said.json()["error"]) == (413, "The request is too large; accepted: up to 16 KiB.")
    assert fits.status_code == 200


def test_a_request_that_breaks_off_steps_nothing(one: House) -> None:
    """The phone went out of reach in the middle of a request that would have been longer."""
    served = one.serve()
    cookie = "; ".join(f"{name}={value}" for name, value in one.cookies(Right.STEP).items())
    head = f"POST /api/act HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {cookie}\r\nContent-Type: application/json\r\n"

    with socket.create_connection(("127.0.0.1", served.port)) as line:
        line.sendall(f"{head}Content-Length: 500\r\n\r\n".encode() + b'{"verb": "next"}')
    served.close()  # it answers all that it has taken first

    assert stands_at_home(one)
    assert "step" not in one.journal.kinds()


def test_a_fault_in_a_page_is_a_sentence_and_no_traceback(
    one: House, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Whatever is wrong in a page, the gig goes on, and the terminal says nothing that a player cannot read."""

    def fault(*_: object, **__: object) -> str:
        raise RuntimeError("secret detail")

    monkeypatch.setattr("scenebook.web.pages.document", fault)

    answer = one.client(Right.STEP).get("/")

    assert (answer.status_code, answer.json()) == (500, {"error": "Something went wrong in the page; the gig goes on."})
    assert capfd.readouterr() == ("", "")


def test_a_stand_that_is_not_shared_says_so() -> None:
    """The addresses that it gives lead to this machine alone."""
    with house() as alone:
        keys = alone.client(Right.STEP, "localhost").get("/api/keys").json()

    assert not keys["shared"]
    assert keys["see"]["address"].startswith("http://127.0.0.1:")
