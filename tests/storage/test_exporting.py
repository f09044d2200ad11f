"""What was imported comes back as it was; what a command changed changes that alone; nothing unknown is overwritten."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pydantic import ValidationError

from scenebook.errors import OutputError
from scenebook.model import FormEntry, Gig, GigSet, Library, Scene, SetEntry, Settings, Song, Unit
from scenebook.resources import demo_library_folder
from scenebook.storage import Store, export_folder, import_folder, open_library, read_folder
from scenebook.storage.exporting import aggregate_text, settings_text
from scenebook.storage.folder import parse_aggregate, parse_settings
from scenebook.storage.mapping import whole_json
from tests.storage.filling import text

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


def files(path: Path) -> dict[str, bytes]:
    return {file.relative_to(path).as_posix(): file.read_bytes() for file in sorted(path.rglob("*")) if file.is_file()}


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


def test_what_was_imported_comes_back_byte_for_byte(path: Path, tmp_path: Path) -> None:
    """Comments, order, spaces: the demo library, out of the database again."""
    with open_library(path) as store:
        import_folder(store, demo_library_folder())

        count = export_folder(store, tmp_path / "out")

    original = {place: data for place, data in files(demo_library_folder()).items() if place.endswith(".yaml")}
    assert files(tmp_path / "out") == original
    assert count == len(original)


@pytest.mark.parametrize("source", [SONG.replace("\n", "\r\n"), "\ufeff" + SONG, SONG.rstrip("\n")])
def test_other_editors_ways_come_back_too(store: Store, tmp_path: Path, source: str) -> None:
    """Windows line ends, a byte order mark, no last line end; and an edit keeps them."""
    assert aggregate_text("song", "Harbour", parse_aggregate("song", source)[1], source) == source

    result = edited(lambda song: song.model_copy(update={"tempo": 60}), source)

    assert result.rstrip("\r\n") == source.replace("tempo: 92", "tempo: 60").rstrip("\r\n")


def test_a_library_survives_its_files(store: Store, library: Library, tmp_path: Path) -> None:
    """The one in which no field holds its default, written anew and read again."""
    export_folder(store, tmp_path / "out")

    again, _ = read_folder(tmp_path / "out")

    assert text(again) == text(library)


def test_files_made_here_are_short_and_plain(store: Store, tmp_path: Path) -> None:
    """As a person would write them: short forms, no quotes that are not needed, safe names in any script."""
    with store.change("new") as change:
        change.put_unit("Flöte / 2", Unit(controls={"gain": {"scale": "clock"}}, size={"width": 60, "depth": 120}))
        change.put_song(
            "новая",
            Song(
                scenes={"a": Scene(units={"fuzz": {"main": "on"}, "Mehrfach, groß": {"preset": "2B"}}, notes="x\ny")},
                form=(FormEntry(scene="a"), FormEntry(scene="a", bars=8)),
            ),
        )

    export_folder(store, tmp_path / "out")

    out = files(tmp_path / "out")
    assert out["units/flöte-2.yaml"].decode() == (
        "name: Flöte / 2\ncontrols:\n  gain: clock\nsize: {width: 60, depth: 120}\n"
    )
    assert out["songs/новая.yaml"].decode() == (
        "name: новая\n"
        "scenes:\n"
        "  a:\n"
        "    units:\n"
        "      fuzz: on\n"
        "      Mehrfach, groß: 2B\n"
        "    notes: |-\n"
        "      x\n"
        "      y\n"
        "form:\n"
        "  - a\n"
        "  - {scene: a, bars: 8}\n"
    )


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


def test_a_changed_song_changes_its_file_alone(path: Path, tmp_path: Path) -> None:
    """The folder under version control shows one line."""
    with open_library(path) as store:
        import_folder(store, demo_library_folder())
        export_folder(store, tmp_path / "out")
        before = files(tmp_path / "out")
        with store.change("tempo") as change:
            change.put_song("Chalk line", store.song("Chalk line").model_copy(update={"tempo": 121}))

        export_folder(store, tmp_path / "out")

    after = files(tmp_path / "out")
    assert [place for place in after if after[place] != before[place]] == ["songs/chalk-line.yaml"]
    assert after["songs/chalk-line.yaml"] == before["songs/chalk-line.yaml"].replace(b"tempo: 120", b"tempo: 121")


def test_an_export_can_be_renewed_again_and_again(store: Store, tmp_path: Path) -> None:
    """Each time the folder holds what an older state of the library said, and nothing else."""
    for tempo in (100, 110, 120):
        export_folder(store, tmp_path / "out")
        with store.change("tempo") as change:
            change.put_song("Harbour", store.song("Harbour").model_copy(update={"tempo": tempo}))
            change.put_settings(Settings(tuning=440 + tempo / 100))

    export_folder(store, tmp_path / "out")

    assert b"tempo: 120" in files(tmp_path / "out")["songs/harbour.yaml"]


@pytest.mark.parametrize(
    ("place", "content", "message"),
    [
        ("letter.txt", "Dear", "there is something else here already. Give a new folder, or an export to renew."),
        ("songs/harbour.yaml", "name: Harbour\n", "this file says something that the library does not know. Import it"),
        (
            "songs/other.yaml",
            "name: other\n",
            "this file says something that the library does not know. Import it first",
        ),
        ("library.yaml", "tuning: 410\n", "this file says something that the library does not know."),
    ],
)
def test_nothing_that_the_library_does_not_know_is_overwritten(
    store: Store, tmp_path: Path, place: str, content: str, message: str
) -> None:
    """A folder with other things in it, or with a file that was edited since: it is refused and stays as it is."""
    out = tmp_path / "out"
    (out / place).parent.mkdir(parents=True)
    (out / place).write_text(content)

    with pytest.raises(OutputError, match=re.escape(message)):
        export_folder(store, out)

    assert files(out) == {place: content.encode()}


def test_a_file_of_something_that_was_deleted_is_named(store: Store, tmp_path: Path) -> None:
    """Left there it would come back with the next import; whether it may go is for the player to say."""
    with store.change("more") as change:
        change.put_song("short-lived", Song())
    export_folder(store, tmp_path / "out")
    with store.change("less") as change:
        change.delete("song", "short-lived")

    with pytest.raises(OutputError, match="this file is of something that was taken out of the library"):
        export_folder(store, tmp_path / "out")


def test_other_files_beside_an_export_stay(store: Store, tmp_path: Path) -> None:
    """A folder under version control has more in it."""
    export_folder(store, tmp_path / "out")
    (tmp_path / "out/.git").mkdir()
    (tmp_path / "out/.git/config").write_text("x")
    (tmp_path / "out/README").write_text("ours")

    export_folder(store, tmp_path / "out")

    assert {".git/config", "README"} < files(tmp_path / "out").keys()


def test_an_export_that_cannot_be_written_leaves_nothing(store: Store, tmp_path: Path) -> None:
    """A file stands where the folder's folder should be."""
    (tmp_path / "file").write_text("x")

    with pytest.raises(OutputError, match="cannot be written"):
        export_folder(store, tmp_path / "file" / "out")

    assert [file.name for file in tmp_path.iterdir() if "out" in file.name or "part" in file.name] == []


def test_two_names_that_give_one_file_name_get_two(store: Store, tmp_path: Path) -> None:
    """`A/B` and `A B` are two songs; so is one that is called like a device of some system."""
    with store.change("more") as change:
        for name in ("A/B", "A B", "con", "..."):
            change.put_song(name, Song())
        change.put_gig("g", Gig(sets=(GigSet(name="s", songs=(SetEntry(song="A/B"),)),)))

    export_folder(store, tmp_path / "out")

    songs = [place for place in files(tmp_path / "out") if place.startswith("songs/")]
    assert songs == [
        "songs/a-b-2.yaml",
        "songs/a-b.yaml",
        "songs/con-.yaml",
        "songs/harbour.yaml",
        "songs/house.yaml",
        "songs/unnamed.yaml",
    ]
