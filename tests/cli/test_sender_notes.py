"""What other commands say of a rig whose messages a unit of the rig stores and sends itself."""

import json
from pathlib import Path

from tests.support.terminal import typed

GIG, RIG = "Pell Quay hall", "fly board, foot controller"
NOTE = (
    "What goes to fly is stored in foot controller, programmable, which sends it when its lists are pressed: "
    f'scenebook rig sender "{RIG}" --gig "{GIG}" tells them'
)


def test_compile_says_which_messages_the_sender_has(demo: Path) -> None:
    """Who plays them from a computer as well would send everything twice."""
    of_sender = typed("compile", GIG, "--rig", RIG, "--json")
    of_laptop = typed("compile", GIG, "--json")

    assert json.loads(of_sender.out)["warnings"][0] == NOTE
    assert NOTE.split(":")[0] in " ".join(typed("compile", GIG, "--rig", RIG).out.split())
    assert not any("is stored in" in text for text in json.loads(of_laptop.out)["warnings"])


def test_export_says_so_below_the_files(demo: Path, tmp_path: Path) -> None:
    """In words and as JSON; a rig without a sender has nothing to say."""
    printed = typed("export", GIG, "--rig", RIG, "--to", str(tmp_path / "x"))
    as_json = typed("export", GIG, "--rig", RIG, "--to", str(tmp_path / "x"), "--json")
    of_laptop = typed("export", GIG, "--to", str(tmp_path / "y"), "--json")

    assert NOTE in printed.out.splitlines()
    assert json.loads(as_json.out)["note"] == NOTE
    assert json.loads(of_laptop.out)["note"] == ""
