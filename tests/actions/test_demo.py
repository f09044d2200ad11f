"""The demo's library is whole or not there."""

from pathlib import Path

import pytest

from scenebook.actions.demo import run_demo
from scenebook.actions.libraries import create
from scenebook.errors import OutputError


def test_a_demo_that_was_stopped_half_way_is_begun_again(tmp_path: Path) -> None:
    """Power goes at the worst moment; what is left behind must not count as an earlier demo."""
    create(tmp_path / "library.part.scenebook")

    done = run_demo(tmp_path)

    assert done.ok
    assert not done.kept
    assert sorted(path.name for path in tmp_path.iterdir()) == ["library.scenebook", "messages", "sheet.pdf"]


def test_a_folder_with_other_things_in_it_is_left_alone(tmp_path: Path) -> None:
    """A demo writes many files; none may land among somebody's own."""
    (tmp_path / "setlist.txt").write_text("mine", encoding="utf-8")

    with pytest.raises(OutputError, match="something else here already"):
        run_demo(tmp_path)
