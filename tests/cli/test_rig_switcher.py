"""What a player types to find out what belongs in a switcher's loops, and to keep it."""

import json
from pathlib import Path

from tests.support.terminal import typed


def test_a_chosen_rig_gets_the_loops_of_its_switcher(demo: Path) -> None:
    """Choosing says that it holds none yet; the next command says which unit in which, and stores that."""
    chosen = typed("rig", "choose", "--max", "units=7", "--must", "loop switcher", "--name", "chosen")
    said = typed("rig", "switcher", "chosen")
    found = json.loads(typed("rig", "switcher", "chosen", "--name", "wired", "--json").out)
    wired = json.loads(typed("rig", "show", "wired", "--json").out)
    again = json.loads(typed("rig", "switcher", "wired", "--json").out)

    assert "'loop switcher' holds no loops yet: scenebook rig switcher chosen --name NEW says which" in chosen.out
    assert said.out.splitlines()[1].startswith("Today it holds no loops: ")
    assert "To store it: --name NEW; or in the rig's file" in said.out
    assert (found["name"], found["today"], wired["loops"]) == ("wired", {}, {"loop switcher": found["best"]})
    assert "loop switcher" not in wired["chain"]
    assert again["today"] == found["best"]
    assert again["presses"]["today"] == found["presses"]["best"]
    assert found["presses"]["best"]["inside"] < found["presses"]["today"]["inside"]


def test_the_printed_lines_can_be_written_into_the_file_of_the_rig(demo: Path, tmp_path: Path) -> None:
    """Names with a comma in them are quoted, so that they stay one name."""
    typed("rig", "choose", "--max", "units=7", "--must", "loop switcher", "--name", "chosen")
    typed("library", "export", str(tmp_path / "files"))
    printed = typed("rig", "switcher", "chosen").out.splitlines()
    lines = [line[2:] for line in printed[printed.index("  loops:") :]]
    file = tmp_path / "files/rigs/chosen.yaml"
    file.write_text(file.read_text(encoding="utf-8") + "\n".join(lines) + "\n", encoding="utf-8")

    taken = typed("library", "import", str(tmp_path / "files"))

    found = json.loads(typed("rig", "switcher", "chosen", "--json").out)
    assert taken.code == 0
    assert found["today"] == found["best"] != {}


def test_nothing_is_stored_where_the_loops_are_todays(demo: Path) -> None:
    """A copy of a rig under another name would only mislead."""
    printed = typed("rig", "switcher", "hall board", "--name", "same")

    assert "Nothing is stored as 'same': the loops are today's." in printed.out
    assert typed("rig", "show", "same").code == 2


def test_a_rig_that_cannot_be_wired_is_told_so_wherever_its_leads_matter(demo: Path, tmp_path: Path) -> None:
    """Somebody took the fuzz out of its loop, which stands between two others."""
    typed("library", "export", str(tmp_path / "files"))
    file = tmp_path / "files/rigs/hall-board.yaml"
    said = file.read_text(encoding="utf-8")
    file.write_text(said.replace('    loop 2: ["fuzz, silicon"]\n', "    loop 2: []\n"), encoding="utf-8")
    assert file.read_text(encoding="utf-8") != said
    assert typed("library", "import", str(tmp_path / "files")).code == 0
    why = "'fuzz, silicon' stands between two of its loops and in none"

    printed = [
        typed("rig", command, "hall board", *more).out
        for command, *more in (("reach",), ("board", "--board", "1200x600"), ("switcher",))
    ]
    packed = json.loads(typed("rig", "pack", "hall board", "--json").out)

    assert all(why in out for out in printed)
    assert why in packed["cannot_be_wired"][0]
    assert not [join for each in packed["if_it_dies"] for join in each["join"] if join["lines"] == "signal"]
    assert "Best that can be wired: " in printed[-1]
