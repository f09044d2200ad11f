"""A real browser for the stand: Chromium as Debian has it, three sizes, two looks, a new profile each time."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from scenebook.web.keys import Right
from tests.web.evening import Evening
from tests.web.support import until

__all__ = ["FAULTS", "LOOKS", "SIZES", "TARGET_PX", "browser", "dialog", "fresh", "opened", "shows", "touch"]

SIZES = {"phone": (390, 844), "tablet": (820, 1180), "laptop": (1280, 800)}
LOOKS = ("light", "dark")
FAULTS: list[str] = []
TARGET_PX = 12 / 25.4 * 96  # 12 mm; CSS has 96 px to the inch
_ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def browser() -> Iterator[Browser]:
    """Run a browser."""
    with sync_playwright() as driver:
        made = driver.chromium.launch(executable_path=shutil.which("chromium"), args=_ARGUMENTS)
        try:
            yield made
        finally:
            made.close()


def fresh(
    made: Browser, evening: Evening, size: str = "laptop", look: str = "light", right: Right | None = Right.STEP
) -> BrowserContext:
    """Return a new profile that has opened the stand; phone and tablet are touched."""
    width, height = SIZES[size]
    said: dict[str, Any] = {"viewport": {"width": width, "height": height}, "color_scheme": look}
    context = made.new_context(**said, has_touch=size != "laptop")
    if right is not None:
        context.add_cookies([evening.cookie(right)])  # type: ignore[list-item]
    return context


def opened(
    made: Browser,
    evening: Evening,
    size: str = "laptop",
    look: str = "light",
    *,
    right: Right | None = Right.STEP,
    path: str = "/",
) -> Page:
    """Return a page of the stand in a new profile; what its script does wrong, or the policy forbids, is a fault."""
    page = fresh(made, evening, size, look, right).new_page()
    page.on("pageerror", lambda error: FAULTS.append(str(error)))
    page.on("console", lambda said: FAULTS.append(said.text) if _is_forbidden(said.text) else None)
    page.goto(evening.serving.address(path))
    return page


def _is_forbidden(words: str) -> bool:
    return "Content Security Policy" in words or "Refused to" in words


def shows(page: Page, words: str, within: str = "body") -> None:
    """Wait until the page shows something."""
    page.locator(within).filter(has_text=words).first.wait_for(state="visible", timeout=10_000)


def touch(page: Page, selector: str, *, times: int = 1) -> None:
    """Touch something with a finger, twice where the page asks once; a bounce is no second touch."""
    for _ in range(times):
        page.locator(selector).tap()
        page.wait_for_timeout(300)


def dialog(page: Page, name: str) -> None:
    """Open one of the sheets over the page."""
    page.locator(f"#open-{name}").click()
    until(lambda: page.locator(f"#{name}").is_visible())
