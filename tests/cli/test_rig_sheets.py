"""What a player types to get the programming and the packing sheet."""

import json
from pathlib import Path

import pytest

from tests.support.terminal import contents, typed


def test_program_prints_unit_after_unit_slot_after_slot(demo: Path) -> None:
    """Without a file the sheet is read in the terminal."""
    printed = typed("rig", "program", "hall", "--gig", "Pell")

    assert printed.code == 0
    assert printed.out.startswith("Programming: hall board · Pell Quay hall · revision 1\n")
    assert "\nmulti-effects, large\n====" in printed.out
    assert "180 slots in banks of 3: 6 stay as they are, " in printed.out


def test_program_speaks_json(demo: Path) -> None:
    """Each slot with label, name, stored values, variants, and the scenes that use it."""
    found = json.loads(typed("rig", "program", "hall board", "--json").out)

    assert [each["unit"] for each in found["units"]] == [
        "multi-effects, large", "delay, tape voiced", "reverb, large hall",
    ]  # fmt: skip
    large = found["units"][0]
    assert (large["count"], large["bank_of"], large["rule"]) == (180, 3, "the same sound is stored once")
    slot = next(slot for slot in large["slots"] if slot["name"] == "Undertow in three: pull")
    assert slot["copy_of"] == "2B ice"
    assert slot["stores"]["reverb kind"] == "shimmer"
    thaw = next(variant for variant in slot["variants"] if variant["name"] == "thaw")
    assert thaw["way"] == "bytes Bn 45 02"
    assert thaw["uses"] == [{"song": "Undertow in three", "scene": "thaw", "gig": ""}]


def test_feet_get_copies_and_messages_do_not_unless_it_is_asked_for(demo: Path) -> None:
    """Nobody walks where messages recall: 84 slots to store become 18; either way can be had."""

    def to_store(rig: str, *more: str) -> tuple[int, str]:
        (unit,) = json.loads(typed("rig", "program", rig, *more, "--json").out)["units"]
        return len(unit["slots"]), unit["rule"]

    shared, once = "songs share banks, and those with the same sounds share slots", "the same sound is stored once"
    assert to_store("fly board") == to_store("fly board, no", "--no-copies") == (18, once)
    assert to_store("fly board, no") == to_store("fly board", "--copies") == (84, shared)
    printed = typed("rig", "program", "fly board, no").out
    assert "84 to store, 61 of them a copy in which nothing is set." in printed
    assert "Each sound once: 18 to store (--no-" in printed


def test_pack_prints_weights_steps_and_what_to_do_when_a_unit_dies(demo: Path) -> None:
    """Four pages: pack, set up, if it dies, the stage."""
    out = typed("rig", "pack", "fly board").out

    titles = ["Pack", "Set up", "If it dies", "For the stage manager"]
    assert [line for line in out.splitlines() if line in titles] == titles
    assert "Together 7.3 kg." in out
    assert "One person may lift it all at once:" in out
    assert "drive, soft → looper," in out


def test_pack_speaks_json(demo: Path) -> None:
    """For a player's own scripts; an unknown weight is null."""
    found = json.loads(typed("rig", "pack", "hall board", "--json").out)

    assert found["unknown"] == ["mains supply of ring modulator"]
    assert found["lift"]["one_person"] is False
    assert found["lift"]["lifting_index"] == pytest.approx(found["known_g"] / found["lift"]["recommended_g"], abs=0.001)
    assert {each["what"]: each["each_g"] for each in found["items"]}["mains supply of ring modulator"] is None
    dies = {each["name"]: each for each in found["if_it_dies"]}
    assert dies["octave down"]["loop_off"] == "loop 1 of loop switcher"
    assert dies["drive, soft"]["loop_off"] is None  # it shares its loop
    ends = {"from": "loop 1 send of loop switcher", "to": "loop 1 return of loop switcher"}
    assert dies["octave down"]["join"] == [{"lines": "signal", **ends, "assumed": False}]


@pytest.mark.parametrize("command", ["program", "pack"])
@pytest.mark.parametrize(("ending", "begins"), [(".pdf", b"%PDF-"), (".txt", b"P")])
def test_a_sheet_is_written_by_the_ending_of_its_file(
    command: str, ending: str, begins: bytes, demo: Path, tmp_path: Path
) -> None:
    """PDF for the printer, text for a message."""
    out = tmp_path / f"sheet{ending}"

    printed = typed("rig", command, "fly board, no", "-o", str(out))

    assert printed == (0, f"Wrote {out}\n", "")
    assert out.read_bytes().startswith(begins)


@pytest.mark.parametrize("command", ["program", "pack"])
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["no such rig"], "no rig is called 'no such rig'"),
        (["fly board", "--gig", "nowhere"], "no gig is called 'nowhere'"),
        (["fly board", "-o", "sheet.doc"], "no sheet can be written as .doc; accepted: .pdf, .txt"),
        (["fly board", "-o", "no/such/folder/sheet.pdf"], "there is no folder"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(
    command: str, arguments: list[str], says: str, demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit code 2, nothing written, nothing changed."""
    monkeypatch.chdir(tmp_path)
    before, files = contents(demo), sorted(tmp_path.iterdir())

    printed = typed("rig", command, *arguments)

    assert printed.code == 2
    assert says in printed.err
    assert printed.err.count("\n") == 1
    assert contents(demo) == before
    assert sorted(tmp_path.iterdir()) == files
