"""Nothing that a library says is lost between the model and the rows."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scenebook.errors import LibraryError
from scenebook.model import FormEntry, Library, Scene, Song
from scenebook.model.checks import check_library
from scenebook.storage import Store, open_library
from scenebook.storage.mapping import models, one_model, whole_json
from tests.storage.filling import text
from tests.storage.full import fields_seen, full_library

# What a player may call things and write into them: any script, quotes, signs that YAML and JSON mind.
NAMES = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=12).filter(
    lambda name: "." not in name
)
VALUES = st.sampled_from(
    ["on", "off", "null", "~", "12:30", "5.50", "1/8.", "'", '"', "#", "a: b", "- x", "{", "é", "no"]
)


def test_the_full_library_leaves_no_field_at_its_default() -> None:
    """A new field of the model fails here until the full library tells it, and with it the tests that use it."""
    assert [key for key, told in fields_seen(full_library()).items() if not told] == []


def test_the_full_library_is_valid() -> None:
    """It could be a player's own."""
    assert [str(fault) for _, _, fault in check_library(full_library())] == []


def test_a_library_survives_its_rows(store: Store, library: Library) -> None:
    """What was entered comes back, the order of everything included."""
    assert text(store.library()) == text(library)


def test_a_library_survives_closing_and_opening(store: Store, library: Library, path: Path) -> None:
    """It lies in the file, not in the store."""
    store.close()

    with open_library(path, read_only=True) as again:
        assert text(again.library()) == text(library)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.dictionaries(NAMES, st.lists(VALUES, max_size=3), min_size=1, max_size=4), st.text(max_size=200))
def test_any_names_and_words_survive(store: Store, scenes: dict[str, list[str]], notes: str) -> None:
    """No script and no sign is special to the rows."""
    song = Song(
        scenes={name: Scene(notes=" ".join(words)) for name, words in scenes.items()},
        form=tuple(FormEntry(scene=name, words=" ".join(words)) for name, words in scenes.items()),
        notes=notes,
    )

    with store.change("any") as change:
        change.put_song("any", song)

    assert whole_json("song", store.song("any")) == whole_json("song", song)


def test_a_damaged_text_is_named_by_its_place() -> None:
    """A player is told which thing is broken, not only that one is."""
    texts = {"fuzz": "{}", "delay": '{"weight_g": "heavy"}'}

    with pytest.raises(LibraryError, match="unit 'delay', weight_g: what the library holds is damaged"):
        models("unit", texts)


def test_a_text_that_is_no_json_is_named_too() -> None:
    """Half a row, as a broken disk leaves it."""
    with pytest.raises(LibraryError, match="unit 'delay': what the library holds is damaged"):
        one_model("unit", "delay", '{"weight_g')
