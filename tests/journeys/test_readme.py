"""What README tells a newcomer to type works as it stands there."""

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
