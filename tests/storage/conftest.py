"""What tests of storage ask for: libraries as real files, empty or full."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from scenebook.model import Library
from scenebook.storage import Store, create_library, open_library
from tests.storage.filling import fill
from tests.storage.full import full_library


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give an empty library, made once, to be copied."""
    path = tmp_path_factory.mktemp("empty") / "empty.scenebook"
    create_library(path)
    return path


@pytest.fixture
def path(empty_file: Path, tmp_path: Path) -> Path:
    """Give an empty library of the test's own."""
    copy = tmp_path / "library.scenebook"
    copy.write_bytes(empty_file.read_bytes())
    return copy


@pytest.fixture
def library() -> Library:
    """Give the library in which no field holds its default."""
    return full_library()


@pytest.fixture
def store(path: Path, library: Library) -> Iterator[Store]:
    """Give an open store that holds the full library."""
    with open_library(path) as opened:
        fill(opened, library)
        yield opened
