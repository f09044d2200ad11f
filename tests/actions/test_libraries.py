"""A library as a whole: its schema fits its files, and a check finds what is wrong."""

import datetime
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from ruamel.yaml import YAML

from scenebook.actions.libraries import check, create, import_from, schema
from tests.support.checkout import ROOT

DEMO = ROOT / "demo_library"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    path = tmp_path / "library.scenebook"
    create(path)
    import_from(path, DEMO)
    return path


def faults_by_schema(folder: Path) -> Iterator[str]:
    """Yield what an editor that knows the schema would underline, the files read as YAML 1.2 by a reader not ours."""
    files = schema()["files"]
    for path in sorted(folder.rglob("*.yaml")):
        key = path.name if path.parent == folder else f"{path.parent.name}/*.yaml"
        said = _plain(YAML(typ="safe").load(path.read_text(encoding="utf-8")))
        for error in jsonschema.Draft202012Validator(files[key]).iter_errors(said):
            yield f"{path.name}: {list(error.absolute_path)}: {error.message}"


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def test_the_schema_accepts_every_file_of_the_demo_library() -> None:
    """Shorthand too: an editor must not underline what import takes."""
    assert list(faults_by_schema(DEMO)) == []


@pytest.mark.parametrize(
    "text",
    ["name: x\nrolls: [fuzz]\n", "name: x\nroles: [fuz]\n", "roles: [fuzz]\n", "name: x\ncontrols: {gain: dial}\n"],
)
def test_the_schema_refuses_what_import_refuses(tmp_path: Path, text: str) -> None:
    """A wrong key, a wrong word, no name, no such scale."""
    (tmp_path / "units").mkdir()
    (tmp_path / "units" / "x.yaml").write_text(text)

    assert list(faults_by_schema(tmp_path))


def test_a_whole_library_has_no_faults(demo: Path) -> None:
    """Every gig of the demo can be played on its rig."""
    found = check(demo)

    assert found == (1, 34, 5, 29, 3, ())


def test_a_check_finds_a_row_that_names_nothing(demo: Path) -> None:
    """Another program may have been at the file; SQLite itself is asked."""
    with closing(sqlite3.connect(demo)) as connection, connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("DELETE FROM unit WHERE name = 'octave down'")

    found = check(demo)

    assert found.units == 33
    assert found.faults
    assert all("is not there" in fault for fault in found.faults)
