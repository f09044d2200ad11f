"""What README tells a newcomer to type works as it stands there."""

import re
import shlex

from tests.support.checkout import ROOT
from tests.support.player import Player


def test_the_way_from_nothing_to_a_proven_gig_is_as_readme_says(player: Player) -> None:
    """A newcomer who copies line after line must not be stopped by one of them."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text.split("## From nothing to a proven gig", 1)[1].split("\n## ", 1)[0]
    commands = [shlex.split(line) for line in section.splitlines() if line.startswith("    scenebook ")]
    assert len(commands) > 10

    printed = {" ".join(command[1:3]): player.types(*command[1:]) for command in commands}

    assert "Proved: Net loft" in printed["verify Net loft"]
    assert (player.folder / "net-loft.pdf").read_bytes().startswith(b"%PDF-")


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
