"""The first thing that anybody does: `scenebook demo`."""

import json
import re

import pytest

from scenebook.midi import read_smf
from tests.support.player import Player
from tests.support.terminal import contents, typed_in_a_process


def test_the_demo_does_the_whole_job_and_says_what_was_proved(player: Player) -> None:
    """A library, a compiled gig, two proofs, a sheet, the messages; and where they lie."""
    printed = player.types("demo", "--to", "look")

    folder = player.folder / "look"
    proved = re.findall(r"^Proved: Pell Quay hall on hall board, (lean|full) list", printed, re.MULTILINE)
    assert proved == ["lean", "full"]
    assert (
        len(re.findall(r"^  156 cues, [\d,]+ messages, [\d,]+ bytes; [\d,]+ comparisons", printed, re.MULTILINE)) == 2
    )
    assert (
        len(re.findall(r"^  through the (?:system port by \w+|built-in loopback \(.+\))$", printed, re.MULTILINE)) == 2
    )
    assert (
        len(re.findall(r"^  worked by hand or foot, so not proved: \d+ members of \d+ units$", printed, re.MULTILINE))
        == 2
    )
    assert "Everything lies in look" in printed
    assert (folder / "sheet.pdf").read_bytes().startswith(b"%PDF-")
    messages = folder / "messages"
    assert read_smf(messages / "pell-quay-hall-front.mid").format == 1
    assert json.loads((messages / "pell-quay-hall-lean.json").read_text(encoding="utf-8"))["gig"] == "Pell Quay hall"
    assert (messages / "pell-quay-hall-full.csv").read_text(encoding="utf-8").startswith("part,cue,song,scene,")
    assert player.asks("gig", "list", "--library", "look/library.scenebook")[0]["name"] == "Pell Quay hall"


def test_the_demo_run_again_keeps_what_was_changed_since(player: Player) -> None:
    """Whoever plays with the demo library finds it again as it was left."""
    player.types("demo", "--to", "look")
    at = ["--library", "look/library.scenebook"]
    player.types("scene", "set", "Limpet", "stuck", "octave down=on", *at)
    before = contents(player.folder / "look" / "library.scenebook")

    printed = player.types("demo", "--to", "look")

    assert printed.startswith("A demo was here before: its library is used as it stands")
    assert contents(player.folder / "look" / "library.scenebook") == before


def test_the_demo_needs_no_library_of_the_players_own(player: Player) -> None:
    """It never touches the library that a player has already."""
    player.types("library", "create")
    before = contents(player.library)

    player.types("demo")

    assert contents(player.library) == before
    assert (player.folder / "scenebook-demo" / "library.scenebook").is_file()


@pytest.mark.jack
@pytest.mark.usefixtures("jack")
def test_the_demo_is_proved_through_a_real_virtual_port(player: Player) -> None:
    """On a machine with MIDI nothing is proved by a shortcut."""
    done = typed_in_a_process("demo", "--json", cwd=player.folder)

    found = json.loads(done.out)
    assert done.code == 0, done
    assert [(proof["ok"], proof["port"]["kind"]) for proof in found["proofs"]] == [(True, "system port by JACK")] * 2
