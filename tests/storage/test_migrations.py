"""A library of every released revision opens, and the revisions make exactly the tables that the code knows."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from scenebook.storage import check, export_folder, go_back, open_library
from scenebook.storage.change import Source
from scenebook.storage.connecting import raw_connection, wrapped
from scenebook.storage.folder import parse_aggregate
from scenebook.storage.marks import FIRST, HEAD
from scenebook.storage.tables import metadata
from scenebook.storage.upgrading import settings_for, upgrade
from tests.storage.filling import text
from tests.storage.full import first_library

STORED = sorted(Path(__file__).parent.glob("library-*.sql"))


def stored_library(dump: Path, path: Path) -> Path:
    connection = sqlite3.connect(path)
    connection.executescript(dump.read_text(encoding="utf-8"))
    connection.execute("PRAGMA journal_mode = WAL")  # as every library has been from the first
    connection.close()
    return path


def test_the_revisions_make_the_tables_that_the_code_knows(path: Path) -> None:
    """Tables changed without a revision would be missing from every library that is already out there."""
    connection = wrapped(raw_connection(path, read_only=True))

    context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
    differences = compare_metadata(context, metadata)
    connection.close()

    assert differences == []


def test_the_code_knows_the_newest_revision(path: Path) -> None:
    """Which revision is the newest is looked up without alembic, so the two must agree."""
    connection = wrapped(raw_connection(path, read_only=True))
    scripts = ScriptDirectory.from_config(settings_for(connection))
    revisions = [script.revision for script in scripts.walk_revisions()]
    connection.close()

    assert (revisions[0], revisions[-1]) == (HEAD, FIRST)
    assert revisions == sorted(revisions, reverse=True)  # newer is told from older by comparing


def test_a_library_of_every_older_revision_is_stored() -> None:
    """Whoever adds a revision adds what a library of the one before looked like."""
    older = [f"{number:04}" for number in range(int(FIRST), int(HEAD))]

    assert [dump.stem.removeprefix("library-") for dump in STORED] == older


@pytest.mark.parametrize("dump", STORED, ids=lambda dump: dump.stem)
def test_an_older_library_opens_with_all_that_it_held(dump: Path, tmp_path: Path) -> None:
    """The songs of years survive a new version of the program."""
    path = stored_library(dump, tmp_path / "old.scenebook")

    with open_library(path) as store:
        assert text(store.library()) == text(first_library())

    assert check(path) == []


@pytest.mark.parametrize("dump", STORED, ids=lambda dump: dump.stem)
def test_an_older_library_is_backed_up_before_it_is_upgraded(dump: Path, tmp_path: Path) -> None:
    """The copy is what it was, old tables included, and named after the day and the revision of the content."""
    path = stored_library(dump, tmp_path / "old.scenebook")

    open_library(path, read_only=True).close()

    (copy,) = tmp_path.glob("old-*-r1.scenebook")
    connection = sqlite3.connect(copy)
    assert connection.execute("SELECT version_num FROM alembic_version").fetchone()[0] == dump.stem[-4:]
    assert connection.execute("SELECT count(*) FROM song").fetchone()[0] == 2
    connection.close()


def test_an_upgrade_that_fails_changes_nothing(tmp_path: Path) -> None:
    """Half an upgrade would be a library that no version can open."""
    path = stored_library(STORED[0], tmp_path / "old.scenebook")
    before = sqlite3.connect(path)
    before.execute("CREATE TABLE history (in_the_way)")
    before.close()
    connection = wrapped(raw_connection(path, read_only=False))

    with pytest.raises(sqlite3.OperationalError, match="already exists"):
        upgrade(connection)
    connection.close()

    after = sqlite3.connect(path)
    assert after.execute("SELECT version_num FROM alembic_version").fetchall() == [(FIRST,)]
    assert after.execute("SELECT name FROM sqlite_master WHERE name = 'ix_history_kind'").fetchall() == []
    after.close()


def test_an_older_library_keeps_it_that_a_file_denies_a_positive_ground(path: Path, tmp_path: Path) -> None:
    """False was not stored then, since it stood for nothing said; the text of the file still says it."""
    words = "name: viola\nsupply: {volts: 15, positive_ground: false}  # its maker wrote so\n"
    with open_library(path) as store:
        with store.change("import") as change:
            for text in (words, "name: tuner\nsupply: {volts: 9}  # positive_ground is not on the plate\n"):
                name, unit, _ = parse_aggregate("unit", text)
                change.put_unit(name, unit, Source(f"{name}.yaml", text))
        with store.change("heavier") as change:
            change.put_unit("viola", store.unit("viola").model_copy(update={"weight_g": 840.0}))
    with closing(sqlite3.connect(path)) as old, old:
        for table, column in (("unit", "body"), ("history", "before")):
            said = f'UPDATE {table} SET "{column}" = replace("{column}", \',"positive_ground":false\', \'\')'
            assert old.execute(said).rowcount > 0
        old.execute("UPDATE alembic_version SET version_num = '0003'")

    with open_library(path) as store:
        grounds = [supply.positive_ground for name in ("viola", "tuner") if (supply := store.unit(name).supply)]
        go_back(store)
        export_folder(store, tmp_path / "out")

    assert grounds == [False, None]
    assert (tmp_path / "out" / "units" / "viola.yaml").read_text(encoding="utf-8") == words
