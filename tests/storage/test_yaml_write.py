"""The text of a file: plain where it is new, and where a person wrote it changed only where it has to be."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pydantic import ValidationError

from scenebook.model import FormEntry, Scene, Settings, Song
from scenebook.resources import demo_library_folder
from scenebook.storage.exporting import aggregate_text, settings_text
from scenebook.storage.folder import parse_aggregate, parse_settings
from scenebook.storage.mapping import whole_json
from scenebook.storage.shorthand import plain
from scenebook.storage.yaml_write import edited_texts

WORDS = st.one_of(
    st.text(max_size=30), st.sampled_from(["null", "~", "on", "leave", "- x", "a: b", "{", "# x", "'", "1/8."])
)

SONG = """\
# The one with the long verse.
name:   Harbour
tempo: 92   # never faster
key: 'G'

scenes:
  # quiet
  verse:
    units: {fuzz: off,   delay: {time: 1/8., main: on}}
  # loud

  chorus:
    units:
        fuzz: {main: on, gain: "2 o'clock"}
    notes: Let it ring.  # really
# how it goes
form:
- verse
-   {scene: chorus, bars: 8}   # count in
- verse
# the end
"""


def edited(change: Callable[[Song], Song], source: str = SONG) -> str:
    """Return the text of the song after a change; it reads back as the changed song, order included."""
    name, song, _ = parse_aggregate("song", source)
    new = Song.model_validate(change(song).model_dump())
    result = aggregate_text("song", name, new, source)
    assert whole_json("song", parse_aggregate("song", result)[1]) == whole_json("song", new)
    return result


def changed_lines(result: str, source: str = SONG) -> tuple[list[str], list[str]]:
    """Return the lines that are gone and those that are new."""
    old, new = source.splitlines(), result.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


@pytest.mark.parametrize("source", [SONG.replace("\n", "\r\n"), "\ufeff" + SONG, SONG.rstrip("\n")])
def test_other_editors_ways_come_back_too(source: str) -> None:
    """Windows line ends, a byte order mark, no last line end; and an edit keeps them."""
    assert aggregate_text("song", "Harbour", parse_aggregate("song", source)[1], source) == source

    result = edited(lambda song: song.model_copy(update={"tempo": 60}), source)

    assert result.rstrip("\r\n") == source.replace("tempo: 92", "tempo: 60").rstrip("\r\n")


@pytest.mark.parametrize(
    "words",
    ["null", "~", "- x", "a: b", "# x", "'", '"', "{x", "x\n\n  y\n z", "\t", "on", "1:2", "\x07", "é\u2028x", "%"],
)
def test_any_words_survive(words: str) -> None:
    """Whatever a player types into a command comes back out of a file."""
    song = Song(
        key=words.replace("\n", " "), notes=words, scenes={"a": Scene(units={"u": {"main": "on", "x": words[:1]}})}
    )

    _, again, _ = parse_aggregate("song", aggregate_text("song", "x", song))

    assert whole_json("song", again) == whole_json("song", song)


@given(
    st.dictionaries(
        st.text(min_size=1, max_size=9), st.dictionaries(st.text(min_size=1, max_size=9), WORDS), max_size=3
    ),
    WORDS,
)
def test_any_song_survives_its_file(scenes: dict[str, dict[str, str]], words: str) -> None:
    """Names, members and values of any script, with whatever signs YAML minds in them."""
    try:
        song = Song(
            scenes={
                name: Scene(units={"u": setting, "v": {"main": words}}, notes=words) for name, setting in scenes.items()
            },
            form=tuple(FormEntry(scene=name, words=words, bars=2) for name in scenes),
        )
    except ValidationError:
        assume(False)

    _, again, _ = parse_aggregate("song", aggregate_text("song", "x", song))

    assert whole_json("song", again) == whole_json("song", song)


@pytest.mark.parametrize("file", sorted((demo_library_folder() / "songs").glob("*.yaml")), ids=lambda file: file.stem)
def test_an_edit_keeps_every_comment(file: Path) -> None:
    """On every song of the demo library: another tempo, a note in every scene, a unit more, a form entry more."""
    source = file.read_text(encoding="utf-8")

    def change(song: Song) -> Song:
        scenes = {
            name: scene.model_copy(update={"notes": "x", "units": {**scene.units, "wah": {"main": "on"}}})
            for name, scene in song.scenes.items()
        }
        form = (*song.played, FormEntry(scene=next(iter(scenes)), bars=3))
        return song.model_copy(update={"tempo": 33, "scenes": scenes, "form": form})

    result = edited(change, source)

    comment = r"(?<!\S)#.*"
    assert re.findall(comment, result) == re.findall(comment, source)
    expected = re.compile(r"tempo: 33|notes: x|units:|wah: |form:|- ")
    assert [line for line in changed_lines(result, source)[1] if not expected.search(line)] == []


def test_a_preset_that_is_called_like_a_switch_is_written_out() -> None:
    """`on` alone would mean the main switch."""
    song = Song(scenes={"a": Scene(units={"u": {"preset": "on"}, "v": {"main": "leave"}, "w": {"leave": "unit"}})})

    _, again, _ = parse_aggregate("song", aggregate_text("song", "x", song))

    assert again == song


def test_a_changed_value_changes_its_line_alone() -> None:
    """The spaces, quotes and comments around it stay."""
    result = edited(lambda song: song.model_copy(update={"tempo": 60}))

    assert result == SONG.replace("tempo: 92   # never faster", "tempo: 60   # never faster")


def test_a_changed_setting_changes_its_line_alone() -> None:
    """`scene set Harbour chorus fuzz.gain=3 o'clock`."""

    def change(song: Song) -> Song:
        chorus = Scene(units={"fuzz": {"main": "on", "gain": "3 o'clock"}}, notes="Let it ring.")
        return song.model_copy(update={"scenes": {**song.scenes, "chorus": chorus}})

    assert changed_lines(edited(change)) == (
        ['        fuzz: {main: on, gain: "2 o\'clock"}'],
        ['        fuzz: {main: on, gain: "3 o\'clock"}'],
    )


def test_a_new_unit_in_a_scene_is_one_more_line() -> None:
    """In its order."""

    def change(song: Song) -> Song:
        chorus = song.scenes["chorus"]
        units = {**chorus.units, "looper": {"leave": "unit"}}
        return song.model_copy(update={"scenes": {**song.scenes, "chorus": chorus.model_copy(update={"units": units})}})

    assert changed_lines(edited(change)) == ([], ["        looper: leave"])


def test_a_scene_that_goes_takes_no_comment_of_others_along() -> None:
    """The comment above the next key is not the deleted scene's."""
    result = edited(lambda song: song.model_copy(update={"scenes": {"verse": song.scenes["verse"]}, "form": ()}))

    comments = re.findall("#.*", result)
    assert "# quiet" in comments
    assert "# The one with the long verse." in comments


def test_a_key_that_goes_leaves_the_comment_below_it() -> None:
    """It stood above the next key."""
    source = "name: x\nkey: G\n# the scenes\nscenes:\n  a: {notes: loud}\n"

    assert edited(lambda song: song.model_copy(update={"key": ""}), source) == source.replace("key: G\n", "")


def test_form_entries_may_come_and_go() -> None:
    """A chorus more at the end, the first verse gone: the comment of the entry that stays is kept."""
    result = edited(lambda song: song.model_copy(update={"form": (*song.form[1:], FormEntry(scene="chorus"))}))

    assert "{scene: chorus, bars: 8}   # count in" in result
    assert result.count("- chorus") == 1


def test_a_new_order_is_written() -> None:
    """The order of scenes is the player's."""
    result = edited(lambda song: song.model_copy(update={"scenes": dict(reversed(song.scenes.items()))}))

    assert list(parse_aggregate("song", result)[1].scenes) == ["chorus", "verse"]
    assert "# really" in result


def test_a_text_with_anchors_is_still_right_after_an_edit() -> None:
    """One of two scenes that share their words changes; if need be the file is written anew."""
    source = "name: x\nscenes:\n  a: &a\n    units: {fuzz: on}\n  b: *a\n"

    edited(
        lambda song: song.model_copy(update={"scenes": {**song.scenes, "b": Scene(units={"fuzz": {"main": "off"}})}}),
        source,
    )


def test_a_written_default_stays_written() -> None:
    """The player said 4/4 in so many words."""
    source = "name: x\nmetre: 4/4\ntempo: 90\n"

    assert edited(lambda song: song.model_copy(update={"tempo": 91}), source) == source.replace("90", "91")


def test_settings_are_edited_as_well() -> None:
    """With the comment of whoever measured the time."""
    source = "# our hall\ntuning: 442\npress_ms: 650  # measured\n"

    result = settings_text(Settings(tuning=441, press_ms=650), source)

    assert result == source.replace("442", "441")
    assert settings_text(Settings(tuning=441), "# all as it comes\n") == "# all as it comes\ntuning: 441\n"
    assert parse_settings(settings_text(Settings())) == Settings()


def test_comments_that_cannot_stay_in_place_move_to_the_top() -> None:
    """Words of many lines before the last comment of a file: the round trip would write what cannot be read."""
    source = "name: x\nscenes:\n  a:\n  b:\n  # tail of scenes\n\n\n# end\n"

    result = edited(lambda song: song.model_copy(update={"notes": "a\n\n  b\nc"}), source)

    assert result.startswith("# tail of scenes\n# end\nname: x\n")


def test_a_form_entry_can_be_put_between_others() -> None:
    """The comments of those before and after it stay with them."""
    result = edited(
        lambda song: song.model_copy(update={"form": (song.form[0], FormEntry(scene="verse"), *song.form[1:])})
    )

    assert changed_lines(result) == ([], [])
    assert result.count("- verse\n") == SONG.count("- verse\n") + 1


# Ways in which people write YAML, each of them a song.
WAYS = [
    SONG,
    """\
{name: x, tempo: 3e1,
  # in flow
  scenes: {a: {units: {fuzz: on,
     delay: off}},   # end of line
     b: {}},
}
""",
    """\
'name': "x"
scenes:
    a: &a
        units: &u
            fuzz: on # c
    b:
        units: *u
form: [a, b,
  b]
""",
    """\
%YAML 1.2
---
name: x
form:

  - a   # 1

  # two
  - scene: a   # 2
    bars: 4

    words: "b
      c"
scenes:

  a:   # first
    # none
...
""",
    "name: x\ntempo: 90 # no line end",
    "\n\n# c\n\nname: >-\n  x\n  y\nnotes: |\n  one\n    # no comment\n\n  two   \nkey: z\n\n",
]
SCENES = st.dictionaries(
    st.sampled_from("abc"),
    st.builds(
        Scene,
        units=st.dictionaries(st.sampled_from(["fuzz", "delay"]), st.sampled_from([{"main": "on"}, {"gain": "5"}, {}])),
        notes=st.sampled_from(["", "x\ny", "# z"]),
    ),
    max_size=3,
)
FORMS = st.lists(
    st.builds(
        FormEntry, scene=st.sampled_from("abc"), bars=st.sampled_from([None, 3]), words=st.sampled_from(["", "null"])
    ),
    max_size=4,
).map(tuple)
SONGS = st.builds(
    Song,
    tempo=st.sampled_from([None, 60, 61.5]),
    key=st.sampled_from(["", "G", "~"]),
    scenes=SCENES,
    form=FORMS,
    notes=st.sampled_from(["", "hello", "a\n\n  b\nc", "- x"]),
)


@given(st.sampled_from(WAYS), SONGS)
def test_any_text_can_be_edited_into_any_song(source: str, song: Song) -> None:
    """However it is written and whatever changes: the edit reads back as wanted, and comments are not dropped."""
    name, old, _ = parse_aggregate("song", source)

    result = aggregate_text("song", name, song, source)

    assert whole_json("song", parse_aggregate("song", result)[1]) == whole_json("song", song)
    if whole_json("song", old) != whole_json("song", song):
        assert result in edited_texts(source, plain("song", name, old), plain("song", name, song))
