"""House sounds, spare songs and any scene of the gig are reached by name where one cue is to be sent."""

from pathlib import Path

import pytest

from scenebook.actions.compiling import compiled
from scenebook.actions.cue_names import HOUSE, SPARE, find_cue
from scenebook.cueing.cues import CueList
from scenebook.errors import UnknownNameError
from scenebook.midi import PortInfo, loopback_pair
from tests.support.terminal import typed


@pytest.fixture(scope="module")
def pell(demo_file: Path) -> CueList:
    """Give the full list of a gig that has spare songs and house sounds."""
    return compiled(demo_file, "Pell", full=True)


@pytest.mark.parametrize(
    ("text", "part", "song", "scene"),
    [
        ("0", "", "", "home"),
        ("home", "", "", "home"),
        ("Clean", HOUSE, "House sounds", "clean"),
        ("cl", HOUSE, "House sounds", "clean"),
        ("house sounds/big", HOUSE, "House sounds", "big"),
        ("Limpet", SPARE, "Limpet", "stuck"),
        ("limp", SPARE, "Limpet", "stuck"),
        ("Limpet/unst", SPARE, "Limpet", "unstuck"),
        ("slow hand, low water/low", SPARE, "Slow hand, low water", "low"),
        ("Winch/sh", "", "Winch song", "shout"),
    ],
)
def test_a_cue_is_found_by_its_name(pell: CueList, text: str, part: str, song: str, scene: str) -> None:
    """A request from the floor, or a line check: nobody counts cues then."""
    found = find_cue(pell, text)

    assert (found.part, found.cue.song, found.cue.scene) == (part, song, scene)


def test_a_scene_that_is_played_often_is_its_first_cue(pell: CueList) -> None:
    """A full cue is the same each time, so the first serves."""
    number = next(cue.number for cue in pell.cues if (cue.song, cue.scene) == ("Winch song", "haul"))

    assert find_cue(pell, "Winch song/haul").cue.number == number


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("nosuch", ["there is no cue 'nosuch'", "0 (home) to 132", "a house sound ('clean'", "a spare song ('Limpet'"]),
        ("Limpit", ["Did you mean 'Limpet'?"]),
        ("Limpet/nosuch", ["SONG/SCENE"]),
        ("Winch/", ["could be more than one", "'Winch song/haul'"]),
        ("", ["there is no cue ''"]),
    ],
)
def test_a_name_that_fits_none_or_several_says_what_is_accepted(pell: CueList, text: str, words: list[str]) -> None:
    """What may be typed stands in the refusal."""
    with pytest.raises(UnknownNameError) as caught:
        find_cue(pell, text)

    assert [word for word in words if word not in str(caught.value)] == []


def test_the_listing_says_how_spare_songs_and_house_sounds_are_named(demo: Path) -> None:
    """Their cues have numbers of their own, which `send` would take for those of the sets."""
    lines = typed("compile", "Pell").out.splitlines()

    assert lines[lines.index("spare song Limpet") + 1] == '      send it as "Limpet", or as "Limpet/SCENE"'
    assert lines[lines.index("house sounds House sounds") + 1].startswith('      send one by its scene: "')


def test_the_loopback_is_no_place_to_send_to(demo: Path) -> None:
    """It is there for proofs alone; the refusal says what to do instead."""
    printed = typed("send", "Pell", "clean", "--port", "front=built-in loopback", "--port", "wet=loopback")

    assert (printed.code, printed.out) == (2, "")
    assert "the built-in loopback is for proofs, and no unit hears it. Connect a MIDI interface" in printed.err
    assert "scenebook verify" in printed.err


def test_a_cue_that_was_sent_names_the_preset_to_look_for(empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a foot recalls, the player looks at the display."""
    for command in (
        ["unit", "add", "multi", "--always-on", "--switch", "boost", "--programs", "8", "--preset", "2=dark: boost=on"],
        ["unit", "add", "echo", "--controller", "80"],
        ["rig", "add", "board", "multi", "echo@main:1"],
        ["song", "add", "Tin"],
        ["scene", "set", "Tin", "verse", "multi=2", "echo=on"],
        ["gig", "add", "Tin night", "--rig", "board"],
        ["gig", "order", "Tin night", "Tin"],
    ):
        assert typed(*command).code == 0, command
    # No machine that tests run on is sure to have a port: the loopback stands in for one.
    monkeypatch.setattr("scenebook.actions.sending.ports", lambda: [PortInfo("interface", "out", "system")])
    monkeypatch.setattr("scenebook.actions.sending.open_output", lambda _: loopback_pair()[0])

    printed = typed("send", "Tin night", "Tin/verse")

    assert printed.code == 0, printed
    assert printed.out.startswith("Sent cue 1 (Tin, verse): 1 message, 3 bytes")
    assert "  multi  preset  2 dark" in printed.out.splitlines()


def test_both_ways_of_a_port_are_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """An interface has an output and an input of one name."""
    found = [PortInfo("interface", "out", "ALSA"), PortInfo("interface", "in", "ALSA"), PortInfo("keys", "in", "ALSA")]
    monkeypatch.setattr("scenebook.actions.sending.ports", lambda: found)

    assert typed("ports").out.splitlines() == [
        "to send to and read from  interface  ALSA",
        "to read from              keys       ALSA",
    ]
