"""The demo library, read once."""

import pytest

from scenebook.model import Library
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO


@pytest.fixture(scope="session")
def demo() -> Library:
    """Return the demo library as the tool reads it."""
    return read_folder(DEMO)[0]
