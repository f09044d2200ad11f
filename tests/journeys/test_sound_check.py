"""The hour before the doors: scenes are changed, a unit breaks, another is borrowed."""

from pathlib import Path

from tests.support.checkout import ROOT
from tests.support.player import Player


def test_a_sound_check_changes_scenes_and_the_lists_follow(player: Player) -> None:
    """Quick entry, a look at how the board will stand, a proof; a slip costs nothing."""
    player.types("library", "create")
    player.types("library", "import", str(ROOT / "demo_library"))
    before = player.asks("compile", "Pell")

    player.types(
        "scene", "set", "Limpet", "stuck", "delay, tape=on", "delay, tape.time=1/8.", "drive, s.gain=2 o'clock"
    )
    slip = player.tries("scene", "set", "Limpet", "stuck", "octave down=on", "delay, tape.mix=130 %")
    standing = player.asks("scene", "show", "Limpet", "stuck", "--rig", "hall board")["standing"]["cue"]

    assert slip.code == 2
    assert "130 %" in slip.err
    target = {each["unit"]: each for each in standing["target"]}
    assert target["delay, tape voiced"]["sounds"] is True
    assert target["octave down"]["sounds"] is False
    assert target["drive, soft"]["members"]["gain"] == "2 o'clock"
    assert player.asks("compile", "Pell")["cues"] == before["cues"]  # Limpet is a spare song there
    assert player.asks("compile", "Pell")["spares"] != before["spares"]
    assert player.asks("verify", "Pell")["ok"]


def test_a_unit_breaks_and_another_plays_its_part(player: Player) -> None:
    """Out, then replaced, then mended: the cues say each time what is lacking and what stands in."""
    player.types("library", "create")
    player.types("library", "import", str(ROOT / "demo_library"))
    whole = player.types("compile", "Pell")

    player.types("gig", "out", "Pell", "octave down")
    out = player.asks("compile", "Pell")
    player.types("gig", "out", "Pell", "octave down", "--back")
    player.types("gig", "replace", "Pell", "octave down", "octave down, hired")
    replaced = player.asks("compile", "Pell")
    player.types("gig", "replace", "Pell", "octave down", "--back")

    assert any("octave down" in thing for cue in out["cues"] for thing in (*cue["lacks"], *cue["without"]))
    assert "octave down" not in {each["unit"] for each in out["cues"][1]["target"]}
    assert "octave down, hired" in {each["unit"] for each in replaced["cues"][1]["target"]}
    assert player.types("compile", "Pell") == whole


def test_a_folder_edited_by_hand_and_by_commands_keeps_its_comments(player: Player) -> None:
    """In by import, changed by a command, out by export, changed in an editor, in again."""
    songs = player.folder / "songs"
    (songs / "units").mkdir(parents=True)
    (songs / "songs").mkdir()
    (songs / "units" / "fuzz.yaml").write_text("name: fuzz  # the warm one\nswitches:\n  main: {foot: true}\n")
    text = "name: Low tide\ntempo: 96  # not faster\nscenes:\n  verse:\n    units:\n      fuzz: on  # from bar 3\n"
    (songs / "songs" / "low-tide.yaml").write_text(text)
    player.types("library", "create")
    player.types("library", "import", "songs")

    player.types("library", "export", "same")
    player.types("scene", "set", "Low tide", "bridge", "fuzz=off")
    player.types("library", "export", "changed")

    assert _texts(player.folder / "same") == _texts(songs)
    changed = (player.folder / "changed" / "songs" / "low-tide.yaml").read_text()
    assert "tempo: 96  # not faster" in changed
    assert "fuzz: on  # from bar 3" in changed
    assert "bridge" in changed
    (player.folder / "changed" / "songs" / "low-tide.yaml").write_text(changed.replace("96", "92"))
    player.types("library", "import", "changed")
    assert player.asks("song", "show", "Low tide")["tempo"] == 92


def _texts(folder: Path) -> dict[str, str]:
    return {path.relative_to(folder).as_posix(): path.read_text() for path in sorted(folder.rglob("*.yaml"))}
