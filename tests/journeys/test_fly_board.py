"""A wall of units at home becomes a board that flies: chosen, drawn, fed, stored, packed, and proved at a gig."""

import re
import shlex
from collections.abc import Callable

import pytest

from tests.support.checkout import ROOT
from tests.support.player import Player
from tests.support.printed import Printed, printed

NAME, GIG = "small fly board", "Tallow reading room"
CHOICE = ("--max", "units=8", "--max", "weight=5kg", "--must", "tuner", "--name", NAME)


@pytest.fixture
def flying(player: Player) -> Player:
    """Give a player with the demo library in which the board is chosen, weighed and put into its file."""
    player.types("library", "create")
    player.types("library", "import", str(ROOT / "demo_library"))
    player.types("rig", "choose", *CHOICE)
    player.types("library", "export", "files")
    file = player.folder / "files/rigs/small-fly-board.yaml"
    file.write_text(f"{file.read_text(encoding='utf-8')}frame_g: 950\ncase_g: 1400\n", encoding="utf-8")
    player.types("library", "import", "files")
    return player


def paper(player: Player, name: str) -> Printed:
    """Return a PDF as another program reads it."""
    place = player.folder / "read"
    place.mkdir(exist_ok=True)
    return printed((player.folder / name).read_bytes(), place)


def text(read: Printed) -> str:
    return " ".join(word.text for word in read.words)


def test_the_wall_comes_down_to_eight_units_within_a_weight_and_every_song_says_what_it_loses(player: Player) -> None:
    """The choice is proved; what it is worth is what reach tells of the stored rig, and the songs add up to it."""
    player.types("library", "create")
    player.types("library", "import", str(ROOT / "demo_library"))

    wall = player.asks("rig", "show", "studio wall")
    chosen = player.asks("rig", "choose", *CHOICE)
    reach = player.asks("rig", "reach", NAME)

    assert len({name for link in wall["chain"] if isinstance(link, str) for name in [link]}) > 8
    assert chosen["proved"]
    assert len(chosen["units"]) <= 8
    assert "tuner, stage" in chosen["units"]
    weights = [player.asks("unit", "show", unit)["weight_g"] for unit in chosen["units"]]
    assert sum(weights) <= 5000
    assert {gain["limit"] for gain in chosen["gains"]} == {"units", "weight"}
    assert reach["worth"] == pytest.approx(chosen["tonight"])
    played = {song for gig in player.asks("gig", "list") for song in _songs(player, gig["name"])}
    songs = {song["name"]: song for song in reach["by_song"]}
    assert played <= songs.keys()
    assert sum(song["worth"] for song in songs.values()) == pytest.approx(reach["worth"])
    for name, song in songs.items():
        why = [scene for scene in reach["scenes"] if scene["song"] == name and scene["outcome"] != "whole"]
        assert bool(why) == (song["lost"] > 1e-6), name
        assert all(scene["lacks"] or scene["without"] or scene["stand_ins"] or scene["refused"] for scene in why), name


def _songs(player: Player, gig: str) -> set[str]:
    return {cue["song"] for cue in player.asks("compile", gig)["cues"] if cue["song"]}


def test_the_curve_rises_to_what_was_chosen(flying: Player) -> None:
    """Each point is proved, and no rig of eight units within five kilograms is above the curve."""
    chosen = flying.asks("rig", "choose", "--max", "units=8", "--max", "weight=5kg")

    points = flying.asks("rig", "curve", "--against", "weight", "--max", "units=8", "--points", "6")["points"]
    flying.types("rig", "curve", "--max", "units=8", "--points", "6", "--out", "curve.svg")

    worths = [point["worth"] for point in points]
    assert all(point["proved"] for point in points)
    assert worths == sorted(worths)
    assert all(point["worth"] <= chosen["worth"] + 1e-6 for point in points if point["most"] <= 5000)
    assert worths[-1] >= chosen["worth"] - 1e-6
    assert (flying.folder / "curve.svg").read_text(encoding="utf-8").lstrip().startswith("<")


def test_the_board_is_fed_drawn_to_scale_stored_and_packed(flying: Player, needs: Callable[[str], None]) -> None:
    """Supply, frame, case and leads are weighed with it; each sheet is a PDF that says what the command says."""
    needs("poppler")
    fed = flying.asks("rig", "power", NAME)
    units = flying.asks("rig", "show", NAME)["chain"]

    tight = flying.tries("rig", "board", NAME, "--board", "300x200")
    flying.types("rig", "board", NAME, "--board", "620x400", "-o", "board.pdf")
    flying.types("rig", "program", NAME, "-o", "program.pdf")
    flying.types("rig", "pack", NAME, "-o", "pack.pdf")
    packed = flying.asks("rig", "pack", NAME)
    plan = flying.asks("rig", "program", NAME)

    assert fed["feeds_all"]
    assert (tight.code, "does not fit" in tight.out) == (1, True)
    assert paper(flying, "board.pdf").pages >= 1
    items = {item["what"]: item["together_g"] for item in packed["items"]}
    leads = sum(grams for what, grams in items.items() if re.search(r"\bleads\b", what))
    own = sum(items[unit] for unit in units)
    assert packed["known_g"] == own + items[fed["supply"]] + 950 + 1400 + leads
    assert leads > 0
    assert packed["unknown"] == []
    pack = text(paper(flying, "pack.pdf"))
    assert f"Together {packed['known_g'] / 1000:.1f} kg." in pack
    assert all(title in pack for title in ("Set up", "Build", "If it dies", "For the stage manager", "local code"))
    last = packed["steps"][-1]
    assert last["what"].startswith("Line check")
    assert last["at_s"] + last["takes_s"] < 180  # a fixed board
    program = text(paper(flying, "program.pdf"))
    stores = {unit["unit"]: len(unit["slots"]) for unit in plan["units"]}
    assert all(f"{count} to store" in program for count in stores.values())
    assert sum(stores.values()) < 60


def test_what_was_stored_at_the_hotel_is_what_the_gig_recalls_and_the_gig_is_proved(flying: Player) -> None:
    """The boxes are noted; the gig is quiet until a song changes, and then says which slot is old."""
    flying.types("rig", "program", NAME, "--gig", GIG, "--written")

    quiet = _newer(flying)
    proof = flying.asks("verify", GIG, "--rig", NAME)
    flying.types("scene", "set", "Lamp room", "verse", "delay, tape voiced.time=333 ms")
    newer = _newer(flying)

    assert quiet == []
    assert proof["ok"]
    assert any(warning.startswith("delay, tape voiced, copy 'first'") for warning in newer)
    assert all("Lamp room, verse" in warning for warning in newer)


def _newer(player: Player) -> list[str]:
    warnings: list[str] = player.asks("compile", GIG, "--rig", NAME)["warnings"]
    return [warning for warning in warnings if "newer than the box" in warning]


def test_the_story_in_readme_prints_what_it_says(player: Player) -> None:
    """Every line that README shows under a command is in what that command prints, today."""
    player.types("library", "create")
    player.types("library", "import", str(ROOT / "demo_library"))
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = readme.split("## From the wall to a board that flies", 1)[1].split("\n## ", 1)[0]
    lines = [line.removeprefix("    ") for line in section.splitlines() if line.startswith("    ")]
    assert len(section.splitlines()) <= 27
    assert sum(line.startswith("$ ") for line in lines) >= 5

    out = ""
    for line in lines:
        if line.startswith("$ scenebook "):
            done = player.tries(*shlex.split(line.removeprefix("$ scenebook ")))
            assert done.code in (0, 1), done  # 1: the board is too small
            out = done.out
        else:
            assert _squeezed(line.strip().removesuffix("…")) in _squeezed(out), line


def _squeezed(words: str) -> str:
    """Return words as they are, whatever the lines are broken at."""
    return " ".join(words.split())
