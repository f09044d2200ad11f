"""The migrations and the demo library are found in a checkout and in an installed package."""

from pathlib import Path

import pytest

from scenebook import resources
from tests.support.checkout import ROOT


def test_in_a_checkout_both_folders_stand_at_the_top_level() -> None:
    """Whoever edits a revision or a demo song sees the change at once, without installing again."""
    assert resources.migrations_folder() == ROOT / "migrations"
    assert resources.demo_library_folder() == ROOT / "demo_library"


def test_an_installed_package_uses_its_own_copies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside an installed package a folder called `migrations` is somebody else's."""
    package = tmp_path / "scenebook"
    for folder in (package / "_migrations", package / "_demo_library", tmp_path / "migrations"):
        folder.mkdir(parents=True)
    monkeypatch.setattr(resources, "_PACKAGE", package)

    assert resources.migrations_folder() == package / "_migrations"
    assert resources.demo_library_folder() == package / "_demo_library"
