"""What README tells a newcomer to type works as it stands there."""

import re
import shlex

from tests.support.checkout import ROOT
from tests.support.player import Player
from tests.support.stand_process import StandProcess


def section(title: str) -> str:
    """Return a section of README."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return text.split(f"## {title}\n", 1)[1].split("\n## ", 1)[0]


def commands_in(title: str) -> list[list[str]]:
    """Return the commands of a section, split as a shell does."""
    return [shlex.split(line) for line in section(title).splitlines() if line.startswith("    scenebook ")]


def test_the_way_from_nothing_to_a_proven_gig_is_as_readme_says(player: Player) -> None:
    """A newcomer who copies line after line must not be stopped by one of them."""
    commands = commands_in("From nothing to a proven gig")
    assert len(commands) > 10

    printed = {" ".join(command[1:3]): player.types(*command[1:]) for command in commands}

    assert "Proved: Net loft" in printed["verify Net loft"]
    assert (player.folder / "net-loft.pdf").read_bytes().startswith(b"%PDF-")


def test_the_way_from_the_demo_to_a_running_stand_is_as_readme_says(player: Player) -> None:
    """Two lines, and the first song can be stepped."""
    demo, stand, with_ports = commands_in("On stage")
    player.types(*demo[1:])
    assert stand[3] == "--library"

    with StandProcess(player.folder / stand[4], *stand[2:3]) as running:
        state = running.act("next")

    assert state["cue"]["song"] == "Lamp room"
    assert [text.partition("=")[0] for text in with_ports if "=" in text] == ["front", "wet"]


def test_what_readme_says_of_a_rig_on_stage_is_taken(player: Player) -> None:
    """The lines can be copied into a rig's file."""
    said = section("On stage").split("```yaml\n", 1)[1].split("```", 1)[0]
    files = player.folder / "said"
    for kind in ("units", "rigs"):
        (files / kind).mkdir(parents=True)
    (files / "units" / "multi.yaml").write_text(
        "name: multi\nprograms: {count: 8, first: 1, settle_ms: 40}\npresets:\n  - {slot: 1, name: plain, stores: {}}\n"
    )
    rig = "name: board\nchain: [multi]\nunits:\n  multi: {port: front, channel: 1}\n"
    (files / "rigs" / "board.yaml").write_text(rig + said)
    player.types("library", "create")

    player.types("library", "import", "said")

    shown = player.asks("rig", "show", "board")
    assert shown["wires"]["front"]["midi"] == "interface 1"
    assert set(shown) >= {"wires", "steps", "playback", "safe"}


def test_what_readme_notes_of_a_unit_as_an_object_is_taken_in(player: Player) -> None:
    """A player who copies the lines of the table has a unit of which planning knows all that it asks for."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    table = text.split("| line in a unit's file |", 1)[1].split("\n\n", 1)[0]
    lines = [line for row in table.splitlines()[2:] for line in re.findall(r"`([^`]+)`", row.split("|")[1])]
    units = player.folder / "files" / "units"
    units.mkdir(parents=True)
    (units / "box.yaml").write_text("\n".join(["name: box", *lines]) + "\n", encoding="utf-8")
    player.types("library", "create")
    player.types("library", "import", "files")

    box = player.asks("unit", "show", "box")

    assert len(lines) > 10
    assert {line.split(":")[0] for line in lines} <= box.keys()
