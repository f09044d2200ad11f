"""Files are whole or not there."""

from pathlib import Path

import pytest

from scenebook.actions.files import file_name, write_file, write_files
from scenebook.errors import OutputError


def test_a_file_is_replaced_only_once_the_new_one_is_whole(tmp_path: Path) -> None:
    """Yesterday's sheet is better than half of today's."""
    path = tmp_path / "sheet.txt"
    write_file(path, b"yesterday")
    write_file(path, b"today")

    assert path.read_bytes() == b"today"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_is_made_for_several_files(tmp_path: Path) -> None:
    """`--to` names a folder that need not be there yet."""
    folder = tmp_path / "a" / "b"

    assert write_files(folder, {"x": b"1", "y": b"2"}) == (folder / "x", folder / "y")
    assert (folder / "y").read_bytes() == b"2"


@pytest.mark.parametrize("name", ["nowhere/file", "folder"])
def test_what_cannot_be_written_is_said_and_leaves_nothing(tmp_path: Path, name: str) -> None:
    """A folder that is missing, and a folder in the file's place."""
    (tmp_path / "folder").mkdir()

    with pytest.raises(OutputError, match="cannot be written"):
        write_file(tmp_path / name, b"data")

    assert list(tmp_path.iterdir()) == [tmp_path / "folder"]


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """A file of that name stands in its place."""
    (tmp_path / "file").write_text("")

    with pytest.raises(OutputError, match="cannot be written"):
        write_files(tmp_path / "file", {"x": b"1"})


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["Pell Quay hall"], "pell-quay-hall"),
        (["Dredger's waltz", "front"], "dredger-s-waltz-front"),
        (["../..\\x"], "x"),
        (["Träume", "夢"], "träume-夢"),
        (["?!"], "unnamed"),
    ],
)
def test_names_of_files_are_safe_and_readable(words: list[str], name: str) -> None:
    """Any script, and nothing that a system takes for a path."""
    assert file_name(*words) == name
