"""A gig is run from the page, in a real browser: by keys, by touch, by numbers, on two screens at once."""

import pytest
from playwright.sync_api import Browser, Page

from scenebook.live.acts import Verb
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.snapshot import Role
from scenebook.web.keys import Right
from tests.web.browser import TARGET_PX, dialog, opened, shows, touch
from tests.web.evening import Evening, evening
from tests.web.support import until

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("faultless")]


def stands(house: Evening, place: Place) -> None:
    until(lambda: house.place == place)


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def song(page: Page) -> str:
    return page.locator("h1").inner_text()


def test_a_whole_gig_is_played_by_keys(chromium: Browser) -> None:
    """A page-turner pedal is a keyboard with two keys; from home to the last cue it needs no more."""
    with evening() as house:
        page, steps = opened(chromium, house), house.snapshot.programme.steps
        shows(page, "Before the first song")
        keys = ["PageDown", "ArrowRight", " "]

        for number, step in enumerate(steps[1:]):
            page.keyboard.press(keys[number % 3])
            stands(house, step.place)
            assert house.snapshot.sent.by == "key"

        shows(page, "The end")
        assert song(page) == f"{len(house.library.gigs[house.gig].entries)} {steps[-1].lean.song}"
        page.keyboard.press("PageDown")
        shows(page, "Not done: This is the last cue of the gig")
        press(page, "PageUp", "ArrowLeft")
        stands(house, steps[-3].place)


def test_a_set_is_played_by_touch(chromium: Browser) -> None:
    """The page is turned at its corners, as paper is."""
    with evening() as house:
        page, steps = opened(chromium, house, "tablet"), house.snapshot.programme.steps

        for step in steps[1:20]:
            page.locator("#next").tap()
            stands(house, step.place)
        assert house.snapshot.sent.by == "touch"
        page.locator("#back").tap()
        stands(house, steps[18].place)
        shows(page, steps[18].lean.song, "h1")


def test_two_pages_stay_in_step(chromium: Browser) -> None:
    """The player's own page, and one for whoever stands at the side: whichever steps, both show it."""
    with evening() as house:
        one, other = opened(chromium, house), opened(chromium, house, "phone", "dark")
        tech = opened(chromium, house, path="/tech", right=Right.SEE)

        one.keyboard.press("PageDown")
        for page in (one, other):
            shows(page, "Lamp room", "h1")
        other.locator("#next").tap()
        shows(one, "verse", "#now")
        shows(other, "verse", "#now")
        shows(tech, "Lamp room stands now", ".order .now")
        shows(tech, "next by touch: Lamp room, verse", "table")


def test_a_reload_shows_where_the_gig_stands(chromium: Browser) -> None:
    """The page owns nothing: a browser that is closed in between has lost nothing."""
    with evening() as house:
        page = opened(chromium, house)
        house.go(4, 3)
        shows(page, "Winch song", "h1")

        page.reload()

        shows(page, "Winch song", "h1")
        shows(page, "slip", "#now")
        assert page.locator(".strip [aria-current]").inner_text().startswith("D, slip, 8 bars, stands now")


def test_a_jump_by_number_asks_once(chromium: Browser) -> None:
    """A digit brushed by a sleeve does nothing; a song's number and Enter twice goes there."""
    with evening() as house:
        page = opened(chromium, house)
        shows(page, "Before the first song")

        press(page, "1", "4", "Enter")
        shows(page, "Go to 14: Wrack line walking", "#asked")
        assert house.place == HOME
        press(page, "Enter")
        stands(house, Place(Part.SET, 13, 0))
        press(page, "c", "2", "8", "Enter")
        shows(page, "Go to 28: Winch song, slip", "#asked")
        press(page, "Escape")
        page.locator("#asked").wait_for(state="hidden")
        press(page, "Enter")
        press(page, "9", "9", "Enter")
        shows(page, "The gig has no song 99", "#asked")
        assert house.place == Place(Part.SET, 13, 0)


def test_a_step_takes_back_a_jump_that_was_begun(chromium: Browser) -> None:
    """Whoever turns the page has changed their mind."""
    with evening() as house:
        page = opened(chromium, house)
        press(page, "1", "4", "Enter")
        shows(page, "Go to 14", "#asked")

        press(page, "PageDown", "Enter")

        stands(house, Place(Part.SET, 0, 0))
        page.wait_for_timeout(200)
        assert house.place == Place(Part.SET, 0, 0)


def test_safe_again_and_resume_have_keys_of_their_own(chromium: Browser) -> None:
    """What is needed in a hurry is one key; back into the set is asked once."""
    with evening() as house:
        page = opened(chromium, house)
        house.go(4, 3)
        press(page, "s")
        stands(house, SAFE)
        shows(page, "the quiet state", "#now")
        shows(page, "The set was left at 5 Winch song D")
        press(page, "r", "Enter")
        stands(house, Place(Part.SET, 4, 3))

        press(page, "a")

        until(lambda: [each["verb"] for each in house.journal if each["kind"] == "step"][-1] == "send again")


def test_a_jump_and_safe_take_two_touches(chromium: Browser) -> None:
    """The first touch says what the second will do; left alone it is taken back."""
    with evening() as house:
        page = opened(chromium, house, "phone")
        touch(page, "#safe")
        shows(page, "touch again", "#safe")
        assert house.place == HOME
        touch(page, "#safe")
        stands(house, SAFE)

        page.locator("#open-go").tap()
        touch(page, "#song-set-7-0")
        assert house.place == SAFE
        touch(page, "#song-set-7-0")

        stands(house, Place(Part.SET, 7, 0))
        page.locator("#go").wait_for(state="hidden")


def test_a_stand_that_follows_takes_over_from_its_notice(chromium: Browser) -> None:
    """The first laptop is dead in the middle of a song: nobody looks through a sheet for the way to go on."""
    with evening() as house:
        house.act(Verb.YIELD)
        page = opened(chromium, house, "phone")
        box = page.locator("#take-now").bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= TARGET_PX - 0.5
        touch(page, "#take-now")
        shows(page, "Take over touch again", "#take-now")
        assert house.snapshot.role is Role.FOLLOWING
        touch(page, "#take-now")
        until(lambda: house.snapshot.role is Role.CALLING)
        page.locator("#take-now").wait_for(state="detached")

        press(page, "t")
        assert page.locator("#asked").is_hidden()
        house.act(Verb.YIELD)
        page.locator("#take-now").wait_for()
        press(page, "t")
        shows(page, "Take over: this stand sends from now on", "#asked")
        press(page, "Escape", "Enter", "t", "Enter")
        until(lambda: house.snapshot.role is Role.CALLING)


def test_only_a_page_that_may_step_can(chromium: Browser) -> None:
    """Any number of screens follow; a key on one of them is nothing."""
    with evening() as house:
        page = opened(chromium, house, right=Right.SEE)
        shows(page, "This page only looks on")

        press(page, "PageDown", "s", "1", "Enter", "Enter")

        page.wait_for_timeout(300)
        assert house.place == HOME
        assert page.locator("#next, #back, #safe, dialog").count() == 0
        assert page.locator("#asked").is_hidden()


def test_a_held_key_steps_once(chromium: Browser) -> None:
    """A pedal that is stood on repeats its key thirty times a second."""
    with evening() as house:
        page = opened(chromium, house)
        shows(page, "Before the first song")

        for _ in range(5):
            page.keyboard.down("PageDown")
        page.keyboard.up("PageDown")

        stands(house, Place(Part.SET, 0, 0))
        page.wait_for_timeout(300)
        assert house.place == Place(Part.SET, 0, 0)


def test_the_space_bar_turns_the_page_after_a_click(chromium: Browser) -> None:
    """A button that was clicked must not be what the space bar presses next."""
    with evening() as house:
        page = opened(chromium, house)
        page.locator("#again").click()
        until(lambda: house.journal.kinds().count("step") == 1)

        press(page, " ")

        stands(house, Place(Part.SET, 0, 0))
        dialog(page, "go")
        page.keyboard.press("Escape")
        page.locator("#go").wait_for(state="hidden")


def test_the_look_is_chosen_by_hand_and_kept(chromium: Browser) -> None:
    """The system may say day while the stage is dark; what was chosen outlasts a reload."""
    with evening() as house:
        page = opened(chromium, house)
        ground = "getComputedStyle(document.body).backgroundColor"
        dialog(page, "tonight")
        day = page.evaluate(ground)
        page.click("#look")
        shows(page, "Look: paper", "#look")
        assert page.evaluate(ground) == day

        page.click("#look")
        shows(page, "Look: night", "#look")
        page.reload()

        shows(page, "Before the first song")
        assert page.evaluate(ground) == "rgb(23, 20, 15)"


def test_a_line_check_is_walked_from_the_page(chromium: Browser) -> None:
    """Begun by two touches, walked by the same key as the gig, ended where it was begun."""
    with evening() as house:
        page = opened(chromium, house)
        dialog(page, "go")
        for _ in range(2):
            page.click("#line-check")
            page.wait_for_timeout(300)
        shows(page, "Line check of")
        page.keyboard.press("PageDown")
        shows(page, "Line check, 1 of")
        page.locator(".alerts").filter(has_text="sounds: ").wait_for(state="visible")

        for _ in range(2):
            page.click("#end-check")
            page.wait_for_timeout(300)

        until(lambda: house.snapshot.checking is None)
        stands(house, HOME)
