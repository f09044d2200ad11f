"""Quick entry at a sound check, and the other commands of a scene."""

import json
from pathlib import Path

import pytest

from tests.support.terminal import contents, typed


def written(song: str, scene: str) -> dict[str, object]:
    """Return a scene as written."""
    said: dict[str, object] = json.loads(typed("scene", "show", song, scene, "--json").out)["written"]
    return said


def test_quick_entry_reads_all_its_forms(demo: Path) -> None:
    """One line in the dark: a switch, a note value, a slot as displayed, a unit that is left."""
    printed = typed(
        "scene", "set", "Limpet", "dusk",
        "fuzz, s=on", "delay, d.time=1/8.", "multi-effects, l=1B", "looper, t=leave",
    )  # fmt: skip

    assert printed.code == 0, printed
    assert printed.out.splitlines() == [
        "Made scene 'dusk' of 'Limpet'.",
        "  fuzz, silicon         main    home  → on",
        "  delay, digital        time    home  → 1/8.",
        "  multi-effects, large  preset  home  → 1B",
        "  looper, two tracks            home  → leave the unit as it is",
    ]
    assert written("Limpet", "dusk") == {
        "units": {
            "fuzz, silicon": {"main": "on"},
            "delay, digital": {"time": "1/8."},
            "multi-effects, large": {"preset": "1B"},
            "looper, two tracks": {"leave": "unit"},
        }
    }


def test_home_takes_away_a_member_or_a_whole_unit(demo: Path) -> None:
    """What was tried and not liked goes as quickly as it came; its colour goes with it."""
    printed = typed("scene", "set", "Limpet", "stuck", "drive, soft.gain=home", "equaliser=home")

    assert printed.out.splitlines() == [
        "Limpet, stuck:",
        "  drive, soft             gain    noon   → home",
        "  equaliser, seven bands  main    on     → home",
        "  equaliser, seven bands  800 Hz  +6 dB  → home",
        "  equaliser, seven bands  colour  yes    → no",
    ]
    assert written("Limpet", "stuck") == {
        "units": {"drive, soft": {"main": "on"}},
        "notes": "One riff. All of it.",
    }


def test_a_left_unit_can_be_set_after_home(demo: Path) -> None:
    """Settings are put in one after the other, so the way out that the refusal names works in one line."""
    assert typed("scene", "set", "Limpet", "stuck", "looper, two=leave").code == 0
    assert typed("scene", "set", "Limpet", "stuck", "looper, two=on").code == 2

    printed = typed("scene", "set", "Limpet", "stuck", "looper, two=home", "looper, two=on")

    assert printed.code == 0
    assert "looper, two tracks  main  home                     → on" in printed.out
    assert "looper, two tracks        leave the unit as it is  → home" in printed.out


def test_another_preset_lets_go_of_the_variant(demo: Path) -> None:
    """A variant belongs to its preset."""
    unit = json.loads(typed("unit", "show", "multi-effects, large", "--json").out)
    preset = next(each for each in unit["presets"] if each.get("variants"))
    variant = next(iter(preset["variants"]))

    assert typed("scene", "set", "Limpet", "dusk", f"multi-effects, l={preset['slot']}").code == 0
    assert typed("scene", "set", "Limpet", "dusk", f"multi-effects, l.variant={variant}").code == 0
    assert written("Limpet", "dusk")["units"] == {
        "multi-effects, large": {"preset": preset["slot"], "variant": variant}
    }
    assert typed("scene", "set", "Limpet", "dusk", "multi-effects, l=1A").code == 0
    assert written("Limpet", "dusk")["units"] == {"multi-effects, large": {"preset": "1A"}}


def test_a_beginning_finds_a_scene_and_a_new_name_makes_one(demo: Path) -> None:
    """`unst` is unstuck; a slip that makes a new scene says what it looks like."""
    begun = typed("scene", "set", "Limpet", "unst", "octave down.sub=6")
    slipped = typed("scene", "set", "Limpet", "unstuk", "octave down.sub=6")
    forced = typed("scene", "set", "Limpet", "un", "--new", "octave down=on")

    assert begun.out.splitlines() == ["Limpet, unstuck:", "  octave down  sub  7  → 6"]
    assert slipped.out.startswith("Made scene 'unstuk' of 'Limpet' (there is 'unstuck' as well).")
    assert forced.out.startswith("Made scene 'un' of 'Limpet'")
    assert typed("scene", "set", "Limpet", "uns", "octave down=on").code == 2


def test_the_same_again_changes_nothing(demo: Path) -> None:
    """Said twice is said once: no new revision, nothing in the history."""
    assert typed("scene", "set", "Limpet", "dusk", "octave down=on").code == 0
    before = contents(demo)

    printed = typed("scene", "set", "Limpet", "dusk", "octave down=on", "--json")

    assert json.loads(printed.out)["changes"] == []
    assert contents(demo) == before


def test_colours_triggers_and_notes_come_with_the_same_command(demo: Path) -> None:
    """A scene is entered whole without an editor."""
    printed = typed(
        "scene", "set", "Limpet", "dusk", "octave down=on", "octave down.sub=3",
        "--colour", "octave down.sub", "--trigger", "looper, two.restart", "--notes", "Slow.",
    )  # fmt: skip

    assert printed.code == 0, printed
    assert written("Limpet", "dusk") == {
        "units": {"octave down": {"main": "on", "sub": "3"}},
        "colours": ["octave down.sub"],
        "triggers": ["looper, two tracks.restart"],
        "notes": "Slow.",
    }
    assert (
        typed(
            "scene", "set", "Limpet", "dusk", "--must", "octave down.sub", "--trigger", "looper, two.restart=home"
        ).code
        == 0
    )
    assert written("Limpet", "dusk") == {"units": {"octave down": {"main": "on", "sub": "3"}}, "notes": "Slow."}


def test_a_scene_is_shown_as_the_rig_will_stand(demo: Path) -> None:
    """What the player wrote, and what this board makes of it, stand-ins and lacks included."""
    printed = typed("scene", "show", "Limpet", "stuck", "--rig", "hall board")
    standing = json.loads(typed("scene", "show", "Limpet", "stuck", "--rig", "hall board", "--json").out)["standing"]

    assert printed.code == 0
    assert "  drive, soft             on, gain noon" in printed.out
    assert "  ● sounds  drive, soft" in printed.out
    assert "  without equaliser, seven bands" in printed.out
    assert standing["rig"] == "hall board"
    drive = next(each for each in standing["cue"]["target"] if each["unit"] == "drive, soft")
    assert drive["sounds"] is True
    assert drive["members"]["gain"] == "noon"


def test_a_scene_is_copied_within_a_song_and_to_another(demo: Path) -> None:
    """The last chorus begins as the first; a sound that works in one song is tried in the next."""
    own = typed("scene", "copy", "Limpet", "stuck", "stuck again")
    other = typed("scene", "copy", "Limpet", "stuck", "stuck", "--to", "Kelp fire")

    assert own.out.startswith("Made scene 'stuck again' of 'Limpet'.")
    assert other.out.startswith("Made scene 'stuck' of 'Kelp fire'.")
    assert written("Limpet", "stuck again") == written("Kelp fire", "stuck") == written("Limpet", "stuck")


def test_renaming_a_scene_keeps_every_form_right(demo: Path) -> None:
    """The song's own form and the short form of one gig name it; nothing is left that names nobody."""
    printed = typed("scene", "rename", "Winch song", "shout", "roar")

    assert printed.out.splitlines() == [
        "Scene 'shout' is now 'roar'.",
        "Changed in the form of its own at: Skerrow Head fly-in",
    ]
    form = json.loads(typed("song", "form", "Winch song", "--json").out)["form"]
    assert "roar" in [each["scene"] for each in form]
    assert "shout" not in [each["scene"] for each in form]
    gig = json.loads(typed("gig", "show", "Skerrow", "--json").out)
    own = next(each for each in gig["sets"][0]["songs"] if each["song"] == "Winch song")["form"]
    assert [each["scene"] for each in own] == ["haul", "roar", "haul", "roar"]
    assert typed("library", "check").code == 0


def test_a_scene_keeps_its_place_and_words_when_renamed(demo: Path) -> None:
    """A new name is no new scene."""
    before = json.loads(typed("song", "show", "Winch song", "--json").out)

    assert typed("scene", "rename", "Winch song", "haul", "HAUL").code == 0

    after = json.loads(typed("song", "show", "Winch song", "--json").out)
    assert list(after["scenes"]) == ["HAUL" if name == "haul" else name for name in before["scenes"]]
    assert after["scenes"]["HAUL"] == before["scenes"]["haul"]
    assert [each.get("words") for each in after["form"]] == [each.get("words") for each in before["form"]]


def test_deleting_says_what_the_form_loses(demo: Path) -> None:
    """A part that is cut from the song is cut from its form only when asked for."""
    printed = typed("scene", "delete", "Limpet", "unstuck", "--from-form")

    assert printed.out.splitlines() == ["Deleted scene 'unstuck' of 'Limpet'.", "The form lost number 2."]
    assert [each["scene"] for each in json.loads(typed("song", "form", "Limpet", "--json").out)["form"]] == [
        "stuck"
    ] * 2


@pytest.mark.parametrize("text", ["on", "off"])
def test_a_unit_without_main_switch_has_nothing_to_turn_on(demo: Path, text: str) -> None:
    """The refusal names what there is."""
    assert typed("unit", "add", "preamp, plain", "--always-on", "--knob", "level:clock").code == 0

    printed = typed("scene", "set", "Limpet", "stuck", f"preamp, plain={text}")

    assert printed.code == 2
    assert "'preamp, plain' has no main switch. It always sounds." in printed.err
