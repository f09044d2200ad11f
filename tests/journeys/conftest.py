"""What every story begins with."""

from pathlib import Path

import pytest

from tests.support.player import Player


@pytest.fixture
def player(tmp_path: Path) -> Player:
    """Give a player in an empty folder."""
    return Player(tmp_path)
