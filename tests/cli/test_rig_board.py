"""scenebook rig board, as typed."""

import json
from pathlib import Path

import pytest

from tests.support.terminal import contents, typed


def test_a_rig_that_fits_is_told_with_its_places_and_its_leads(demo: Path) -> None:
    """Everything that a workbench needs, on one screen."""
    printed = typed("rig", "board", "fly board", "--board", "600x320")

    assert (printed.code, printed.err) == (0, "")
    assert printed.out.startswith("'fly board' fits on 600 × 320 mm; ")
    assert "Parts list (mm):" in printed.out
    assert "1 tuner, stage: out (left)" in printed.out
    assert "To cut: signal: " in printed.out
    assert "Common practice, no source: 25 mm for a plug" in printed.out


def test_the_drawing_is_written_as_pdf_and_as_svg(demo: Path, tmp_path: Path) -> None:
    """By the ending of the file."""
    for name, beginning in (("board.pdf", b"%PDF-"), ("board.svg", b"<svg ")):
        printed = typed("rig", "board", "fly board", "--board", "600x320", "-o", str(tmp_path / name))

        assert printed.code == 0
        assert printed.out.endswith(f"Wrote {tmp_path / name}\n")
        assert (tmp_path / name).read_bytes().startswith(beginning)


def test_each_fed_unit_has_its_supply_lead_and_the_splitting_lead_is_named(demo: Path) -> None:
    """The supply is number 8 on the board; two units share its third outlet."""
    printed = typed("rig", "board", "fly board", "--board", "600x320")

    assert "8 supply, five outlets: outlet 5 (top)" in " ".join(printed.out.split())
    assert "1 tuner, stage: DC in (right), centre negative, 5.5 x 2.1 mm" in printed.out
    assert "Splitting leads: outlet 3 to drive, soft and preamp and direct box, 1 plug to 2 (a" in printed.out
    assert "mains: to supply, five outlets" in printed.out
    assert "The plate on each unit decides" in printed.out


def test_a_supply_under_the_frame_takes_no_room(demo: Path) -> None:
    """The demo's larger one says so in its notes; of the other it can be said."""
    assert "Supply: 'supply, ten outlets' is under the frame" in typed("rig", "board", "hall", "--board", "900x450").out
    words = ("rig", "board", "fly board", "--board", "600x320", "--supply-at")
    assert "'supply, five outlets' is under the frame" in typed(*words, "under").out
    assert "'supply, five outlets' is beside the board" in typed(*words, "beside").out


def test_other_programs_get_all_of_it_as_json(demo: Path) -> None:
    """Lengths in mm, from the left front corner."""
    said = json.loads(typed("rig", "board", "fly board", "--board", "600x320", "--json").out)

    assert (said["rig"], said["board"], said["fits"]) == ("fly board", {"width": 600, "depth": 320}, True)
    assert [each["number"] for each in said["units"]] == list(range(1, 9))
    assert {"kind", "from", "to", "way", "cut", "note"} == set(said["leads"][0])
    assert all(lead["cut"] % 50 == 0 for lead in said["leads"])
    assert said["practice"] == {"plug": 25, "gap": 5, "footswitch": 70}


def test_a_rig_that_does_not_fit_ends_with_1_and_no_file(demo: Path, tmp_path: Path) -> None:
    """And with the board to buy."""
    out = tmp_path / "board.pdf"

    printed = typed("rig", "board", "fly board", "--board", "380x340", "-o", str(out))

    assert (printed.code, printed.err) == (1, "")
    assert (
        "does not fit on 380 × 340 mm: proved. 400 × 370 mm would do (20 mm wider and 30 mm deeper), proved"
        in printed.out
    )
    assert "No drawing was written" in printed.out
    assert not out.exists()


def test_flat_plugs_and_a_pedal_on_the_floor_make_room(demo: Path) -> None:
    """What a player tries first when a board is too small."""
    words = ("rig", "board", "fly board", "--board", "400x250", "--supply-at", "under")

    assert typed(*words).code == 1
    assert typed(*words, "--plug", "15", "--beside", "volume").code == 0


def test_only_the_gigs_that_are_named_are_counted(demo: Path) -> None:
    """By the beginning of their names."""
    said = json.loads(typed("rig", "board", "fly board", "--board", "600x320", "--gig", "skerrow", "--json").out)

    assert said["gigs"] == ["Skerrow Head fly-in"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("fly board", "--board", "600"), "'600' is no size of a board; accepted: WIDTHxDEPTH in mm"),
        (("fly board", "--board=-600x320"), "'-600x320' is no size of a board"),
        (("fly board", "--board", "0x0"), "no board is 0x0; accepted"),
        (("fly board", "--board", "120x320"), "is smaller than the unit 'multi-effects, small', 176 × 132 mm"),
        (("fly board", "--board", "120x320"), "260 × 560 mm would do: the least that holds all of the rig"),
        (("fly board", "--board", "600x320", "--supply-at", "roof"), "no supply is at 'roof'; accepted: board, under"),
        (("fly board", "--board", "600x320", "--beside", "wah"), "no unit of the rig is called 'wah'"),
        (("fly board", "--board", "600x320", "--plug", "3"), "3 mm is no room for a plug; accepted: 15 to 30 mm"),
        (("fly board", "--board", "600x320", "--plug", "nan"), "nan mm is no room for a plug"),
        (("fly board", "--board", "600x320", "--seconds", "0"), "0 s is no time to look"),
        (("fly board", "--board", "600x320", "--seconds", "nan"), "nan s is no time to look"),
        (("fly board", "--board", "600x320", "--gig", "nowhere"), "no gig is called 'nowhere'"),
        (("raft", "--board", "600x320"), "no rig is called 'raft'"),
        (("fly board", "--board", "600x320", "-o", "board.png"), "written as .png; accepted: .pdf, .svg"),
        (("fly board", "--board", "600x320", "-o", "nowhere/board.svg"), "there is no folder"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence_and_changes_nothing(demo: Path, arguments: tuple[str, ...], said: str) -> None:
    """Exit code 2, no traceback, the library as it was."""
    before = contents(demo)

    printed = typed("rig", "board", *arguments)

    assert (printed.code, printed.out) == (2, "")
    assert printed.err.startswith("Error: ")
    assert printed.err.count("\n") == 1
    assert said in printed.err
    assert contents(demo) == before
