"""What a stage does to a page: the line drops, a port goes, the focus is elsewhere, a palm brushes over it."""

from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from scenebook.live.acts import Verb
from scenebook.live.places import HOME, Part, Place
from tests.web.browser import dialog, opened, shows, touch
from tests.web.evening import Evening, evening
from tests.web.support import until

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("faultless")]


class Hand:
    """Fingers that move as the browser itself would report them."""

    def __init__(self, page: Page) -> None:
        self._session = page.context.new_cdp_session(page)

    def moves(self, *moves: tuple[str, list[tuple[float, float]]]) -> None:
        for kind, points in moves:
            at = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
            self._session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})


def middle(page: Page, selector: str) -> tuple[float, float]:
    box: Any = page.locator(selector).bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def stays(page: Page, house: Evening, place: Place = HOME) -> None:
    page.wait_for_timeout(400)
    assert house.place == place


def test_a_server_that_restarts_finds_its_pages_again(chromium: Browser) -> None:
    """The laptop is started anew in the middle of a gig: the page says so at once, and then shows what is so."""
    with evening() as house:
        page = opened(chromium, house)
        house.go(4, 3)
        shows(page, "slip", "#now")
        port = house.serving.port

        house.end()
        shows(page, "CONNECTION LOST", "#lost")
        house.begin(port)

        page.locator("#lost").wait_for(state="hidden", timeout=15_000)
        shows(page, "slip", "#now")
        shows(page, "The rig may stand anywhere")
        page.keyboard.press("PageDown")
        shows(page, "haul", "#now")


def test_an_act_without_an_answer_is_said(chromium: Browser) -> None:
    """Nobody must believe that a step was taken that was not."""
    with evening() as house:
        page = opened(chromium, house)
        shows(page, "Before the first song")

        page.context.set_offline(True)
        page.keyboard.press("PageDown")

        shows(page, "Not known whether it was done: next", "#told")
        stays(page, house)
        page.context.set_offline(False)
        page.locator("#lost").wait_for(state="hidden", timeout=15_000)
        page.keyboard.press("PageDown")
        page.locator("#told").wait_for(state="hidden")
        until(lambda: house.place == Place(Part.SET, 0, 0))


def test_a_port_that_goes_shows_at_once_and_when_it_is_back(chromium: Browser) -> None:
    """The gig goes on by hand: what was not sent stands there to be done."""
    with evening() as house:
        page = opened(chromium, house)
        house.act(Verb.AGAIN)
        house.go(5, 0)
        until(lambda: house.snapshot.sent.done)

        house.ports.pull("box front")
        shows(page, "port front: GONE, work by hand", ".ports")
        page.keyboard.press("PageDown")
        shows(page, "By hand, front is gone: it must stand so", ".now h3.care")
        shows(page, "on multi-effects", ".now .away")
        house.ports.plug("box front")

        shows(page, "port front: there", ".ports")
        page.locator(".away").wait_for(state="hidden")


def test_a_page_that_lost_the_focus_says_so_large(chromium: Browser) -> None:
    """A pedal that types into another window is worse than one that is unplugged."""
    with evening() as house:
        page = opened(chromium, house)
        shows(page, "Before the first song")
        assert page.locator("#deaf").is_hidden()

        session = page.context.new_cdp_session(page)
        session.send("Emulation.setFocusEmulationEnabled", {"enabled": False})
        other = page.context.new_page()
        other.bring_to_front()

        page.wait_for_function("!document.getElementById('deaf').hidden", timeout=10_000)
        assert "NOT LISTENING" in page.locator("#deaf").inner_text()
        size = page.evaluate("parseFloat(getComputedStyle(document.querySelector('#deaf b')).fontSize)")
        assert size >= 60
        other.close()
        page.bring_to_front()
        session.send("Emulation.setFocusEmulationEnabled", {"enabled": True})
        page.locator("#deaf").wait_for(state="hidden")


def test_a_finger_that_slides_fires_nothing(chromium: Browser) -> None:
    """A touch counts only if it ends where it began."""
    with evening() as house:
        page = opened(chromium, house, "tablet")
        hand, (x, y) = Hand(page), middle(page, "#next")

        hand.moves(("touchStart", [(x, y)]), ("touchMove", [(x - 10, y)]), ("touchMove", [(x + 10, y + 20)]))
        hand.moves(("touchEnd", []))

        stays(page, house)
        hand.moves(("touchStart", [(x, y)]), ("touchMove", [(x + 3, y)]), ("touchEnd", []))
        until(lambda: house.place == Place(Part.SET, 0, 0))


def test_two_fingers_or_a_palm_fire_nothing(chromium: Browser) -> None:
    """A hand that steadies the tablet is no step."""
    with evening() as house:
        page = opened(chromium, house, "tablet")
        hand, (x, y) = Hand(page), middle(page, "#next")

        hand.moves(("touchStart", [(x, y)]), ("touchStart", [(x, y), (x - 300, y - 200)]), ("touchEnd", []))

        stays(page, house)


def test_a_hand_that_rests_fires_nothing(chromium: Browser) -> None:
    """Nobody means a step by lying on it."""
    with evening() as house:
        page = opened(chromium, house, "tablet")
        hand, spot = Hand(page), middle(page, "#next")

        hand.moves(("touchStart", [spot]))
        page.wait_for_timeout(1700)
        hand.moves(("touchEnd", []))

        stays(page, house)


def test_a_first_touch_is_forgotten(chromium: Browser) -> None:
    """What is asked once is not asked for ever: a touch much later begins anew."""
    with evening() as house:
        page = opened(chromium, house, "tablet")
        touch(page, "#safe")
        page.locator("#safe .again").wait_for(state="visible")

        page.locator("#safe .again").wait_for(state="hidden", timeout=10_000)
        touch(page, "#safe")

        stays(page, house)


def test_a_unit_is_out_tonight_by_two_touches(chromium: Browser) -> None:
    """A dead unit in the middle of a set: its part is played without it from here, and can be taken back."""
    with evening() as house:
        page = opened(chromium, house, "tablet")
        dialog(page, "tonight")
        touch(page, "[data-verb=out][data-unit='drive, soft']", times=2)

        until(lambda: house.snapshot.tonight.out == {"drive, soft"})
        shows(page, "drive, soft – out", "#tonight")
        touch(page, "[data-verb=in][data-unit='drive, soft']", times=2)

        until(lambda: not house.snapshot.tonight.out)
        touch(page, "[data-verb='deaf from here'][data-unit='multi-effects, large']", times=2)
        until(lambda: "multi-effects, large" in house.snapshot.tonight.deaf)


def test_a_song_has_another_tempo_and_a_verse_less(chromium: Browser) -> None:
    """What is typed stays while the gig goes on, and a cut part is struck out of the form."""
    with evening() as house:
        page = opened(chromium, house)
        house.go(4, 0)
        shows(page, "Winch song", "h1")
        dialog(page, "tonight")
        page.fill("#song-text", "104")
        house.go(4, 1)
        shows(page, "shout", "#now")
        assert page.input_value("#song-text") == "104"
        for selector in ("#tempo", "#cut-4"):
            page.click(selector)
            page.wait_for_timeout(300)
            page.click(selector)

        until(lambda: Place(Part.SET, 4, 3) in house.snapshot.tonight.cut)
        assert dict(house.snapshot.tonight.tempos) == {Place(Part.SET, 4, 0): 104.0}
        page.click("#close-tonight")
        shows(page, "♩ 104", "header")
        assert "slip, 8 bars, cut tonight" in page.locator(".strip .cut").inner_text()


def test_a_refusal_is_one_sentence(chromium: Browser) -> None:
    """The page says why, and stays as it was."""
    with evening() as house:
        page = opened(chromium, house)
        dialog(page, "tonight")
        page.fill("#song-text", "very fast")
        page.click("#tempo")
        page.wait_for_timeout(300)
        page.click("#tempo")

        shows(page, "Not done: 'very fast' is no tempo", "#told")
        assert not house.snapshot.tonight.tempos


def test_what_takes_long_is_said_to_be_under_way(chromium: Browser) -> None:
    """A change for tonight may be worked out for a while: the page says so, and stops saying it."""
    with evening() as house:
        page = opened(chromium, house)
        answer = {
            "status": 202,
            "content_type": "application/json",
            "body": '{"unfinished": "Still being worked out."}',
        }
        page.route("**/api/act", lambda route: route.fulfill(**answer))

        page.keyboard.press("a")
        shows(page, "Still being worked out.", "#told")
        house.go(4, 3)

        page.locator("#told").wait_for(state="hidden")
