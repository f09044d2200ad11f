"""A whole evening on stage: from the demo to a running stand, through a crash, to what is kept afterwards."""

import re

import pytest

from tests.support.far_end import Box, Pedal
from tests.support.jack import JackServer
from tests.support.player import Player
from tests.support.stand_process import StandProcess

GIG = "Pell Quay hall"
PRESS, RELEASE = "BF 40 7F", "BF 40 00"  # controller 64 on channel 16, as the hall board's steps say


def expected(player: Player, number: int, port: str, *, full: bool = False) -> list[str]:
    """Return what a cue sends to a port of the rig, by the compiler's own list."""
    cues = player.asks("compile", GIG, *(["--full"] if full else []))["cues"]
    sent = [move for move in cues[number]["moves"] if move["do"] == "message" and move["port"] == port]
    return [move["bytes"] for move in sorted(sent, key=lambda move: move["ms"])]


@pytest.mark.jack
def test_an_evening_from_the_demo_to_what_is_kept(player: Player, jack: JackServer) -> None:
    """Demo, stand, steps by key and by footswitch, a unit that fails, SIGKILL, the same cue again, the log, the gig."""
    player.types("demo", "--to", "first-look")
    player.library = player.folder / "first-look" / "library.scenebook"
    front, wet, pedal = Box("front box"), Box("wet box"), Pedal("footswitch")
    ports = ("--port", "front=front box", "--port", "wet=wet box", "--listen", "footswitch")
    try:
        with StandProcess(player.library, "Pell", *ports) as stand:
            assert "Port front: front box" in stand.said
            stand.wait(lambda state: all(each["state"] == "there" for each in state["ports"]))
            assert front.take([], 0.2) == []  # nothing is sent before somebody asks
            stand.act("send again")
            full = expected(player, 0, "front", full=True)
            assert front.take(full) == full
            stand.act("next")
            first = expected(player, 1, "front")
            assert front.take(first) == first
            pedal.send(PRESS)
            pedal.send(RELEASE)
            stand.wait(lambda state: state["cue"]["number"] == 2)
            second = expected(player, 2, "front")
            assert front.take(second) == second
            stand.act("out", unit="ring modulator")
            before = stand.wait(lambda state: state["tonight"]["out"] == ["ring modulator"])
            stand.wait(lambda state: state["sent"]["done"])
            stand.kill()
        front.take([], 0.5)
        wet.take([], 0.1)

        with StandProcess(player.library, "Pell", *ports) as stand:
            assert "Going on where this gig was cut off" in stand.said
            assert stand.state()["cue"] == before["cue"]
            stand.wait(lambda state: all(each["state"] == "there" for each in state["ports"]))
            assert front.take([], 0.2) == []
            stand.act("send again")
            again = expected(player, 2, "front", full=True)
            assert front.take(again) == again
            assert stand.end()[0] == 0
    finally:
        for far in (front, wet, pedal):
            far.stop()

    told = player.types("gig", "log", "Pell")
    assert re.search(r"next by key: Lamp room, drone; lean to front, wet\n +sent, (front|wet): ", told)
    assert "next by footswitch controller 64" in told
    assert "ring modulator out" in told
    assert "begun again: it had been cut off" in told
    kept = player.types("gig", "log", "Pell", "--keep")
    assert kept.startswith(f"Kept in {GIG}: what is out.")
    assert "Out: ring modulator" in player.types("gig", "show", "Pell")
    assert "Proved" in player.types("verify", "Pell")
    player.types("library", "undo")
    assert "Out:" not in player.types("gig", "show", "Pell")
