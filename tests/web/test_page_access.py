"""Anyone can read the page and work it: axe-core finds nothing, and a screen reader is told the cue and what to do.

axe-core (vendor/axe.min.js, Mozilla Public License 2.0, its licence beside it) checks against WCAG 2.2; the contrast of
level AAA, which it leaves out by itself, is asked for as well.
"""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from scenebook.live.acts import Verb
from scenebook.live.places import Part, Place
from scenebook.web.keys import Right
from tests.web.browser import LOOKS, dialog, opened, shows
from tests.web.evening import HALL, NO_MIDI, Evening, evening
from tests.web.support import until

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("faultless")]

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text(encoding="utf-8")
RUN = "axe.run(document, {rules: {'color-contrast-enhanced': {enabled: true}}, resultTypes: ['violations']})"


def violations(page: Page) -> list[str]:
    """Return what axe-core has against a page: rule, element, why."""
    page.wait_for_timeout(150)
    page.evaluate(AXE)
    found: Any = page.evaluate(RUN)
    return [
        f"{rule['id']}: {node['target']}: {node['failureSummary']}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


def begun(house: Evening) -> None:
    house.act(Verb.AGAIN)
    house.go(4, 2)
    house.act(Verb.NEXT)
    until(lambda: house.snapshot.sent.done)


def jumped(house: Evening) -> None:
    house.go(21, 2)


def safe(house: Evening) -> None:
    house.act(Verb.SAFE)


def spare(house: Evening) -> None:
    house.go(1, 0, Part.SPARE)


def house_sound(house: Evening) -> None:
    house.go(0, 1, Part.HOUSE)


def gone(house: Evening) -> None:
    begun(house)
    house.ports.pull("box front")
    until(lambda: any(each.state == "gone" for each in house.snapshot.ports))
    house.act(Verb.NEXT)


def changed(house: Evening) -> None:
    begun(house)
    house.act(Verb.OUT, unit="drive, soft")
    house.act(Verb.LEARN, text="next")


def refused(house: Evening) -> None:
    house.act(Verb.RESUME)


def cut(house: Evening) -> None:
    begun(house)
    house.act(Verb.CUT, place=Place(Part.SET, 4, 5))


def checking(house: Evening) -> None:
    house.act(Verb.CHECK)
    house.act(Verb.NEXT)


STATES = [lambda _: None, begun, jumped, safe, spare, house_sound, gone, changed, refused, cut, checking]
NAMES = ["home", "begun", "jumped", "safe", "spare", "house sound", "gone", "changed", "refused", "cut", "line check"]


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("state", STATES, ids=NAMES)
def test_no_state_of_the_page_has_a_violation(chromium: Browser, state: Any, look: str) -> None:
    """A state that only shows when something breaks is the one that has to be read."""
    with evening() as house:
        state(house)
        for right, path in ((Right.STEP, "/"), (Right.SEE, "/"), (Right.SEE, "/tech")):
            page = opened(chromium, house, "laptop", look, right=right, path=path)
            assert violations(page) == [], (right, path)
            page.context.close()


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("size", ["phone", "laptop"])
def test_no_sheet_and_no_warning_has_a_violation(chromium: Browser, size: str, look: str) -> None:
    """The sheets over the page, a jump that is asked, a lost connection, a lost focus, a page that lets nobody in."""
    with evening() as house:
        begun(house)
        page = opened(chromium, house, size, look)
        for name in ("go", "tonight"):
            dialog(page, name)
            assert violations(page) == [], name
            page.locator(f"#{name} [data-ask]").first.click()
            assert violations(page) == [], f"{name}, asked"
            page.keyboard.press("Escape")
            page.locator(f"#close-{name}").click()
        page.keyboard.press("1")
        page.keyboard.press("Enter")
        shows(page, "Go to 1", "#asked")
        assert violations(page) == []
        page.evaluate("for (const id of ['lost', 'deaf']) document.getElementById(id).hidden = false")
        page.evaluate("window.dispatchEvent(new Event('resize'))")
        assert violations(page) == []
        assert violations(opened(chromium, house, size, look, right=None)) == []


def test_a_gig_without_midi_has_no_violation_either(chromium: Browser) -> None:
    """There nothing is sent, and everything is by hand."""
    with evening(NO_MIDI) as house:
        house.act(Verb.NEXT)
        page = opened(chromium, house)
        assert violations(page) == []


def test_what_is_said_aloud_is_the_cue_and_what_to_do(chromium: Browser) -> None:
    """One polite region, changed once for each step: the cue, what was sent, what to press, what comes."""
    with evening(HALL) as house:
        page = opened(chromium, house)
        begun(house)
        shows(page, "slip", "#now")

        page.wait_for_function("document.getElementById('spoken').textContent.includes('slip')")
        said = page.locator("#spoken").inner_text()

        assert page.locator("[aria-live], [role=status], [role=alert]").count() == 1
        assert said.startswith("Winch song, slip, cue 28. Sent")
        assert "Now: press drive: off" in said or "press drive" in said
        assert said.endswith("Next: haul.")


def test_the_focus_stays_where_it_was_when_the_page_changes(chromium: Browser) -> None:
    """Whoever walks through the page by keys does not lose the place at each cue."""
    with evening() as house:
        page = opened(chromium, house)
        dialog(page, "tonight")
        page.focus("#song-text")
        page.keyboard.type("118")

        house.go(4, 3)
        shows(page, "slip", "#now")

        assert page.evaluate("document.activeElement.id") == "song-text"
        assert page.input_value("#song-text") == "118"
        page.keyboard.type(".5")
        assert page.input_value("#song-text") == "118.5"
        assert house.place.entry == 4
