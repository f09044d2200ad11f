"""Units, rigs, songs and gigs: added, listed and shown without editing a file."""

import json
from pathlib import Path

import pytest

from tests.support.terminal import typed, write_folder


def shown(kind: str, name: str) -> dict[str, object]:
    """Return a thing as JSON."""
    printed = typed(kind, "show", name, "--json")
    assert printed.code == 0, printed
    found: dict[str, object] = json.loads(printed.out)
    return found


def test_a_unit_is_a_footswitch_unless_said(empty: Path) -> None:
    """Most units are; the command says what it took for granted."""
    printed = typed("unit", "add", "fuzz", "--role", "fuzz")

    assert printed.out.splitlines() == [
        "Added 'fuzz' (fuzz).",
        "  main  foot",
        "Its main switch is taken to be a footswitch, since nothing else was said.",
    ]
    assert shown("unit", "fuzz")["switches"] == {"main": {"foot": True}}


def test_a_unit_with_messages_knobs_and_presets_comes_from_one_line(empty: Path) -> None:
    """What a player needs for a delay with MIDI, with the ranges of its chart."""
    printed = typed(
        "unit", "add", "delay", "--role", "delay", "--controller", "80",
        "--knob", "time:ms:21:20 ms..1500 ms", "--knob", "mix:percent:22", "--knob", "voice:tape/clear",
        "--switch", "hold", "--switch", "dry kill:hand", "--switch", "reverse:81",
        "--programs", "99", "--first", "1A", "--bank-of", "3", "--settle", "40", "--silence", "12",
        "--preset", "2B=wide",
    )  # fmt: skip

    assert printed.code == 0, printed
    found = shown("unit", "delay")
    assert found["switches"] == {
        "main": {"message": {"controller": 80}},
        "hold": {"foot": True},
        "dry kill": {"hand": True},
        "reverse": {"message": {"controller": 81}},
    }
    assert found["controls"] == {
        "time": {"scale": "ms", "hand": True, "message": {"controller": 21, "range": ["20 ms", "1500 ms"]}},
        "mix": {"scale": "percent", "hand": True, "message": {"controller": 22}},
        "voice": {"scale": "choice", "hand": True, "choices": ["tape", "clear"]},
    }
    assert found["programs"] == {
        "count": 99, "first": "1A", "bank_of": 3, "settle_ms": 40.0, "silence_ms": 12.0, "foot": True,
    }  # fmt: skip
    assert found["presets"] == [{"slot": "2B", "name": "wide"}]


def test_a_unit_tells_its_songs_rigs_and_pitches(demo: Path) -> None:
    """Before a unit is sold, one asks which songs use it."""
    printed = typed("unit", "show", "octave down")
    pitched = typed("unit", "show", "multi-effects, small")

    assert "octave down (octave)" in printed.out
    assert "  Limpet                   unstuck" in printed.out
    rigs = ["fly board", "fly board, foot controller", "fly board, no MIDI", "hall board", "studio wall"]
    assert f"Rigs: {'; '.join(map(repr, rigs))}" in printed.out
    assert "E4 (331.1 Hz), G#4 (417.2 Hz), B4 (496.1 Hz)" in pitched.out  # at the library's 442 Hz


def test_a_rig_is_drawn_with_paths_loops_sends_and_channels(demo: Path) -> None:
    """What is plugged where, on one screen."""
    lines = typed("rig", "show", "hall board").out.splitlines()

    assert lines[:2] == ["hall board", "  in"]
    assert "  │ octave down                                                   in loop: loop switcher, loop 1" in lines
    assert "  ├─ side by side" in lines
    assert "  │  path 3: the dry signal" in lines
    assert any("multi-effects, large" in line and "send 'loop' to ring modulator" in line for line in lines)
    assert any("multi-effects, large" in line and "its return" in line for line in lines)
    assert any("loop switcher  port front, channel 1, hears all" in line for line in lines)


def test_a_rig_is_added_with_ports_loops_and_home(empty: Path) -> None:
    """A board with a switcher, from one line."""
    for command in (["fuzz", "--knob", "gain:clock"], ["delay", "--controller", "80"]):
        assert typed("unit", "add", *command).code == 0
    assert typed("unit", "add", "switcher", "--always-on", "--switch", "loop 1:70").code == 0

    printed = typed(
        "rig", "add", "board", "fuzz", "delay@main:3", "--outside", "switcher@main:1",
        "--loop", "switcher.loop 1=fuzz", "--home", "fuzz.gain=noon",
    )  # fmt: skip

    assert printed.code == 0, printed
    assert shown("rig", "board") == {
        "name": "board",
        "chain": ["fuzz", "delay"],
        "units": {"delay": {"port": "main", "channel": 3}, "switcher": {"port": "main", "channel": 1}},
        "loops": {"switcher": {"loop 1": ["fuzz"]}},
        "home": {"fuzz": {"gain": "noon"}},
    }


def test_a_song_is_added_and_its_form_written_in_one_line(demo: Path) -> None:
    """Bars, free bars and cue words; words that were there stay when only the bars change."""
    added = typed("song", "add", "Low tide", "--tempo", "96", "--key", "E minor", "--length", "3:40")
    for scene in ("verse", "chorus"):
        assert typed("scene", "set", "Low tide", scene, "octave down=on").code == 0
    assert typed("song", "form", "Low tide", "verse:16=the gulls", "chorus:8/2", "ver", "chorus:/1").code == 0

    printed = typed("song", "form", "Low tide", "verse:12", "chorus:8/2", "chorus")

    assert added.out.startswith("Added 'Low tide' (E minor, 96 a minute, 4/4, 3:40).")
    assert printed.out.splitlines() == [
        "Low tide",
        "Form:",
        "   1  verse   12 bars                 “the gulls”",
        "   2  chorus  8 bars          2 free",
        "   3  chorus  bars not known",
        'Before: scenebook song form "Low tide" "verse:16=the gulls" "chorus:8/2=" "verse=" "chorus:/1="',
    ]
    assert typed("song", "form", "Low tide", "--none").out.splitlines()[1] == "Form: not given, so each scene once"


def test_a_gig_is_added_and_its_sets_ordered(demo: Path) -> None:
    """Two sets, spare songs, a segue; what falls out of the gig is named."""
    assert typed("gig", "add", "Net loft", "--rig", "hall board", "--date", "2027-05-14", "--gap", "20 s").code == 0
    first = typed("gig", "order", "net loft", "Orren", "Limpet", "Kelp", "--set", "early", "--segue", "Limpet")
    assert typed("gig", "order", "net loft", "Lamp", "--set", "late").code == 0
    assert typed("gig", "order", "net loft", "Orren", "--spare").code == 0

    again = typed("gig", "order", "net loft", "Limpet", "Orren", "--set", "Early")

    assert first.out.splitlines() == [
        "Net loft, early:",
        "   1  Orren bar",
        "   2  Limpet         segue",
        "   3  Kelp fire",
    ]
    assert again.out.splitlines()[-3] == "No longer in this gig: Kelp fire"
    found = shown("gig", "Net loft")
    assert found["sets"] == [
        {"name": "early", "songs": [{"song": "Limpet", "segue": True}, {"song": "Orren bar"}]},
        {"name": "late", "songs": [{"song": "Lamp room"}]},
    ]
    assert found["spares"] == [{"song": "Orren bar"}]
    assert typed("compile", "net loft").code == 0


def test_what_a_gig_says_of_a_song_stays_with_it(demo: Path) -> None:
    """The guest singer's key is not lost because the order changed."""
    before = shown("gig", "Skerrow")
    songs = [each["song"] for each in before["sets"][0]["songs"]]  # type: ignore[index]

    assert typed("gig", "order", "Skerrow", *reversed(songs)).code == 0

    after = shown("gig", "Skerrow")
    assert after["sets"][0]["songs"] == list(reversed(before["sets"][0]["songs"]))  # type: ignore[index]


def test_a_song_that_is_played_twice_keeps_what_is_said_of_each_time(demo: Path) -> None:
    """The reprise is slower, and stays the one that is slower; a segue can be taken back."""
    assert typed("gig", "add", "Porch").code == 0
    assert typed("gig", "order", "Porch", "Limpet", "Orren bar", "Limpet", "--segue", "Orren bar").code == 0
    gig = shown("gig", "Porch")
    gig["sets"][0]["songs"][2]["tempo"] = 70.0  # type: ignore[index]
    folder = write_folder(demo.parent / "one", gigs__porch=json.dumps(gig))  # JSON is YAML
    assert typed("library", "import", str(folder)).code == 0

    assert typed("gig", "order", "Porch", "Orren bar", "Limpet", "Kelp fire", "Limpet", "--no-segue", "Orren").code == 0

    assert shown("gig", "Porch")["sets"][0]["songs"] == [  # type: ignore[index]
        {"song": "Orren bar"},
        {"song": "Limpet"},
        {"song": "Kelp fire"},
        {"song": "Limpet", "tempo": 70.0},
    ]


def test_a_set_can_be_emptied(demo: Path) -> None:
    """The second half was rained off."""
    names = [each["name"] for each in shown("gig", "Pell")["sets"]]  # type: ignore[union-attr]

    printed = typed("gig", "order", "Pell", "--set", names[-1], "--empty")

    assert printed.code == 0
    assert [each["name"] for each in shown("gig", "Pell")["sets"]] == names[:-1]  # type: ignore[union-attr]


def test_units_go_out_and_come_back(demo: Path) -> None:
    """Broken at noon, mended at six."""
    out = typed("gig", "out", "Pell", "drive, soft", "ring")
    back = typed("gig", "out", "Pell", "drive", "--back")

    assert out.out == "Out at Pell Quay hall: 'drive, soft'; 'ring modulator'\n"
    assert back.out == "Out at Pell Quay hall: ring modulator\n"
    assert typed("gig", "out", "Pell", "ring", "--back").out == "Nothing is out at Pell Quay hall.\n"


def test_a_unit_is_replaced_and_taken_back(demo: Path) -> None:
    """The hire firm's octave plays until ours is mended."""
    printed = typed("gig", "replace", "Pell", "octave down", "octave down, hired")

    assert printed.out.splitlines() == [
        "Replaced at Pell Quay hall:",
        "  'octave down' is played by 'octave down, hired'",
    ]
    assert "octave down, hired" in typed("compile", "Pell").out
    assert (
        typed("gig", "replace", "Pell", "octave down", "--back").out.splitlines()[-1]
        == "Nobody is replaced at Pell Quay hall."
    )


@pytest.mark.parametrize(
    ("command", "names"),
    [
        (["unit", "list", "FUZZ"], ["fuzz, gated", "fuzz, silicon", "multi-effects, small"]),
        (["rig", "list", "no midi"], ["fly board, no MIDI"]),
        (["song", "list", "limp"], ["Limpet"]),
        (["gig", "list", "airfield"], ["Skerrow Head fly-in"]),
        (["gig", "list", "2027-11"], ["Tallow reading room"]),
        (["song", "list", "nothing like this"], []),
    ],
)
def test_lists_filter_by_text(demo: Path, command: list[str], names: list[str]) -> None:
    """Ten thousand songs need a sieve; capitals do not count."""
    assert [each["name"] for each in json.loads(typed(*command, "--json").out)] == names
    printed = typed(*command)
    assert printed.code == 0
    assert [name for name in names if name not in printed.out] == []


def test_the_library_can_be_named_in_each_command(demo: Path, empty: Path) -> None:
    """`--library` wins over the variable."""
    assert typed("gig", "list").out == "There is no such gig.\n"
    assert "Pell Quay hall" in typed("gig", "list", "--library", str(demo)).out


def test_without_a_name_the_library_lies_in_the_users_data_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A player with one library never names it."""
    monkeypatch.delenv("SCENEBOOK_LIBRARY", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))

    printed = typed("library", "create")

    assert printed.code == 0
    assert [path.name for path in tmp_path.rglob("*.scenebook")] == ["library.scenebook"]
    assert "user's data folder" in " ".join(typed("gig", "list", "--help").out.split())
    assert typed("gig", "list").code == 0
