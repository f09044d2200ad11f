"""What copies of units hold is noted beside what the library says; history keeps it as it keeps all else."""

from pathlib import Path

import pytest

from scenebook.errors import LibraryError
from scenebook.model import Library
from scenebook.storage import Box, Store, go_back, open_library
from tests.storage.filling import text

MULTI = "Mehrfach, groß"


def box(unit: str = MULTI, copy: str = "first", slot: str = "1A", body: str = "{}") -> Box:
    return Box(unit, copy, slot, body, 1, "2027-05-01")


def note(store: Store, *boxes: Box) -> None:
    with store.change("written") as change:
        change.note_boxes(boxes)


def test_what_was_noted_comes_back_by_unit_copy_and_slot(store: Store) -> None:
    """Two copies of one unit may hold different things."""
    noted = [box("fuzz", slot="2"), box(copy="spare"), box(copy="first", slot="2B"), box(copy="first")]

    note(store, *noted)

    assert store.boxes() == [noted[0], noted[3], noted[2], noted[1]]


def test_a_slot_that_is_written_again_replaces_what_was_noted_of_it_alone(store: Store) -> None:
    """A sheet for one gig leaves the other slots of the box as they are."""
    note(store, box(slot="1A"), box(slot="1B"))

    note(store, box(slot="1A", body='{"name": "new"}'))

    assert [(each.slot, each.body) for each in store.boxes()] == [("1A", '{"name": "new"}'), ("1B", "{}")]


def test_noting_is_a_change_that_history_names_although_nothing_is_heard_of_it(store: Store, library: Library) -> None:
    """It tells of boxes on a shelf, not of what the player wants to hear; but undo is for all that is done."""
    before = store.revision

    note(store, box())

    assert store.revision == before + 1
    assert [(each.what, each.kind, each.name, each.text) for each in store.history(1)] == [
        ("written", "box", MULTI, None)
    ]
    assert text(store.library()) == text(library)


def test_going_back_over_a_note_leaves_what_was_done_before_it(store: Store) -> None:
    """Of each copy stands what stood, and going back is itself taken back."""
    note(store, box(slot="1A"))
    note(store, box(slot="1A", body='{"name": "new"}'), box(slot="1B"), box("fuzz"))
    later = store.boxes()

    back = go_back(store)
    first = store.boxes()
    go_back(store)

    assert {(each.kind, each.name, each.text is None) for each in back} == {
        ("box", MULTI, False),
        ("box", "fuzz", True),
    }
    assert first == [box(slot="1A")]
    assert store.boxes() == later


def test_what_is_noted_again_word_for_word_is_no_change(store: Store) -> None:
    """Nothing is another than before."""
    note(store, box())
    before = store.revision

    note(store, box())

    assert store.revision == before


def test_nothing_is_noted_of_a_unit_that_goes_in_the_same_change(path: Path, library: Library) -> None:
    """Going back over the whole life of a unit ends before it was there."""
    with open_library(path) as store:
        with store.change("one unit") as change:
            change.put_unit("fuzz", library.units["fuzz"])
        note(store, box("fuzz"))
        with store.change("gone") as change:
            change.delete("unit", "fuzz")

        go_back(store, 0)
        gone = store.names("unit"), store.boxes()
        go_back(store, 2)

        assert gone == ((), [])
        assert (store.names("unit"), store.boxes()) == (("fuzz",), [box("fuzz")])


def test_what_a_unit_holds_outlives_a_change_of_the_unit(store: Store) -> None:
    """The unit keeps its row, or every change of it would forget its boxes."""
    note(store, box())

    with store.change("heavier") as change:
        change.put_unit(MULTI, store.unit(MULTI).model_copy(update={"weight_g": 1234.0}))

    assert store.boxes() == [box()]


def test_a_unit_that_goes_takes_its_boxes_along_and_brings_them_back(path: Path, library: Library) -> None:
    """Nothing is noted of a unit that is not there, and nothing that was noted is lost."""
    with open_library(path) as store:
        with store.change("one unit") as change:
            change.put_unit("fuzz", library.units["fuzz"])
        note(store, box("fuzz"))
        with store.change("gone") as change:
            change.delete("unit", "fuzz")

        without = store.boxes()
        go_back(store)

        assert (without, store.boxes()) == ([], [box("fuzz")])


def test_a_library_open_for_reading_notes_nothing(path: Path) -> None:
    """Looking changes nothing."""
    with (
        open_library(path, read_only=True) as store,
        pytest.raises(LibraryError, match="open for reading only"),
    ):
        note(store)
