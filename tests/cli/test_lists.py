"""Compile, verify, send, export, print, and keep a library: what a player takes from each command."""

import csv
import io
import json
from pathlib import Path

import pytest

from scenebook.midi import Link, read_smf
from scenebook.midi.ports import loopback_pair
from tests.support.checkout import ROOT
from tests.support.deaf import DroppingIn
from tests.support.terminal import contents, typed


def test_a_gig_is_compiled_as_lines_csv_and_json(demo: Path) -> None:
    """The same moves, for eyes, for a spreadsheet and for programs."""
    lines, table, whole = (typed("compile", "Skerrow", *form) for form in ([], ["--csv"], ["--json"]))

    found = json.loads(whole.out)
    rows = list(csv.DictReader(io.StringIO(table.out)))
    assert (lines.code, table.code, whole.code) == (0, 0, 0)
    assert lines.out.startswith("Skerrow Head fly-in, fly board, lean list: 70 cues\n")
    assert len(found["cues"]) == 70
    parts = [found["cues"], *(spare["cues"] for spare in found["spares"]), found["house"]["cues"]]
    assert len(rows) == sum(len(cue["moves"]) for cues in parts for cue in cues)
    assert {"number", "song", "scene", "moves", "target", "lacks", "without", "late", "settled_ms"} <= set(
        found["cues"][1]
    )


def test_full_and_another_rig_are_said_in_the_heading(demo: Path) -> None:
    """A list that is taken for another one is the worst of lists."""
    assert typed("compile", "Pell", "--full").out.startswith("Pell Quay hall, hall board, full list: 133 cues\n")
    assert typed("compile", "Pell", "--rig", "studio").out.startswith(
        "Pell Quay hall, studio wall, lean list: 133 cues\n"
    )


def test_a_proof_sums_up_what_was_proved_and_what_was_not(demo: Path) -> None:
    """Sets, spare songs and house sounds; cues, messages, bytes, members; what only hands can promise."""
    printed = typed("verify", "Pell", "--port", "loopback")
    found = json.loads(typed("verify", "Pell", "--port", "loopback", "--full", "--json").out)

    lines = printed.out.splitlines()
    assert printed.code == 0, printed
    assert lines[0] == "Proved: Pell Quay hall on hall board, lean list: sets, 4 spare songs, house sounds"
    assert "156 cues" in lines[1]
    assert "comparisons of members with the scenes" in lines[1]
    assert lines[2] == "  through the built-in loopback (asked for by name)"
    assert lines[3].startswith("  worked by hand or foot, so not proved: ")
    assert (found["ok"], found["list"], found["cues"], found["failures"]) == (True, "full", 156, [])
    assert "fuzz, silicon" in found["not_proved"]


def test_a_byte_that_is_lost_fails_with_a_line_for_its_cue(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A loose lead is found at home and not on stage; exit code 1 tells a script."""
    out, back = loopback_pair()
    link = Link(out, DroppingIn(back, message=40), "loose lead")
    monkeypatch.setattr("scenebook.actions.proving.open_link", lambda **_: link)

    printed = typed("verify", "Pell")

    lines = printed.out.splitlines()
    assert printed.code == 1
    assert printed.err == ""
    assert lines[0].startswith("FAIL  cue ")
    assert "were sent and" in lines[0] or "was sent as" in lines[0]
    assert any(line.startswith("NOT PROVED (") for line in lines)


def test_the_ports_are_listed_with_the_loopback(demo: Path) -> None:
    """Which names `--port` takes."""
    found = json.loads(typed("ports", "--json").out)

    assert found[-1] == {"name": "built-in loopback", "direction": "both", "kind": "built-in loopback"}
    assert "built-in loopback" in typed("ports").out


@pytest.mark.parametrize(("ending", "begins"), [(".pdf", b"%PDF-"), (".html", b"<!"), (".txt", b"Pell Quay hall")])
def test_a_sheet_is_written_by_its_ending(demo: Path, tmp_path: Path, ending: str, begins: bytes) -> None:
    """PDF for paper, HTML for a phone, text for a message to whoever steps in."""
    out = tmp_path / f"sheet{ending}"

    printed = typed("sheet", "Pell", "--paper", "letter", "-o", str(out))

    assert printed == (0, f"Wrote {out}\n", "")
    assert begins in out.read_bytes()[:200]
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".part"] == []


def test_an_export_holds_the_gig_and_each_song_for_each_port(demo: Path, tmp_path: Path) -> None:
    """What other programs play back: two ports, 24 songs, 4 spare ones, the house sounds."""
    printed = typed("export", "Pell", "--to", str(tmp_path / "pell"), "--json")

    files = [Path(name) for name in json.loads(printed.out)["files"]]
    assert printed.code == 0
    assert sorted(files) == sorted((tmp_path / "pell").iterdir())
    names = [path.name for path in files]
    assert {"pell-quay-hall-front.mid", "pell-quay-hall-wet.mid"} <= set(names)
    assert {f"pell-quay-hall-{kind}.{end}" for kind in ("lean", "full") for end in ("csv", "json")} <= set(names)
    assert len([name for name in names if name.endswith("-front.mid")]) == 1 + 24 + 4 + 1
    for path in files:
        if path.suffix == ".mid":
            assert read_smf(path).format == 1


def test_an_export_names_what_is_left_of_an_earlier_one(demo: Path, tmp_path: Path) -> None:
    """A song that moved has another number; its old file would be played by mistake."""
    assert typed("export", "Skerrow", "--to", str(tmp_path / "x")).code == 0
    songs = [each["song"] for each in json.loads(typed("gig", "show", "Skerrow", "--json").out)["sets"][0]["songs"]]
    assert typed("gig", "order", "Skerrow", *reversed(songs)).code == 0

    printed = typed("export", "Skerrow", "--to", str(tmp_path / "x"))

    assert "Still there from an earlier export" in printed.out
    older = printed.out.split("not of this one:\n", 1)[1].splitlines()
    assert f"  {tmp_path / 'x' / 'skerrow-head-fly-in-01-orren-bar.mid'}" in older
    assert len(older) == 12


def test_a_library_goes_out_and_comes_back_the_same(demo: Path, empty: Path, tmp_path: Path) -> None:
    """The folder is a second copy in plain text: nothing is lost between the two."""
    folder = tmp_path / "songs"
    at_demo, at_empty = ["--library", str(demo)], ["--library", str(empty)]
    assert typed("library", "export", str(folder), *at_demo).code == 0

    printed = typed("library", "import", str(folder), *at_empty)
    again = typed("library", "import", str(folder), *at_empty)

    assert printed.code == 0
    assert "34 units new" in " ".join(printed.out.split())
    assert again.out.splitlines()[-1] == "All of it was there already."
    for path in (ROOT / "demo_library").rglob("*.yaml"):
        assert (folder / path.relative_to(ROOT / "demo_library")).read_bytes() == path.read_bytes()
    assert typed("compile", "Pell", "--json", *at_demo) == typed("compile", "Pell", "--json", *at_empty)


def test_a_library_is_checked_and_backed_up(demo: Path) -> None:
    """Before a tour: is it whole, and is there a copy?"""
    checked, backed_up = typed("library", "check"), typed("library", "backup")

    assert checked == (0, "Revision 1: 34 units, 5 rigs, 29 songs, 3 gigs.\nNothing is wrong.\n", "")
    copy = Path(backed_up.out.removeprefix("Copied to ").strip())
    assert copy.parent == demo.parent
    assert contents(copy) == contents(demo)
    assert json.loads(typed("library", "check", "--json").out)["faults"] == []


def test_the_schema_tells_what_files_may_hold() -> None:
    """An editor that knows the schema helps with the writing."""
    found = json.loads(typed("library", "schema").out)

    assert set(found["files"]) == {"library.yaml", "units/*.yaml", "rigs/*.yaml", "songs/*.yaml", "gigs/*.yaml"}
    assert "name" in found["files"]["songs/*.yaml"]["required"]
    assert "scenes" in found["files"]["songs/*.yaml"]["properties"]
