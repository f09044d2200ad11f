"""A hostile page in a real browser that is let into the stand, and an address that comes by mail."""

import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from scenebook.web.keys import Right
from tests.web.support import House, house, until

pytestmark = pytest.mark.browser

ATTACKS = """
const said = JSON.stringify({verb: "next"});
const json = {"Content-Type": "application/json"};
const tries = [
  fetch(STAND + "/api/act", {method: "POST", body: said, headers: json, credentials: "include"}),
  fetch(STAND + "/api/act", {method: "POST", body: said, mode: "no-cors", credentials: "include"}),
  fetch(STAND + "/api/state", {credentials: "include"}),
];
const form = document.createElement("form");
Object.assign(form, {method: "POST", action: STAND + "/api/act", enctype: "text/plain", target: "frame"});
form.innerHTML = `<input name='{"verb":"next","by":"' value='"}'>`;
document.body.append(form);
form.submit();
const events = new EventSource(STAND + "/events", {withCredentials: true});
events.addEventListener("stand", () => document.title = "read");
const read = answer => answer.type === "opaque" ? "" : answer.text();
Promise.allSettled(tries.map(each => each.then(read))).then(
  all => document.body.dataset.read = all.map(each => each.value || "nothing").join());
"""


@pytest.fixture
def one() -> Iterator[House]:
    with house() as made:
        made.serve()
        yield made


@contextmanager
def site(html: str) -> Iterator[str]:
    """Serve a page of another site; a browser takes this machine's two names for two sites."""

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(html.encode())

        def log_message(self, *_: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Answer) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://localhost:{server.server_address[1]}/"
        server.shutdown()


def let_in(chromium: Browser, one: House) -> BrowserContext:
    context = chromium.new_context()
    context.new_page().goto(one.address(Right.STEP))
    return context


def may(page: Page) -> str:
    """Return what a page of the stand may do, as the API tells it."""
    said: str = page.evaluate(
        "fetch('/api/state').then(answer => answer.json()).then(state => state.may || state.error)"
    )
    return said


def test_a_hostile_page_neither_reads_nor_steps(chromium: Browser, one: House) -> None:
    """The player's browser is let in, and in another tab somebody's page tries everything that a page can."""
    assert one.serving is not None
    attack = f"<iframe name=frame></iframe><script>const STAND = '{one.serving.address('')}';{ATTACKS}</script>"
    with site(attack) as hostile, let_in(chromium, one) as context:
        page = context.new_page()
        page.goto(hostile)
        page.wait_for_selector("[data-read]")
        page.wait_for_timeout(500)

        assert page.get_attribute("body", "data-read") == "nothing,nothing,nothing"
        assert page.title() != "read"
        assert may(context.pages[0]) == "step"
    assert one.snapshot.step.place.entry == -1
    assert one.journal.kinds().count("step") == 0


def test_a_hostile_page_frames_no_stand(chromium: Browser, one: House) -> None:
    """A stand under an invisible layer, so that a click on something else steps it."""
    assert one.serving is not None
    with site(f'<iframe src="{one.serving.address()}"></iframe>') as hostile, let_in(chromium, one) as context:
        page = context.new_page()
        page.goto(hostile)
        until(lambda: len(page.frames) == 2)
        page.wait_for_load_state("load")

        assert "home" not in page.frames[1].evaluate("document.body ? document.body.innerText : ''")


def test_another_name_for_this_machine_reads_nothing(chromium: Browser, one: House) -> None:
    """DNS rebinding, as a browser does it: the name is the site's, the address ours."""
    assert one.serving is not None
    rebound = chromium.browser_type.launch(
        executable_path=shutil.which("chromium"),
        args=["--no-sandbox", "--host-resolver-rules=MAP evil.example 127.0.0.1"],
    )
    try:
        page = rebound.new_page()
        answer = page.goto(f"http://evil.example:{one.serving.port}/open/{one.keys.key(Right.STEP)}")

        assert answer is not None
        assert answer.status == 421
        assert "not served under that name" in page.inner_text("body")
    finally:
        rebound.close()


@pytest.mark.parametrize("link", [True, False])
def test_an_address_opens_the_stand_from_a_mail_as_from_the_window(chromium: Browser, one: House, link: bool) -> None:
    """A strict cookie does not come along on a way that began elsewhere; the stand's own page leads on."""
    with site(f'<a href="{one.address(Right.SEE)}">the stand</a>') as mail, chromium.new_context() as context:
        page = context.new_page()
        if link:
            page.goto(mail)
            page.click("a")
        else:
            page.goto(one.address(Right.SEE))
        assert one.serving is not None
        page.wait_for_url(one.serving.address())

        assert "needs a key" not in page.inner_text("body")
        assert may(page) == "see"
