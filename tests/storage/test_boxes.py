"""What copies of units hold is noted beside the library, and changes nothing that it says."""

from pathlib import Path

import pytest

from scenebook.errors import LibraryError
from scenebook.model import Library
from scenebook.storage import Box, Store, open_library
from tests.storage.filling import text

MULTI = "Mehrfach, groß"


def box(unit: str = MULTI, copy: str = "first", slot: str = "1A", body: str = "{}") -> Box:
    return Box(unit, copy, slot, body, 1, "2027-05-01")


def test_what_was_noted_comes_back_by_unit_copy_and_slot(store: Store) -> None:
    """Two copies of one unit may hold different things."""
    noted = [box("fuzz", slot="2"), box(copy="spare"), box(copy="first", slot="2B"), box(copy="first")]

    store.note_boxes(noted)

    assert store.boxes() == [noted[0], noted[3], noted[2], noted[1]]


def test_a_slot_that_is_written_again_replaces_what_was_noted_of_it_alone(store: Store) -> None:
    """A sheet for one gig leaves the other slots of the box as they are."""
    store.note_boxes([box(slot="1A"), box(slot="1B")])

    store.note_boxes([box(slot="1A", body='{"name": "new"}')])

    assert [(each.slot, each.body) for each in store.boxes()] == [("1A", '{"name": "new"}'), ("1B", "{}")]


def test_noting_changes_neither_revision_nor_history_nor_content(store: Store, library: Library) -> None:
    """It tells of boxes on a shelf, not of what the player wants to hear."""
    before = store.revision, store.history(None)

    store.note_boxes([box()])

    assert (store.revision, store.history(None)) == before
    assert text(store.library()) == text(library)


def test_what_a_unit_holds_outlives_a_change_of_the_unit(store: Store) -> None:
    """The unit keeps its row, or every change of it would forget its boxes."""
    store.note_boxes([box()])

    with store.change("heavier") as change:
        change.put_unit(MULTI, store.unit(MULTI).model_copy(update={"weight_g": 1234.0}))

    assert store.boxes() == [box()]


def test_a_unit_that_goes_takes_its_boxes_along(path: Path, library: Library) -> None:
    """Nothing is noted of a unit that is not there."""
    with open_library(path) as store:
        with store.change("one unit") as change:
            change.put_unit("fuzz", library.units["fuzz"])
        store.note_boxes([box("fuzz")])

        with store.change("gone") as change:
            change.delete("unit", "fuzz")

        assert store.boxes() == []


def test_a_library_open_for_reading_notes_nothing(path: Path) -> None:
    """Looking changes nothing."""
    with (
        open_library(path, read_only=True) as store,
        pytest.raises(LibraryError, match="open for reading only"),
    ):
        store.note_boxes([])
