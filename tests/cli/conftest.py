"""What tests of the command ask for: a library of their own, empty or with the demo in it."""

import shutil
from pathlib import Path

import pytest

from tests.support.checkout import ROOT
from tests.support.terminal import typed


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a library with the demo in it, to be copied and never changed."""
    path = tmp_path_factory.mktemp("demo") / "library.scenebook"
    assert typed("library", "create", "--library", str(path)).code == 0
    assert typed("library", "import", str(ROOT / "demo_library"), "--library", str(path)).code == 0
    return path


@pytest.fixture
def demo(demo_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give this test's own library with the demo in it; every command finds it."""
    path = tmp_path / "demo.scenebook"
    shutil.copy(demo_file, path)
    monkeypatch.setenv("SCENEBOOK_LIBRARY", str(path))
    return path


@pytest.fixture
def empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give an empty library; every command finds it."""
    path = tmp_path / "empty.scenebook"
    monkeypatch.setenv("SCENEBOOK_LIBRARY", str(path))
    assert typed("library", "create").code == 0
    return path
