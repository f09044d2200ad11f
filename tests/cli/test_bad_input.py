"""Every bad input that a command can meet: one clear message, exit code 2, and nothing changed."""

import shutil
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest

from tests.support.terminal import Printed, contents, typed, write_folder

LARGE = "multi-effects, large"


def refused(printed: Printed, *words: str) -> None:
    """See that a command was refused in one message that has all these words in it, and with no traceback."""
    assert printed.code == 2, printed
    assert printed.out == ""
    assert "Traceback" not in printed.err
    assert printed.err.count("Error:") == 1, printed.err
    assert [word for word in words if word not in printed.err] == [], printed.err


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (
            ["scene", "set", "Limpet", "stuck", "fuz silicon=on"],
            ["no unit is called 'fuz silicon'", "Did you mean 'fuzz, silicon'"],
        ),
        (["scene", "set", "Limpet", "stuck", "octave down.subb=3"], ["member", "'subb'", "Did you mean 'sub'"]),
        (["scene", "set", "Limpet", "stuck", f"{LARGE}=ise"], ["no preset is called 'ise'", "'ice'"]),
        (["scene", "set", "Limpet", "stuck", f"{LARGE}=99Z"], ["99Z", "1A"]),
        (["scene", "set", "Limpet", "stuck", "octave down.sub=11"], ["'11'", "0 to 10"]),
        (["scene", "set", "Limpet", "stuck", "octave down.sub=loud"], ["'loud'", "0 to 10"]),
        (["scene", "set", "Limpet", "stuck", "octave down.low pass=half"], ["'half'", "on, off"]),
        (["scene", "set", "Limpet", "stuck", "octave down=3"], ["no programs"]),
        (["scene", "set", "Limpet", "stuck", "delay=on"], ["could be more than one", "delay, digital"]),
        (["scene", "set", "Limpet", "stuck", "octave down"], ["no setting", "KEY=VALUE"]),
        (["scene", "set", "Limpet", "stuck", "octave down="], ["no setting", "KEY=VALUE"]),
        (["scene", "set", "Limpet", "stuck", f"{LARGE}=leave", f"{LARGE}=ice"], ["left", LARGE]),
        (
            ["scene", "set", "Limpet", "stuck", "octave down=leave", "octave down.sub=3"],
            ["left", "octave down.main=leave"],
        ),
        (["scene", "set", "Limpet", "stuck", "--colour", "wah pedal"], ["'wah pedal' is a colour", "does not name it"]),
        (["scene", "set", "Limpet", "stuck", "--trigger", "octave down.go"], ["trigger"]),
        (["scene", "set", "Nosuch", "verse", "fuzz=on"], ["no song is called 'Nosuch'"]),
        (["scene", "copy", "Limpet", "stuck", "unstuck"], ["already"]),
        (["scene", "rename", "Limpet", "stuck", "unstuck"], ["already"]),
        (["scene", "rename", "Limpet", "nosuch", "x"], ["no scene is called 'nosuch'", "song 'Limpet'"]),
        (["scene", "delete", "Limpet", "stuck"], ["form", "--from-form"]),
        (["scene", "delete", "Winch song", "shout", "--from-form"], ["Skerrow Head fly-in"]),
        (["song", "form", "Limpet", "nosuch:4"], ["no scene is called 'nosuch'"]),
        (["song", "form", "Limpet", "stuck:4/5"], ["5 bars are free, of 4"]),
        (["song", "form", "Limpet", "stuck:0"], ["bars"]),
        (["song", "add", "limpet"], ["one of that name already"]),
        (["song", "add", "New", "--tempo", "900"], ["tempo", "a number from 20 to 400"]),
        (["song", "add", "New", "--metre", "4"], ["metre"]),
        (["unit", "add", "Octave down"], ["one of that name already"]),
        (["unit", "add", "New", "--role", "fuz"], ["fuz", "fuzz"]),
        (["unit", "add", "New", "--controller", "200"], ["200", "0 to 127"]),
        (["unit", "add", "New", "--knob", "gain:dial"], ["'dial' is no scale", "clock"]),
        (["unit", "add", "New", "--knob", "gain"], ["'gain' is no knob", "NAME:SCALE"]),
        (["unit", "add", "New", "--knob", "gain:dB:20"], ["range"]),
        (["unit", "add", "New", "--foot", "--always-on"], ["always on"]),
        (["unit", "add", "New", "--preset", "wide"], ["'wide' is no preset", "SLOT=NAME"]),
        (["unit", "add", "New", "--controller", "123"], ["123"]),
        (["rig", "add", "New", "nosuch"], ["no unit is called 'nosuch'"]),
        (["rig", "add", "New", "octave down@main:17"], ["17", "1 to 16"]),
        (["rig", "add", "New", "octave down@main"], ["UNIT@PORT:CHANNEL"]),
        (["rig", "add", "New", "octave down", "--loop", "octave down"], ["SWITCHER.SWITCH=UNIT"]),
        (["rig", "add", "New", "octave down", "--home", "octave down.sub=12"], ["'12'", "0 to 10"]),
        (["rig", "add", "Hall board", "octave down"], ["one of that name already"]),
        (["gig", "add", "New", "--rig", "nosuch"], ["no rig is called 'nosuch'"]),
        (["gig", "add", "New", "--date", "tomorrow"], ["tomorrow", "2026-05-01"]),
        (["gig", "order", "Pell", "Nosuch"], ["no song is called 'Nosuch'"]),
        (["gig", "order", "Pell", "Limpet"], ["several sets", "--set"]),
        (["gig", "order", "Pell"], ["--empty"]),
        (["gig", "order", "Pell", "Limpet", "--empty"], ["--empty"]),
        (["gig", "order", "Pell", "Limpet", "--set", "one", "--spare"], ["not both"]),
        (["gig", "out", "Pell", "nosuch"], ["no unit is called 'nosuch'"]),
        (["gig", "out", "Pell", "octave down", "--back"], ["unit that is out"]),
        (["gig", "replace", "Pell", "octave down", "nosuch"], ["no unit is called 'nosuch'"]),
        (["gig", "replace", "Pell", "octave down", "drive, soft"], ["in the rig already"]),
        (["gig", "replace", "Pell", "octave down"], ["--back"]),
    ],
)
def test_a_change_that_cannot_be_is_refused_whole(demo: Path, command: list[str], words: list[str]) -> None:
    """At a sound check a slip of the finger must cost nothing."""
    before = contents(demo)

    printed = typed(*command)

    refused(printed, *words)
    assert contents(demo) == before


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["unit", "show", "nosuch"], ["no unit is called 'nosuch'"]),
        (["rig", "show", "hall boerd"], ["no rig is called 'hall boerd'", "Did you mean 'hall board'"]),
        (["song", "show", "s"], ["could be more than one", "Write more of the name"]),
        (["scene", "show", "Limpet", "nosuch"], ["no scene is called 'nosuch'", "song 'Limpet'"]),
        (["scene", "show", "Limpet", "stuck", "--rig", "nosuch"], ["no rig is called 'nosuch'"]),
        (["gig", "show", "nosuch"], ["no gig is called 'nosuch'"]),
        (["compile", "nosuch"], ["no gig is called 'nosuch'"]),
        (["compile", "Pell", "--rig", "nosuch"], ["no rig is called 'nosuch'"]),
        (["verify", "Pell", "--port", "nosuch"], ["there is no output port 'nosuch'"]),
        (["send", "Pell", "1", "--port", "front=nosuch", "--port", "wet=nosuch"], ["there is no output port 'nosuch'"]),
        (["send", "Pell", "1", "--port", "nosuch"], ["front=NAME"]),
        (["send", "Pell", "1", "--port", "back=nosuch"], ["port of the rig", "'front', 'wet'"]),
        (["send", "Pell", "999"], ["there is no cue '999'", "0 (home) to 132"]),
        (["send", "Pell", "one"], ["there is no cue 'one'"]),
        (["sheet", "Pell", "-o", "sheet.doc"], ["sheet.doc", ".pdf, .html, .txt"]),
        (["sheet", "Pell", "-o", "nowhere/sheet.txt"], ["nowhere/sheet.txt", "there is no folder 'nowhere'"]),
        (["export", "Pell"], ["name the folder to write to: --to DIR"]),
        (["sheet", "Pell", "-o", "sheet.pdf", "--paper", "a5"], ["a5"]),
        (["library", "import", "nowhere"], ["nowhere", "there is no folder here"]),
        (["nosuch"], ["No such command 'nosuch'"]),
    ],
)
def test_what_is_not_there_is_named(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: list[str], words: list[str]
) -> None:
    """A near miss suggests the nearest, and what there is is listed."""
    monkeypatch.chdir(tmp_path)
    before = contents(demo)

    printed = typed(*command)

    refused(printed, *words)
    assert contents(demo) == before


MULTI = """
name: multi
programs: {count: 4, settle_ms: 20}
switches: {boost: {message: {controller: 70}}}
presets: [{slot: 1, stores: {boost: on}}, {slot: 2}]
"""
RIG = "name: board\nchain: [multi]\nunits: {multi: {port: main, channel: 1}}\n"
SONG = "name: song\nscenes: {all: {units: {multi: SETTING}}}\n"
GIG = "name: gig\nrig: board\nsets: [{name: one, songs: [song]}]\n"


@pytest.mark.parametrize(
    ("unit", "setting", "words"),
    [
        # Nothing works a switch without a way, and no preset stores it.
        (
            MULTI.replace("boost: {m", "odd: {}, boost: {m"),
            "{odd: on}",
            ["song 'song', scene 'all', unit 'multi': nothing works 'odd'"],
        ),
        # Preset 1 stores the boost, preset 2 does not say it, and no message can set it (S5).
        (MULTI.replace("{message: {controller: 70}}", "{}"), "{preset: 2}", ["boost", "multi"]),
        # A message right after a recall, and nobody knows how long to wait.
        (MULTI.replace(", settle_ms: 20", ""), "{preset: 2, boost: on}", ["settle", "multi"]),
        # The unit uses Bank Select, and wants its number for something else.
        (
            MULTI.replace("count: 4", "count: 4, bank_select: msb").replace("70", "0"),
            "{boost: on}",
            ["0", "Bank Select"],
        ),
    ],
)
def test_a_scene_that_cannot_be_reached_says_where(
    empty: Path, tmp_path: Path, unit: str, setting: str, words: list[str]
) -> None:
    """The compiler says which song, scene and unit; a list that would fail on stage is never made."""
    files = {
        "units__multi": unit,
        "rigs__board": RIG,
        "songs__song": SONG.replace("SETTING", setting),
        "gigs__gig": GIG,
    }
    folder = write_folder(tmp_path / "folder", **files)
    assert typed("library", "import", str(folder)).code == 0
    before = contents(empty)

    for command in (["compile", "gig"], ["verify", "gig"], ["sheet", "gig", "-o", str(tmp_path / "sheet.txt")]):
        refused(typed(*command), *words)

    assert contents(empty) == before
    assert not (tmp_path / "sheet.txt").exists()
    checked = typed("library", "check")
    assert checked.code == 1
    assert "gig 'gig'" in checked.out


def test_a_channel_mode_number_is_refused_unless_the_chart_says_so(empty: Path, tmp_path: Path) -> None:
    """All Notes Off (123) in the wrong place silences a channel; the maker's chart is believed, with a warning."""
    unit = "name: multi\nswitches: {main: {message: {controller: 123CHART}}}\n"
    song = SONG.replace("SETTING", "on")
    files = {"rigs__board": RIG, "songs__song": song, "gigs__gig": GIG}
    wrong = write_folder(tmp_path / "wrong", units__multi=unit.replace("CHART", ""), **files)
    right = write_folder(tmp_path / "right", units__multi=unit.replace("CHART", ", by_chart: true"), **files)
    before = contents(empty)

    refused(typed("library", "import", str(wrong)), "units/multi.yaml", "123", "by_chart: true")
    assert contents(empty) == before

    assert typed("library", "import", str(right)).code == 0
    compiled = typed("compile", "gig")
    assert compiled.code == 0
    assert "123" in compiled.out.split("▲", 1)[1]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name: x\nroles: [fuzz\n", ["line", "not valid YAML"]),
        ("name: x\nboot_s: soon\n", ["line 2", "'soon'", "a number"]),
        ("name: x\nrolls: [fuzz]\n", ["line 2", "'rolls'", "Did you mean 'roles'"]),
        ("name: x\nroles: [fuzz]\nroles: [delay]\n", ["line 3", "'roles' is there twice"]),
        ("roles: [fuzz]\n", ["line 1", "name is missing"]),
        ("name: x\nswitches: {main: {foot: maybe}}\n", ["line 2", "'maybe'", "true or false"]),
    ],
)
def test_a_file_that_is_not_as_it_must_be_is_named_with_its_line(
    demo: Path, tmp_path: Path, text: str, words: list[str]
) -> None:
    """One bad file among many changes nothing, and its writer finds the place at once."""
    folder = write_folder(tmp_path / "folder", units__good="name: good\n", units__bad=text)
    before = contents(demo)

    printed = typed("library", "import", str(folder))

    refused(printed, "units/bad.yaml", *words)
    assert contents(demo) == before


def test_a_file_of_50_megabytes_is_not_read(demo: Path, tmp_path: Path) -> None:
    """A recording saved under the wrong name must not hold up a sound check."""
    folder = write_folder(tmp_path / "folder", units__good="name: good\n")
    with (folder / "units" / "large.yaml").open("wb") as file:
        file.truncate(50_000_000)
    before = contents(demo)

    refused(typed("library", "import", str(folder)), "units/large.yaml", "50.0 MB", "at most 1 MB")

    assert contents(demo) == before


def test_a_folder_that_is_no_library_is_refused(demo: Path, tmp_path: Path) -> None:
    """Any other folder is left alone."""
    (tmp_path / "pictures").mkdir()
    before = contents(demo)

    refused(typed("library", "import", str(tmp_path / "pictures")), "this folder is not a library", "songs/")

    assert contents(demo) == before


EVERY_READER = [
    ["gig", "list"],
    ["compile", "Pell"],
    ["library", "check"],
    ["library", "backup"],
    ["song", "add", "New"],
]


@pytest.mark.parametrize("command", EVERY_READER)
def test_a_file_that_is_no_library_is_left_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    """Whoever names the wrong file keeps it whole."""
    path = tmp_path / "lyrics.txt"
    path.write_text("not a database at all, " * 100)
    monkeypatch.setenv("SCENEBOOK_LIBRARY", str(path))
    before = path.read_bytes()

    refused(typed(*command), "lyrics.txt", "not a Scenebook library")

    assert path.read_bytes() == before


@pytest.mark.parametrize("command", EVERY_READER)
def test_a_library_that_is_not_there_says_how_to_make_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    """Nothing is made by accident from a slip in a file's name."""
    monkeypatch.setenv("SCENEBOOK_LIBRARY", str(tmp_path / "nosuch.scenebook"))

    refused(typed(*command), "there is no library here", "scenebook library create")

    assert list(tmp_path.iterdir()) == []


def test_a_library_that_is_there_is_not_made_again(demo: Path) -> None:
    """`create` never stands between a player and what was entered."""
    before = contents(demo)

    refused(typed("library", "create"), "a file of that name already")

    assert contents(demo) == before


@pytest.mark.parametrize(
    "command",
    [["song", "add", "New"], ["scene", "set", "Limpet", "stuck", "octave down=on"], ["gig", "out", "Pell", "wah"]],
)
def test_a_read_only_library_can_be_read_and_not_changed(demo: Path, command: list[str]) -> None:
    """A library that was set read-only for the tour stays as it is."""
    demo.chmod(stat.S_IRUSR)
    before = demo.read_bytes()

    refused(typed(*command), "the library is read-only", "Make the file writable")

    assert demo.read_bytes() == before
    assert typed("gig", "list").code == 0


def test_a_newer_library_is_refused_and_left_alone(demo: Path) -> None:
    """An old laptop must not spoil what a new one wrote."""
    with closing(sqlite3.connect(demo)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    before = contents(demo)

    for command in EVERY_READER:
        refused(typed(*command), "made by a newer version", "Install the newer version")

    assert contents(demo) == before


def test_a_damaged_library_says_what_to_go_back_to(demo: Path) -> None:
    """A message that names the backup is worth more than a traceback."""
    with demo.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * 40_000)

    for command in (["library", "check"], ["compile", "Pell"]):
        refused(typed(*command), str(demo), "backup")


def test_an_export_never_overwrites_what_the_library_does_not_know(demo: Path, tmp_path: Path) -> None:
    """A folder that was edited by hand since is worth more than an export."""
    folder = tmp_path / "songs"
    assert typed("library", "export", str(folder)).code == 0
    (folder / "songs" / "limpet.yaml").write_text("name: Limpet\nnotes: rewritten on the ferry\n")
    before = {path: path.read_bytes() for path in folder.rglob("*.yaml")}

    refused(typed("library", "export", str(folder)), "limpet.yaml", "Import it first")

    assert {path: path.read_bytes() for path in folder.rglob("*.yaml")} == before


def test_the_demo_does_not_write_into_a_folder_with_other_things(tmp_path: Path) -> None:
    """`--to` with a slip in it must not scatter files among somebody's own."""
    (tmp_path / "holiday.jpg").write_bytes(b"picture")

    refused(typed("demo", "--to", str(tmp_path)), "something else here already", "--to")

    assert [path.name for path in tmp_path.iterdir()] == ["holiday.jpg"]


def test_a_library_in_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "file").write_text("")

    refused(typed("library", "create", "--library", str(tmp_path / "file" / "x.scenebook")), "file")

    shutil.rmtree(tmp_path)
