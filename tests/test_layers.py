"""The layer contract bites: each import that the house forbids is found.

A contract that is kept tells nothing until a broken one is seen, so these build small houses with one bad import each.
"""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.checkout import ROOT

ROOMS = ["errors", "resources", "model", "states", "cueing", "planning", "proof", "midi", "storage", "sheets"]
ROOMS += ["live", "actions", "web", "cli"]

ALLOWED = {
    "cli": ["scenebook.web", "scenebook.actions", "typer", "rich"],
    "web": ["scenebook.actions", "scenebook.live", "fastapi", "starlette", "uvicorn", "jinja2", "segno"],
    "actions": ["scenebook.live", "scenebook.sheets", "scenebook.storage", "scenebook.proof", "scenebook.midi"],
    "live": ["scenebook.midi", "scenebook.cueing"],
    "sheets": ["scenebook.cueing", "scenebook.planning"],
    "storage": ["scenebook.model", "scenebook.resources", "sqlalchemy", "alembic"],
    "proof": ["scenebook.model"],
    "midi": ["scenebook.model", "mido", "rtmidi"],
    "planning": ["scenebook.cueing"],
    "cueing": ["scenebook.states"],
    "states": ["scenebook.model"],
    "model": ["scenebook.errors"],
}
FORBIDDEN = [
    ("model", "scenebook.states"),
    ("states", "scenebook.cueing"),
    ("cueing", "scenebook.midi"),
    ("storage", "scenebook.cueing"),
    ("storage", "scenebook.proof"),
    ("proof", "scenebook.states"),
    ("proof", "scenebook.cueing"),
    ("midi", "scenebook.planning"),
    ("midi", "scenebook.storage"),
    ("sheets", "scenebook.storage"),
    ("sheets", "scenebook.live"),
    ("web", "scenebook.cli"),
    ("actions", "scenebook.web"),
    ("live", "scenebook.web"),
    ("live", "scenebook.storage"),
    ("live", "scenebook.sheets"),
    ("live", "mido"),
    ("actions", "rtmidi"),
    ("actions", "sqlalchemy.orm"),
    ("cli", "alembic"),
    ("actions", "typer"),
    ("sheets", "rich"),
    ("states", "highspy"),
    ("live", "starlette.responses"),
    ("actions", "fastapi"),
    ("cli", "uvicorn"),
    ("sheets", "jinja2"),
]


def build_house(folder: Path, rooms: list[str], *bad: tuple[str, str]) -> None:
    shutil.copy(ROOT / "pyproject.toml", folder)
    for room in rooms:
        (folder / "scenebook" / room).mkdir(parents=True)
        wanted = [name for name in ALLOWED.get(room, []) if name.removeprefix("scenebook.") in rooms or "." not in name]
        wanted += [imported for importer, imported in bad if importer == room]
        (folder / "scenebook" / room / "__init__.py").write_text("".join(f"import {name}\n" for name in wanted))
    (folder / "scenebook" / "__init__.py").touch()


def check(folder: Path) -> "subprocess.CompletedProcess[str]":
    """Run what `lint-imports` runs; it looks for the package in the current folder first."""
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()", "--no-cache"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True)


@pytest.mark.parametrize("count", [2, 5, len(ROOMS)])
def test_the_house_passes_while_it_is_being_built(tmp_path: Path, count: int) -> None:
    """A room that is not there yet is no fault."""
    build_house(tmp_path, ROOMS[:count])

    result = check(tmp_path)

    assert result.returncode == 0, result.stdout
    assert "0 broken" in result.stdout


def test_every_forbidden_import_is_found(tmp_path: Path) -> None:
    """Arrows run down only; each library has one room; a proof that knew the compiler would repeat its mistakes."""
    missed = []
    for number, bad in enumerate(FORBIDDEN):
        folder = tmp_path / str(number)
        folder.mkdir()
        build_house(folder, ROOMS, bad)
        result = check(folder)
        if result.returncode != 1 or " BROKEN" not in result.stdout:
            missed.append((bad, result.stdout[-500:]))

    assert missed == []
