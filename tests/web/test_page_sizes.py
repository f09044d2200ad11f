"""Phone, tablet and laptop: everything of now without scrolling, large, and targets that a finger meets."""

import itertools
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from scenebook.live.acts import Verb
from scenebook.live.places import Part
from scenebook.model import Library
from tests.web.browser import LOOKS, SIZES, TARGET_PX, dialog, opened, shows
from tests.web.evening import NO_MIDI, demo, evening
from tests.web.support import until

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("faultless")]

BOXES = """selector => [...document.querySelectorAll(selector)].filter(each => each.checkVisibility()).map(each => {
    const box = each.getBoundingClientRect();
    return {name: each.id || each.textContent.trim(), x: box.x, y: box.y, width: box.width, height: box.height};
})"""
CUT_OFF = """() => ["main", "html", "header", ".strip"].filter(each => {
    const box = document.querySelector(each);
    return box && (box.scrollHeight > box.clientHeight + 1 || box.scrollWidth > box.clientWidth + 1);
})"""


def boxes(page: Page, selector: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate(BOXES, selector)
    return found


def settled(page: Page) -> None:
    page.wait_for_function("document.fonts.status === 'loaded'")
    page.wait_for_timeout(100)


@pytest.mark.parametrize(("size", "look"), list(itertools.product(SIZES, LOOKS)))
def test_all_of_now_is_there_without_scrolling(chromium: Browser, size: str, look: str) -> None:
    """Hands are on the instrument: through the whole evening nothing has to be scrolled for."""
    with evening() as house:
        page = opened(chromium, house, size, look)
        house.act(Verb.AGAIN)
        for step in house.snapshot.programme.steps[1::7]:
            house.act(Verb.GO, place=step.place)
            house.act(Verb.NEXT)
            shows(page, house.snapshot.step.lean.song, "h1")
            settled(page)
            assert page.evaluate(CUT_OFF) == [], step.place


@pytest.mark.parametrize("size", SIZES)
def test_a_bad_moment_is_there_without_scrolling(chromium: Browser, size: str) -> None:
    """After a jump, a port gone, everything to check: that is when it counts."""
    with evening() as house:
        page = opened(chromium, house, size)
        house.act(Verb.AGAIN)
        house.go(20, 2)
        house.ports.pull("box wet")
        until(lambda: any(each.state == "gone" for each in house.snapshot.ports))
        house.act(Verb.SAFE)
        shows(page, "wet: GONE")
        settled(page)

        assert page.evaluate(CUT_OFF) == []


@pytest.mark.parametrize("size", SIZES)
def test_a_gig_by_hand_is_there_without_scrolling(chromium: Browser, size: str) -> None:
    """A rig with no MIDI at all has the most to press."""
    with evening(NO_MIDI) as house:
        page = opened(chromium, house, size)
        for step in house.snapshot.programme.steps[1:25]:
            house.act(Verb.NEXT)
            shows(page, step.lean.song, "h1")
            settled(page)
            assert page.evaluate(CUT_OFF) == [], step.place


@pytest.mark.parametrize("size", SIZES)
def test_targets_are_twelve_millimetres_and_apart(chromium: Browser, size: str) -> None:
    """CSS has 96 px to the inch, so 12 mm are 45.4 px; two targets never overlap."""
    with evening() as house:
        page = opened(chromium, house, size)
        shows(page, "Before the first song")
        seen = boxes(page, "button, a, select, input")
        for name in ("go", "tonight"):
            dialog(page, name)
            seen += boxes(page, f"#{name} :is(button, a, select, input)")
            page.locator(f"#close-{name}").click()

        assert len(seen) > 60
        assert [each for each in seen if min(each["width"], each["height"]) < TARGET_PX - 0.1] == []
        for one, other in itertools.combinations(boxes(page, ".tools button"), 2):
            assert one["x"] + one["width"] <= other["x"] + 0.5 or other["x"] + other["width"] <= one["x"] + 0.5


@pytest.mark.parametrize("size", SIZES)
def test_the_page_is_turned_at_its_lower_corners(chromium: Browser, size: str) -> None:
    """Forward at the right, back at the left, as paper is."""
    with evening() as house:
        page = opened(chromium, house, size)
        shows(page, "Before the first song")
        width, height = SIZES[size]
        following, back = boxes(page, "#next")[0], boxes(page, "#back")[0]

        assert following["x"] + following["width"] == pytest.approx(width, abs=1)
        assert back["x"] == pytest.approx(0, abs=1)
        for each in (following, back):
            assert each["y"] + each["height"] == pytest.approx(height, abs=1)


def test_a_part_is_as_wide_as_its_bars(chromium: Browser) -> None:
    """A form is read by its proportions: 16 bars are twice as long as 8, and what stands is inked."""
    with evening() as house:
        page = opened(chromium, house)
        house.go(4, 5)
        shows(page, "Winch song", "h1")
        settled(page)

        widths = [each["width"] for each in boxes(page, ".strip li")]
        ink = page.evaluate("getComputedStyle(document.querySelector('.strip .now .bars')).backgroundColor")

        bars = [entry.bars for entry in demo().songs["Winch song"].form]
        assert [round(width / widths[0] * 8) for width in widths] == bars
        assert ink == page.evaluate("getComputedStyle(document.body).color")


@pytest.mark.parametrize("size", SIZES)
def test_what_is_pressed_now_can_be_read_from_two_metres(chromium: Browser, size: str) -> None:
    """ISO 9241-303: capitals of at least 16 minutes of arc, 9.3 mm at two metres; a phone is held nearer.

    A laptop of 1280 × 800 points and 14 inches has 0.235 mm to the point, a tablet of 11 inches 0.195.
    """
    millimetres = {"laptop": 0.235, "tablet": 0.195, "phone": 0.17}[size]
    distance = {"laptop": 2000, "tablet": 1500, "phone": 1000}[size]
    with evening() as house:
        page = opened(chromium, house, size)
        house.act(Verb.AGAIN)
        house.go(4, 3)
        house.act(Verb.NEXT)
        shows(page, "press filter: off", ".at-once")
        settled(page)

        points = page.evaluate("parseFloat(getComputedStyle(document.querySelector('.at-once li')).fontSize)")

        assert (
            points * 0.729 * millimetres >= distance * 0.004654
        )  # 2 tan(8'); the font's capitals have 0.729 of its size


def a_long_evening() -> Library:
    """Return the demo with a form of thirty parts under a long name, and a song whose bars nobody knows."""
    library = demo()
    said = library.model_dump(mode="json", exclude_unset=True)
    name = "The very long ballad of the harbour master's second-best umbrella"
    song = said["songs"].pop("Winch song")
    song["form"] = song["form"] * 5
    said["songs"][name] = song
    for gig in said["gigs"].values():
        for part in gig["sets"]:
            for entry in part["songs"]:
                if entry["song"] == "Winch song":
                    entry["song"] = name
    return Library.model_validate(said)


@pytest.mark.parametrize("size", SIZES)
def test_a_form_of_thirty_parts_still_fits(chromium: Browser, size: str) -> None:
    """A long form gets narrow bars, never a second page."""
    with evening(library=a_long_evening()) as house:
        page = opened(chromium, house, size)
        house.go(4, 17, Part.SET)
        shows(page, "umbrella", "h1")
        settled(page)

        assert page.evaluate(CUT_OFF) == []
        assert page.locator(".strip li").count() == 30
