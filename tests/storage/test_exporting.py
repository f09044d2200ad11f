"""A folder that is written from a library: what was imported comes back, nothing unknown is overwritten."""

import re
from pathlib import Path

import pytest

from scenebook.errors import OutputError
from scenebook.model import FormEntry, Gig, GigSet, Library, Scene, SetEntry, Settings, Song, Unit
from scenebook.resources import demo_library_folder
from scenebook.storage import Store, export_folder, import_folder, open_library, read_folder
from tests.storage.filling import text


def files(path: Path) -> dict[str, bytes]:
    return {file.relative_to(path).as_posix(): file.read_bytes() for file in sorted(path.rglob("*")) if file.is_file()}


def test_what_was_imported_comes_back_byte_for_byte(path: Path, tmp_path: Path) -> None:
    """Comments, order, spaces: the demo library, out of the database again."""
    with open_library(path) as store:
        import_folder(store, demo_library_folder())

        count = export_folder(store, tmp_path / "out")

    original = {place: data for place, data in files(demo_library_folder()).items() if place.endswith(".yaml")}
    assert files(tmp_path / "out") == original
    assert count == len(original)


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
