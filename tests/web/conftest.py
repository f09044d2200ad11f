"""One browser for all tests of a process that need one."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.web.browser import FAULTS, browser


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Chromium, as Debian has it; tests that use it bear the marker `browser`."""
    with browser() as made:
        yield made


@pytest.fixture
def faultless() -> Iterator[None]:
    """Fail the test if a page's script failed, or if it tried what its policy forbids."""
    FAULTS.clear()
    yield
    assert FAULTS == []
