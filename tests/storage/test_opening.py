"""Files that are no library, are newer, locked, protected or on a full disk: one clear error, and nothing changed."""

import multiprocessing
import os
import sqlite3
import stat
import sys
from pathlib import Path

import pytest

from scenebook.errors import LibraryError
from scenebook.model import Library, Unit
from scenebook.storage import Store, backup, check, create_library, open_library
from tests.storage.filling import fill, text


def refused(path: Path, *, read_only: bool = False) -> str:
    """Return the text of the error that opening raises; the file must stay byte for byte as it is."""
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(LibraryError) as caught:
        open_library(path, read_only=read_only)
    assert (path.read_bytes() if path.is_file() else None) == before
    return str(caught.value).removeprefix(str(path))


def test_a_new_library_is_empty_and_sound(tmp_path: Path) -> None:
    """Where everything begins."""
    path = tmp_path / "mine.scenebook"

    create_library(path)

    with open_library(path) as store:
        assert (store.revision, store.library()) == (0, Library())
    assert check(path) == []
    assert [file.name for file in tmp_path.iterdir()] == ["mine.scenebook"]


def test_creating_never_overwrites(path: Path) -> None:
    """A slip of the finger must not cost a library."""
    before = path.read_bytes()

    with pytest.raises(LibraryError, match=r"there is a file of that name already\. Choose another name"):
        create_library(path)

    assert path.read_bytes() == before


def test_creating_where_there_is_no_folder_says_so(tmp_path: Path) -> None:
    """The folder has to be there first."""
    with pytest.raises(LibraryError, match="cannot be written: No such file or directory"):
        create_library(tmp_path / "nowhere" / "mine.scenebook")


def test_a_library_that_is_not_there_is_named(tmp_path: Path) -> None:
    """The error says how to make one."""
    assert refused(tmp_path / "no") == ": there is no library here. Make one with: scenebook library create."


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere every file name is Unicode")
@pytest.mark.parametrize("name", [b"caf\xe9", "café, 100 %? #1".encode(), b"two  words"])
def test_a_library_may_lie_anywhere(tmp_path: Path, name: bytes) -> None:
    """In a folder of any name, even one that an older system wrote in another encoding."""
    folder = tmp_path / os.fsdecode(name)
    folder.mkdir()
    path = folder / "mine.scenebook"

    create_library(path)

    with open_library(path) as store:
        fill(store, Library(units={"fuzz": Unit()}))
    with open_library(backup(path), read_only=True) as store:
        assert store.names("unit") == ("fuzz",)


def test_a_folder_is_no_library_file(tmp_path: Path) -> None:
    """The neutral folder is imported, not opened."""
    assert refused(tmp_path) == ": this is a folder, not a library file."


@pytest.mark.parametrize("content", [b"", b"not a database, but a long letter to nobody " * 40], ids=["empty", "text"])
def test_a_file_that_is_not_sqlite_is_refused(tmp_path: Path, content: bytes) -> None:
    """Whatever it is, it is left alone."""
    path = tmp_path / "letter"
    path.write_bytes(content)

    assert refused(path).startswith(": this is not a Scenebook library. Give the file")


def test_another_programs_database_is_refused(tmp_path: Path) -> None:
    """It is SQLite, but not ours, even with tables of the same names."""
    path = tmp_path / "other.db"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE unit (id INTEGER PRIMARY KEY)")
    connection.close()

    assert refused(path).startswith(": this is not a Scenebook library")


def test_a_newer_library_is_refused(path: Path) -> None:
    """An older version would lose what it does not know of."""
    connection = sqlite3.connect(path)
    connection.execute("UPDATE alembic_version SET version_num = '9000'")
    connection.commit()
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()

    assert "made by a newer version (tables 9000" in refused(path)
    assert "Install the newer version of scenebook." in refused(path, read_only=True)


@pytest.mark.parametrize("table", ["alembic_version", "library"])
def test_a_library_without_its_own_row_is_refused(path: Path, table: str) -> None:
    """Whatever happened to it, guessing would make it worse."""
    connection = sqlite3.connect(path)
    connection.execute(f"DELETE FROM {table}")
    connection.commit()
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()

    assert refused(path) == ": the library file is damaged. Go back to a backup of it."


def test_a_damaged_file_is_refused(path: Path, library: Library) -> None:
    """Pages of nonsense in the middle, as from a stick pulled out too early."""
    with open_library(path) as store:
        fill(store, library)
    data = bytearray(path.read_bytes())
    data[4096:] = b"\x55" * (len(data) - 4096)
    path.write_bytes(data)

    with pytest.raises(LibraryError, match=r"the library file is damaged\. Go back to a backup of it"):
        open_library(path).close()


def test_a_row_that_the_model_refuses_fails_on_reading_with_its_place(store: Store, path: Path) -> None:
    """A damaged library says where, instead of compiling nonsense."""
    connection = sqlite3.connect(path)
    connection.execute("UPDATE unit SET body = '{\"weight_g\": -1}' WHERE name = 'fuzz'")
    connection.commit()
    connection.close()

    with pytest.raises(LibraryError, match="unit 'fuzz', weight_g: what the library holds is damaged"):
        store.library()
    assert str(check(path)[0]).startswith("unit 'fuzz', weight_g")


def test_damaged_settings_are_named(store: Store, path: Path) -> None:
    """They belong to no unit, rig, song or gig."""
    connection = sqlite3.connect(path)
    connection.execute("""UPDATE library SET settings = '{"tuning": 1}'""")
    connection.commit()
    connection.close()

    with pytest.raises(LibraryError, match="settings: what the library holds is damaged"):
        store.settings()


def test_check_names_what_does_not_fit(store: Store, path: Path) -> None:
    """Rows that each are right, and together are not."""
    connection = sqlite3.connect(path)
    connection.execute("""UPDATE scene_unit SET setting = '{"treble":"9"}' WHERE setting LIKE '%off%'""")
    connection.commit()
    connection.close()

    (fault,) = check(path)

    assert str(fault).startswith("song 'Harbour', scene 'verse', unit 'fuzz', 'treble': no member is called 'treble'")


def test_check_names_a_reference_that_leads_nowhere(store: Store, path: Path) -> None:
    """What another program may leave behind that does not keep foreign keys."""
    connection = sqlite3.connect(path)
    connection.execute("DELETE FROM unit WHERE name = 'spare fuzz'")
    connection.commit()
    connection.close()

    assert "a row of 'gig_unit' names one of 'unit' that is not there" in " ".join(map(str, check(path)))


def test_a_protected_file_opens_for_reading_only(path: Path) -> None:
    """A player who takes the right to write away means it, the system's administrator included."""
    path.chmod(stat.S_IRUSR)

    assert refused(path) == ": the library is read-only. Make the file writable, or copy it."
    with open_library(path, read_only=True) as store:
        assert store.names("unit") == ()


def test_a_store_for_reading_changes_nothing(path: Path) -> None:
    """Said before anything is done."""
    with (
        open_library(path, read_only=True) as store,
        pytest.raises(LibraryError, match="the library is open for reading only"),
        store.change("try") as change,
    ):
        change.put_unit("fuzz", Unit())


def test_a_full_disk_changes_nothing(store: Store, path: Path, library: Library) -> None:
    """SQLite is told that there is no page left, and so meets the same error as on a full disk."""
    pages = store._connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    store._connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    store._connection.rollback()
    revision = store.revision

    with pytest.raises(LibraryError, match=r"the disk is full; nothing was changed\. Make room on it and try again"):
        put_many(store)

    assert (text(store.library()), store.revision) == (text(library), revision)
    assert check(path) == []


def put_many(store: Store) -> None:
    with store.change("too much") as change:
        for number in range(300):
            change.put_unit(f"unit {number}", Unit(notes="x" * 2000))


def test_a_locked_library_is_named_and_left(path: Path) -> None:
    """Another program that holds on to it for too long."""
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")

    with (
        open_library(path, busy_s=0.05) as store,
        pytest.raises(
            LibraryError, match=r"another program is writing to the library\. Try again when it has finished"
        ),
        store.change("wait") as change,
    ):
        change.put_unit("fuzz", Unit())
    other.close()


def test_a_reader_sees_one_moment_while_another_writes(store: Store, path: Path, library: Library) -> None:
    """Reading does not wait for writing, and sees nothing half-done."""
    with open_library(path, read_only=True) as reader, store.change("more") as change:
        change.put_unit("new", Unit())
        change.write()
        seen = reader.names("unit")

    assert seen == tuple(sorted(library.units, key=str.casefold))


def add_units(path: Path, prefix: str, count: int) -> None:
    """Add units one change at a time, as a process of its own; each change counts one up in a shared note."""
    with open_library(path, busy_s=60) as store:
        for number in range(count):
            with store.change(f"{prefix} {number}") as change:
                counted = int(store.unit("counter").notes) + 1
                change.put_unit("counter", Unit(notes=str(counted)))
                change.put_unit(f"{prefix} {number}", Unit())


def test_two_processes_at_once_lose_nothing(path: Path) -> None:
    """A laptop with two windows open: what one read is still so when it writes."""
    with open_library(path) as store, store.change("begin") as change:
        change.put_unit("counter", Unit(notes="0"))
    spawn = multiprocessing.get_context("spawn")
    both = [spawn.Process(target=add_units, args=(path, prefix, 25)) for prefix in ("left", "right")]

    for process in both:
        process.start()
    for process in both:
        process.join(120)

    assert [process.exitcode for process in both] == [0, 0]
    with open_library(path) as store:
        assert (store.unit("counter").notes, len(store.names("unit")), store.revision) == ("50", 51, 51)


def test_two_processes_may_upgrade_at_once(path: Path, tmp_path: Path) -> None:
    """The second finds the work done."""
    from tests.storage.test_migrations import STORED, stored_library

    old = stored_library(STORED[0], tmp_path / "old.scenebook")
    spawn = multiprocessing.get_context("spawn")
    both = [spawn.Process(target=open_and_close, args=(old,)) for _ in range(2)]

    for process in both:
        process.start()
    for process in both:
        process.join(120)

    assert [process.exitcode for process in both] == [0, 0]
    assert check(old) == []


def open_and_close(path: Path) -> None:
    open_library(path, busy_s=60).close()


def test_a_backup_is_a_whole_library(store: Store, path: Path, library: Library) -> None:
    """Taken while the library is open and its latest change is still in the log beside it."""
    copy = backup(path)

    assert copy.name.startswith("library-20")
    assert copy.name.endswith("-r1.scenebook")
    with open_library(copy) as other:
        assert text(other.library()) == text(library)
    assert backup(path) != copy


@pytest.mark.skipif(os.name != "posix", reason="folders are protected by permission bits on POSIX only")
def test_a_library_in_a_protected_folder_can_be_read(path: Path) -> None:
    """A stick with its slide on read-only, as far as a permission can play one."""
    path.parent.chmod(0o500)
    try:
        with open_library(path, read_only=True) as store:
            assert store.names("song") == ()
    finally:
        path.parent.chmod(0o700)
