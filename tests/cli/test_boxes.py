"""A box is written once, then the library goes on: compile tells where the two differ."""

import json
from pathlib import Path

import pytest

from tests.support.checkout import ROOT
from tests.support.terminal import contents, typed

GIG, DELAY = "Pell Quay hall", "delay, tape voiced"


def warnings(gig: str = GIG, rig: str | None = None) -> list[str]:
    printed = typed("compile", gig, "--json", *(["--rig", rig] if rig else []))
    assert printed.code == 0
    found: list[str] = json.loads(printed.out)["warnings"]
    return [warning for warning in found if "copy '" in warning]


def change_a_preset(tmp_path: Path) -> None:
    """Give the tape delay's preset 7 another feedback."""
    source = (ROOT / "demo_library/units/delay-tape-voiced.yaml").read_text(encoding="utf-8")
    folder = tmp_path / "changed"
    (folder / "units").mkdir(parents=True)
    (folder / "units/delay-tape-voiced.yaml").write_text(source.replace("feedback: 65 %", "feedback: 50 %"))
    assert typed("library", "import", str(folder)).code == 0


def test_nothing_noted_is_nothing_warned_of(demo: Path) -> None:
    """Who keeps no notes of boxes is not told so at every gig."""
    assert warnings() == []


def test_written_boxes_hold_what_the_gig_recalls(demo: Path) -> None:
    """Every slot of the sheet is noted, for each unit."""
    printed = typed("rig", "program", "hall board", "--written")

    assert printed == (
        0,
        "Noted at revision 1 that copy 'first' holds what the sheet says:\n"
        "multi-effects, large: 23 slots\n"
        "delay, tape voiced: 30 slots\n"
        "reverb, large hall: 17 slots\n"
        "To take this back: scenebook library undo\n",
        "",
    )
    assert warnings() == []


def test_undo_takes_back_the_note_of_what_is_written_and_nothing_made_before_it(demo: Path) -> None:
    """Undo takes back the last change, whatever it was: a rig that was made before is none of its business."""
    assert typed("rig", "add", "small board", "fuzz, silicon").code == 0
    rows = [line for line in contents(demo) if 'INTO "history"' not in line]
    assert typed("rig", "program", "hall", "--written", "--unit", "delay").code == 0
    listed = typed("library", "history", "--last", "1").out.splitlines()[0]

    printed = typed("library", "undo")

    assert listed.endswith(f"rig program hall board --written  the note of what '{DELAY}' holds (new)")
    assert printed.out.splitlines()[:2] == [
        "The library is as it was at revision 2.",
        f"  the note of what '{DELAY}' holds is there no more",
    ]
    now = [line for line in contents(demo) if 'INTO "history"' not in line and 'INTO "library"' not in line]
    assert now == [line for line in rows if 'INTO "library"' not in line]


def test_where_the_library_is_newer_than_a_box_compile_says_which_and_since_when(demo: Path, tmp_path: Path) -> None:
    """The copy that is written again is quiet; the spare on the shelf is not."""
    for copy in ("first", "the spare"):
        assert typed("rig", "program", "hall", "--written", "--unit", "delay", "--copy", copy).code == 0
    change_a_preset(tmp_path)

    both = warnings()
    typed("rig", "program", "hall", "--written", "--unit", "delay")
    spares = warnings()
    spare = spares[0]

    assert {warning.split(":")[0] for warning in both} == {f"{DELAY}, copy {copy!r}" for copy in ("first", "the spare")}
    assert all("copy 'the spare': the library is newer than the box" in warning for warning in spares)
    assert any("for what asks for another sound now: Lamp room, drone" in warning for warning in spares)
    assert spare.startswith("delay, tape voiced, copy 'the spare': the library is newer than the box: 7 long wash was")
    assert "at revision 2, and is another now; store it again, then rig program --written" in spare


def test_a_preset_that_a_box_was_never_noted_to_hold_is_told(demo: Path, tmp_path: Path) -> None:
    """A preset made after the box was written is not in it."""
    source = (ROOT / "demo_library/units/delay-tape-voiced.yaml").read_text(encoding="utf-8")
    folder = tmp_path / "fewer"
    (folder / "units").mkdir(parents=True)
    typed("rig", "program", "hall", "--written", "--unit", "delay")
    moved = source.replace("slot: 7", "slot: 99").replace("count: 100", "count: 120")
    (folder / "units/delay-tape-voiced.yaml").write_text(moved)
    assert typed("library", "import", str(folder)).code == 0

    assert [each for each in warnings() if "nobody noted that it holds 99 long wash" in each] != []


def test_a_scene_that_asks_for_another_sound_makes_the_slot_stored_for_it_old(demo: Path) -> None:
    """What was stored at the hotel is not what the song wants after the sound check; other rigs have other boxes."""
    assert typed("rig", "program", "fly board", "--written").code == 0
    before = warnings("Skerrow Head fly-in")

    typed("scene", "set", "Chalk line", "wall", "fuzz, silicon=off", "octave down=off")
    (newer,) = warnings("Skerrow Head fly-in")

    assert before == []
    assert newer.startswith("multi-effects, small, copy 'first': the library is newer than the box: 5-3 was stored on ")
    assert "for what asks for another sound now: Chalk line, wall; store it again" in newer
    assert warnings("Skerrow Head fly-in", "hall board") == []


def test_nothing_that_was_just_noted_is_old(demo: Path) -> None:
    """A warning that is always there is read by nobody."""
    for rig in ("hall board", "fly board, no MIDI"):
        assert typed("rig", "program", rig, "--written").code == 0

    told = [warnings(gig, rig) for gig in (GIG, "Tallow") for rig in ("hall board", "fly board, no MIDI")]

    assert told == [[], [], [], []]


BOX_UNIT = """\
name: multi
switches:
  main: {message: {controller: 10}}
  chorus: {message: {controller: 20}, section: modulation}
  delay: {message: {controller: 21}, section: delay}
controls:
  mix: {scale: percent, message: {controller: 22}}
programs: {count: 12, bank_of: 3, first: "1A", settle_ms: 10}
presets:
  - {slot: 1A, name: plain, stores: {chorus: off, delay: off, mix: 30 %}}
"""
BOX_RIG = """\
name: r
chain: [multi]
units:
  multi: {port: p, channel: 1}
home:
  multi: {preset: plain}
"""
BOX_GIG = """\
name: g
rig: r
sets:
  - {name: first, songs: [one]}
"""


def stored(folder: Path, *, said: str = "main: on, chorus: on, delay: off", more: str = "") -> None:
    """Take in a unit with one described preset, and perhaps more, and a song that asks something of it."""
    scene = f"name: one\nscenes:\n  verse:\n    units:\n      multi: {{{said}}}\n"
    for kind, name, text in (
        ("units", "multi", BOX_UNIT + more),
        ("rigs", "r", BOX_RIG),
        ("songs", "one", scene),
        ("gigs", "g", BOX_GIG),
    ):
        (folder / kind).mkdir(parents=True, exist_ok=True)
        (folder / kind / f"{name}.yaml").write_text(text)
    assert typed("library", "import", str(folder)).code == 0


def test_a_preset_described_just_as_the_sheet_stored_it_is_no_news(empty: Path, tmp_path: Path) -> None:
    """The player copies the sheet into the library, and then lets the song name the preset; the box holds it all."""
    stored(tmp_path / "f")
    assert typed("rig", "program", "r", "--written").code == 0

    as_stored = '  - {slot: 1B, name: "one: verse", stores: {chorus: on, delay: off, mix: 30.0 %}}\n'
    stored(tmp_path / "f", more=as_stored)
    described_only = warnings("g")
    stored(tmp_path / "f", said='main: on, preset: "one: verse"', more=as_stored)

    assert (described_only, warnings("g")) == ([], [])


def test_a_slot_that_is_old_for_two_reasons_is_told_once(empty: Path, tmp_path: Path) -> None:
    """The library describes the slot otherwise, and the song asks for another sound."""
    stored(tmp_path / "f")
    assert typed("rig", "program", "r", "--written").code == 0

    other = '  - {slot: 1B, name: "one: verse", stores: {chorus: on, delay: on, mix: 30 %}}\n'
    stored(tmp_path / "f", said='main: on, preset: "one: verse"', more=other)

    (told,) = warnings("g")
    assert told.startswith("multi, copy 'first': the library is newer than the box: 1B one: verse was stored on ")


MANY = """\
name: multi
switches:
  main: {foot: true}
  chorus: {foot: true}
  delay: {foot: true}
  reverb: {foot: true}
controls:
  mix: {scale: percent, hand: true}
programs: {count: 12, bank_of: 3, first: "1A", settle_ms: 10}
"""


def bare(folder: Path) -> None:
    """Take in a unit of whose presets nothing is described, and a song in which all of it changes with each scene."""
    wet = "main: on, chorus: on, delay: on, reverb: on, mix: 60 %"
    dry = "main: on, chorus: off, delay: off, reverb: off, mix: 10 %"
    scenes = f"name: one\nform: [verse, chorus, verse]\nscenes:\n  verse:\n    units:\n      multi: {{{dry}}}\n"
    scenes += f"  chorus:\n    units:\n      multi: {{{wet}}}\n"
    texts = (("units", "multi", MANY), ("rigs", "r", BOX_RIG.split("home:")[0]), ("songs", "one", scenes))
    for kind, name, text in (*texts, ("gigs", "g", BOX_GIG)):
        (folder / kind).mkdir(parents=True, exist_ok=True)
        (folder / kind / f"{name}.yaml").write_text(text)
    assert typed("library", "import", str(folder)).code == 0


def recalls(gig: str = "g") -> list[str]:
    cues = json.loads(typed("compile", gig, "--json").out)["cues"]
    return [move["value"] for cue in cues for move in cue["moves"] if move.get("kind") == "recall"]


def test_what_is_written_as_presets_is_what_the_compiled_gig_recalls_and_proves(empty: Path, tmp_path: Path) -> None:
    """One paper at the hotel and on stage: slots are described, recalled, proved, and no news; undo takes it back."""
    bare(tmp_path / "f")
    before = recalls()

    noted = typed("rig", "program", "r", "--as-presets", "--written")
    after, told, proof = recalls(), warnings("g"), typed("verify", "g")
    again = json.loads(typed("rig", "program", "r", "--as-presets", "--json").out)["units"][0]
    undone = typed("library", "undo").code

    assert before == []
    assert noted.out.endswith("recalls them:\nmulti: 2 slots\nTo take this back: scenebook library undo\n")
    assert {value.split(" ")[0] for value in after} == {"1A", "1B"}
    assert told == []
    assert (proof.code, "Proved: g" in proof.out) == (0, True)
    assert ([slot["label"] for slot in again["kept"]], again["slots"]) == (["1A", "1B"], [])
    assert (undone, recalls()) == (0, [])


def test_presets_and_the_note_of_them_are_one_change(empty: Path, tmp_path: Path) -> None:
    """One undo, and the library is as it was before the sheet was stored; once more, and all of it is back."""
    bare(tmp_path / "f")
    rows = [line for line in contents(empty) if 'INTO "box"' in line or 'INTO "unit"' in line]

    typed("rig", "program", "r", "--as-presets", "--written")
    (last,) = json.loads(typed("library", "history", "--last", "1", "--json").out)
    written = warnings("g"), len([line for line in contents(empty) if 'INTO "box"' in line])
    typed("library", "undo")
    undone = [line for line in contents(empty) if 'INTO "box"' in line]
    typed("library", "undo")
    again = warnings("g"), len([line for line in contents(empty) if 'INTO "box"' in line])

    assert last["what"] == "rig program r --written --as-presets"
    assert last["things"] == [
        {"kind": "unit", "name": "multi", "new": False},
        {"kind": "box", "name": "multi", "new": True},
    ]
    assert (len(rows), undone) == (1, [])
    assert written == again == ([], 2)


def test_a_described_slot_is_never_written_over_and_what_scenes_name_is_not_stored_again(demo: Path) -> None:
    """Every preset that the library had is as it was; each new one is used by a scene that leaves the preset open."""
    old = json.loads(typed("unit", "show", "multi-effects, small", "--json").out)["presets"]

    printed = typed("rig", "program", "fly board, no MIDI", "--as-presets", "--written")
    new = json.loads(typed("unit", "show", "multi-effects, small", "--json").out)["presets"]

    assert printed.code == 0
    assert new[: len(old)] == old
    assert len(new) > len(old)
    assert len({preset["slot"] for preset in new}) == len(new)
    assert warnings("Tallow", "fly board, no MIDI") == []


@pytest.mark.parametrize("rig", ["fly board", "fly board, no MIDI", "hall board"])
def test_a_second_sheet_for_presets_has_nothing_new_and_changes_nothing(demo: Path, rig: str) -> None:
    """What the first one told is all that compile recalls; the hotel is for sleeping."""
    typed("rig", "program", rig, "--as-presets", "--written")
    first = contents(demo)

    again = typed("rig", "program", rig, "--as-presets", "--written")

    assert again.out.endswith("Nothing new is to be described in the library: it has all that compile would recall.\n")
    assert contents(demo) == first


def test_copies_and_presets_are_not_asked_for_at_once(demo: Path) -> None:
    """A compiled gig recalls one slot of a sound, so that its copies would only be in the way."""
    printed = typed("rig", "program", "hall board", "--as-presets", "--copies")

    assert (printed.code, "Leave out --copies" in printed.err) == (2, True)


def test_a_sheet_may_be_written_to_paper_and_to_boxes_at_once(demo: Path, tmp_path: Path) -> None:
    """The sheet that was ticked off is kept."""
    out = tmp_path / "sheet.pdf"

    printed = typed("rig", "program", "hall", "--written", "-o", str(out))

    assert printed.code == 0
    assert printed.out.startswith(f"Wrote {out}\nNoted at revision 1 ")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["hall", "--unit", "delay"], "--unit and --copy say which box was written. Give --written as well."),
        (["hall", "--copy", "spare"], "--unit and --copy say which box was written. Give --written as well."),
        (["hall", "--written", "--unit", "fuzz"], "what rig 'hall board' stores: no unit is called 'fuzz'"),
        (["hall", "--written", "--copy", " "], "' ' cannot be the name of a copy; accepted: 1 to 80 characters."),
        (["hall", "--written", "--copy", "x" * 81], "cannot be the name of a copy"),
    ],
)
def test_a_box_that_cannot_be_noted_is_one_sentence(arguments: list[str], says: str, demo: Path) -> None:
    """Exit code 2, nothing changed."""
    before = contents(demo)

    printed = typed("rig", "program", *arguments)

    assert printed.code == 2
    assert says in printed.err
    assert contents(demo) == before


def test_a_rig_with_nothing_to_store_has_no_box_to_note(empty: Path) -> None:
    """The error says so, rather than that nothing was noted of nothing."""
    typed("unit", "add", "fuzz")
    typed("rig", "add", "board", "fuzz")

    printed = typed("rig", "program", "board", "--written")

    assert printed.code == 2
    assert "the rig has no unit with presets to store" in printed.err
