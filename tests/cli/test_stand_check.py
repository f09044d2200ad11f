"""The line check by the real command: walked through, killed in the middle, gone on with, and back to the gig."""

import os
from pathlib import Path
from typing import Any

import pytest

from tests.support.stand_process import StandProcess

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")


@pytest.fixture(autouse=True)
def no_midi(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no MIDI port of this machine be found."""
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "scenebook-no-such-server")


def scenes(state: dict[str, Any]) -> tuple[str, str]:
    """Return what stands and what comes."""
    return state["cue"]["scene"], state["ahead"]["scene"]


def test_a_line_check_outlives_the_laptop(demo: Path) -> None:
    """It crashes with the house waiting: the player goes on with the next of the four cues."""
    with StandProcess(demo, "Tallow") as stand:
        stand.act("line check")
        begun = scenes(stand.wait(lambda state: state["ahead"]["scene"] == "out"))
        first = scenes(stand.act("next"))
        stand.kill()
    with StandProcess(demo, "Tallow") as stand:
        again = scenes(stand.state())
        rest = [scenes(stand.act("next")) for _ in range(4)]

    assert [begun, first, again] == [("home", "out"), ("out", "storm"), ("out", "storm")]
    assert rest[:3] == [("storm", "last bell"), ("last bell", "both"), ("both", "home")]
    assert rest[3][0] == "home"
