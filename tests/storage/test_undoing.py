"""Going back: what stood before the latest changes stands again, and going back is a change itself."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from scenebook.errors import BadValueError
from scenebook.model import Song, Unit
from scenebook.storage import create_library, go_back, open_library
from scenebook.storage.change import Source


def library_with_changes(path: Path) -> Path:
    """Return a library: revision 1 has 'fuzz', 2 notes on it, 3 a song."""
    create_library(path)
    with open_library(path) as store:
        with store.change("one") as change:
            change.put_unit("fuzz", Unit(), Source("fuzz.yaml", "name: fuzz  # the warm one\n"))
        with store.change("two") as change:
            change.put_unit("fuzz", Unit(notes="lent"))
        with store.change("three") as change:
            change.put_song("Low tide", Song(tempo=96))
    return path


def test_going_back_deletes_what_was_new_and_restores_what_was_changed(tmp_path: Path) -> None:
    """Over several changes each thing stands as before the first of them."""
    with open_library(library_with_changes(tmp_path / "x")) as store:
        back = go_back(store, 1)

        assert {(each.kind, each.name, each.text is None) for each in back} == {
            ("song", "Low tide", True),
            ("unit", "fuzz", False),
        }
        assert store.names("song") == ()
        assert store.unit("fuzz") == Unit()
        assert store.revision == 4
        assert store.history(1)[0].what == "back to revision 1"


def test_going_back_can_be_taken_back(tmp_path: Path) -> None:
    """Nothing that a player entered is ever lost, not even by undoing."""
    with open_library(library_with_changes(tmp_path / "x")) as store:
        go_back(store)
        assert store.names("song") == ()
        go_back(store)

        assert store.song("Low tide") == Song(tempo=96)
        assert store.unit("fuzz").notes == "lent"


def test_the_text_of_a_file_comes_back_with_its_thing(tmp_path: Path) -> None:
    """Comments in what was imported are a player's words as well."""
    with open_library(library_with_changes(tmp_path / "x")) as store:
        go_back(store, 0)
        assert store.names("unit") == ()
        go_back(store)

        assert store.sources("unit")["fuzz"] == ("fuzz.yaml", "name: fuzz  # the warm one\n")


@pytest.mark.parametrize("to", [-1, 3, 9])
def test_only_earlier_revisions_can_be_gone_back_to(tmp_path: Path, to: int) -> None:
    """The refusal says which there are."""
    with (
        open_library(library_with_changes(tmp_path / "x")) as store,
        pytest.raises(BadValueError, match="a revision from 0 to 2"),
    ):
        go_back(store, to)


def test_history_is_read_from_a_revision_on(tmp_path: Path) -> None:
    """The last changes are asked for by number, however many things each touched."""
    with open_library(library_with_changes(tmp_path / "x")) as store:
        assert [each.what for each in store.history(None, since=1)] == ["three", "two"]


def test_what_an_older_version_took_in_comes_back_although_it_is_refused_where_it_is_entered(tmp_path: Path) -> None:
    """Volts in words that nobody can read: they stand in the library, and undo puts back what stood."""
    path = library_with_changes(tmp_path / "x")
    with closing(sqlite3.connect(path)) as old, old:
        old.execute("""UPDATE unit SET body = '{"supply":{"volts":"see plate"}}'""")
    with open_library(path) as store:
        before = store.unit("fuzz")
        with store.change("gone") as change:
            change.delete("unit", "fuzz")

        go_back(store)

        assert store.unit("fuzz") == before
        with pytest.raises(BadValueError, match="'see plate' is no voltage"), store.change("again") as change:
            change.put_unit("other", before)
