"""A small rig, told of in commands alone: proofs with little or nothing to send, warnings, scenes, presets."""

import json
from pathlib import Path

import pytest

from tests.support.terminal import contents, typed


@pytest.fixture
def small(empty: Path) -> Path:
    """Give a library with one song, a rig of one fuzz, and one with a multi of which no settle time is known."""
    for command in (
        ["unit", "add", "fuzz"],
        ["unit", "add", "tuner", "--always-on", "--switch", "mute"],
        ["unit", "add", "big", "--always-on", "--switch", "chorus:74", "--switch", "drive:75", "--programs", "8",
         "--preset", "1=shimmer: chorus=on", "--preset", "2=shade: chorus=off"],
        ["rig", "add", "bare", "fuzz", "tuner"],
        ["rig", "add", "tiny", "fuzz", "big@main:1"],
        ["song", "add", "Tin", "--tempo", "100"],
        ["scene", "set", "Tin", "verse", "fuzz=on"],
        ["scene", "set", "Tin", "wide", "big=1"],
        ["gig", "add", "Bare night", "--rig", "bare"],
        ["gig", "order", "Bare night", "Tin"],
        ["gig", "add", "Tiny night", "--rig", "tiny"],
        ["gig", "order", "Tiny night", "Tin"],
    ):  # fmt: skip
        assert typed(*command).code == 0, command
    return empty


def test_a_rig_without_midi_has_nothing_to_prove(small: Path) -> None:
    """A proof with no message sent would promise what nobody looked at."""
    printed = typed("verify", "Bare")

    said = "Nothing to prove by MIDI: all of it is worked by hand and foot (2 members of 2 units)\n"
    assert (printed.code, printed.err) == (0, "")
    assert printed.out.startswith(said)
    assert "Proved" not in printed.out


def test_warnings_of_the_compiler_come_before_the_proof(small: Path) -> None:
    """Two units that hear one channel are the cause of what fails below."""
    assert typed("unit", "add", "echo", "--controller", "74").code == 0
    assert typed("rig", "add", "shared", "big@main:1", "echo@main:1").code == 0
    assert typed("scene", "set", "Tin", "verse", "echo=on").code == 0

    printed = typed("verify", "Tiny", "--rig", "shared")
    found = json.loads(typed("verify", "Tiny", "--rig", "shared", "--json").out)

    assert printed.out.startswith("take care: 'echo' hears what is meant for 'big': controller 74")
    assert printed.out.index("take care") < printed.out.index("FAIL")
    assert printed.code == 1
    assert any("hears what is meant for" in text for text in found["warnings"])


def test_a_scene_is_shown_where_only_the_full_list_lacks_a_settle_time(small: Path) -> None:
    """The gig compiles: the recall alone is enough there. What a full list would need is a note."""
    assert typed("compile", "Tiny").code == 0

    printed = typed("scene", "show", "Tin", "wide", "--rig", "tiny")
    standing = json.loads(typed("scene", "show", "Tin", "wide", "--rig", "tiny", "--json").out)["standing"]

    assert printed.code == 0
    assert "  ● sounds  big   preset 1, chorus on, drive off" in printed.out
    assert "Note: it cannot be sent in full" in printed.out
    assert "no settle time is known" in standing["note"]


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        (["fuzz=of"], ["accepted: on, off, leave or home. Did you mean 'off'?"]),
        (["fuzz=maybe"], ["'fuzz' has no programs", "accepted: on, off, leave or home."]),
        (["tuner=on"], ["'tuner' has no main switch; its switches are: mute (tuner.mute=on)."]),
        (["big=sh"], ["could be more than one", "'shimmer' or 'shade'"]),
        (["big=1", "big.variant=brite"], ["preset 1 shimmer has no variants"]),
        (["big.chorus.depth=3"], ["'big' has no member 'chorus.depth'"]),
        (["fuzz=leave", "fuzz.main=on"], ['Begin with "fuzz=home"', "leave it whole"]),
        (["big=leave", "big.drive=on"], ['Leave single members ("big.chorus=leave")']),
    ],
)
def test_a_refusal_names_what_would_work(small: Path, entries: list[str], words: list[str]) -> None:
    """At a sound check there is time for one more try."""
    before = contents(small)

    printed = typed("scene", "set", "Tin", "verse", *entries)

    assert (printed.code, printed.out) == (2, "")
    assert [word for word in words if word not in printed.err] == [], printed.err
    assert contents(small) == before


def test_a_unit_that_was_left_says_how_it_is_taken_up_again(small: Path) -> None:
    """The way that the refusal names is one that works."""
    assert typed("scene", "set", "Tin", "verse", "big=leave").code == 0

    refused = typed("scene", "set", "Tin", "verse", "big.drive=on")

    assert 'begin with "big=home", which takes the leaving away' in refused.err
    assert typed("scene", "set", "Tin", "verse", "big=home", "big.drive=on").code == 0


def test_a_preset_is_named_by_the_beginning_of_its_name(small: Path) -> None:
    """The scene says the whole name, so that a later preset cannot take its place."""
    assert "big  preset  home  → shimmer" in typed("scene", "set", "Tin", "verse", "big=shim").out
    assert "big  preset  shimmer  → 2" in typed("scene", "set", "Tin", "verse", "big=2").out


def test_a_variant_that_is_not_there_is_told_from_those_that_are(demo: Path) -> None:
    """Variants are named as presets are: by a beginning, and with the nearest suggested."""
    unit = json.loads(typed("unit", "show", "multi-effects, large", "--json").out)
    preset = next(each for each in unit["presets"] if each.get("variants"))
    key, variant = f"multi-effects, l={preset['slot']}", next(iter(preset["variants"]))

    wrong = typed("scene", "set", "Limpet", "dusk", key, "multi-effects, l.variant=nosuch")
    begun = typed("scene", "set", "Limpet", "dusk", key, f"multi-effects, l.variant={variant[:-1]}")

    assert wrong.code == 2
    assert f"accepted: '{variant}'" in wrong.err
    assert begun.code == 0
    assert f"→ {variant}" in begun.out


def test_what_a_preset_stores_is_said_in_one_line(small: Path) -> None:
    """A preset of which nothing is said makes warnings; saying it needs no file."""
    first = typed("unit", "preset", "big", "3=plain", "chor=off", "drive=on")
    again = typed("unit", "preset", "big", "plain", "drive=home", "--rest-off")
    wrong = typed("unit", "preset", "big", "9", "drive=on")

    assert first.out == "big, preset 3 plain (new): chorus off, drive on\n"
    assert again.out == "big, preset 3 plain: chorus off; every other stored switch off\n"
    assert (wrong.code, wrong.out) == (2, "")
    assert "slot '9' is out of range; accepted: 1 to 8" in wrong.err


def test_a_unit_is_described_in_the_words_that_players_use(empty: Path) -> None:
    """Roles by common names, pedals, held switches, a footswitch that hears a controller, what presets store."""
    printed = typed(
        "unit", "add", "multi", "--role", "chorus", "--role", "Echo", "--foot", "--controller", "80",
        "--pedal", "level:percent", "--knob", "depth:percent", "--switch", "freeze:momentary",
        "--switch", "chorus:foot:74", "--programs", "128", "--preset", "12=dark: chorus=on, depth=40 %",
    )  # fmt: skip

    assert printed.code == 0, printed
    unit = json.loads(typed("unit", "show", "multi", "--json").out)
    assert unit["roles"] == ["modulation", "delay"]
    assert unit["controls"]["level"] == {"scale": "percent", "pedal": True}
    assert unit["switches"] == {
        "main": {"message": {"controller": 80}, "foot": True},
        "freeze": {"foot": True, "momentary": True},
        "chorus": {"message": {"controller": 74}, "foot": True},
    }
    assert unit["presets"] == [{"slot": "12", "name": "dark", "stores": {"chorus": "on", "depth": "40 %"}}]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--role", "wa"], ["no role is called 'wa'", "dynamics", "Did you mean 'wah'?"]),
        (["--switch", "x:ear"], ["'x:ear' is no switch", ":momentary"]),
        (["--knob", "gain:clock", "--pedal", "gain:percent"], ["the control 'gain' is given twice"]),
        (["--programs", "8", "--preset", "1=a: chorus"], ["'chorus' is nothing that a preset stores"]),
        (["--programs", "8", "--preset", "1=a: nosuch=on"], ["no member is called 'nosuch'"]),
    ],
)
def test_a_unit_that_cannot_be_described_so_is_refused(empty: Path, options: list[str], words: list[str]) -> None:
    """Each refusal says how it is written."""
    printed = typed("unit", "add", "multi", *options)

    assert printed.code == 2
    assert [word for word in words if word not in printed.err] == [], printed.err


def test_the_only_switch_of_a_unit_is_listed(small: Path) -> None:
    """A tuner has a mute and nothing else: that is worth its line."""
    listed = {line.split()[0]: line for line in typed("unit", "list").out.splitlines()}

    assert listed["tuner"].endswith("switch mute")
    assert listed["fuzz"].endswith("switch main")
