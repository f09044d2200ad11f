"""Which evening a gig goes on with, what its file is called, and who may write to it."""

import multiprocessing
import os
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from scenebook.errors import BadValueError, OutputError
from scenebook.storage.evenings import Evening, GigLock, evening_for, evenings, keys_file, stand_folder
from scenebook.storage.journal import Journal

GIG = "Pier, 1 May"
NOON = 1_809_864_000.0  # 2027-05-09 in every time zone but the farthest
HOUR = 3_600
_PROCESSES = multiprocessing.get_context("forkserver")


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return tmp_path / "my library.scenebook"


def play(library: Path, gig: str, at: float, *, ends: bool = False, afresh: bool = False) -> Evening:
    """Run a gig for ten minutes, and end it or let it crash."""
    evening = evening_for(library, gig, at, afresh=afresh)
    with Journal(evening.path) as journal:
        journal.write({"kind": "opened", "at": at, "gig": gig})
        journal.write({"kind": "step", "at": at + 600})
        if ends:
            journal.write({"kind": "closed", "at": at + 601, "why": "closed"})
    return evening


def test_an_evening_lies_beside_the_library_and_is_called_after_gig_and_day(library: Path) -> None:
    """Whoever looks into the folder finds the evening without this program."""
    evening = play(library, GIG, NOON)

    assert evening.is_new
    assert evening.path.parent == stand_folder(library) == library.parent / "my library.stand"
    assert evening.path.name.startswith(f"{GIG}, 2027-05-")


def test_a_gig_that_was_cut_off_is_gone_on_with(library: Path) -> None:
    """The laptop crashed between two songs: the evening is still the same."""
    first = play(library, GIG, NOON)

    again = evening_for(library, GIG, NOON + HOUR)

    assert again.path == first.path
    assert not again.is_closed
    assert (again.began, again.ended) == (NOON, NOON + 600)


def test_after_eighteen_hours_it_is_another_evening(library: Path) -> None:
    """The same gig played again in summer begins at its beginning; the spring stays where it is."""
    first = play(library, GIG, NOON)

    same, other = (evening_for(library, GIG, NOON + 600 + hours * HOUR) for hours in (17.9, 18.1))

    assert same.path == first.path
    assert other.is_new
    assert other.path != first.path


def test_a_clock_that_was_put_back_does_not_lose_the_evening(library: Path) -> None:
    """A laptop that finds the right time on the venue's network may be an hour earlier than before."""
    first = play(library, GIG, NOON)

    assert evening_for(library, GIG, NOON - HOUR).path == first.path


def test_afresh_begins_a_new_file_and_keeps_the_old_one(library: Path) -> None:
    """Two shows on one day: neither writes over the other."""
    files = [play(library, GIG, NOON + hour * HOUR, ends=True, afresh=hour > 0).path for hour in range(3)]

    assert len(set(files)) == 3
    assert all(file.is_file() for file in files)
    assert evening_for(library, GIG, NOON + 3 * HOUR).path == files[-1]
    assert [evening.path for evening in evenings(library, GIG)] == files


def test_a_run_that_the_player_ended_says_so(library: Path) -> None:
    """Ended is not cut off: the next run of the same day begins at home."""
    play(library, GIG, NOON, ends=True)

    assert evening_for(library, GIG, NOON + HOUR).is_closed


def test_the_runs_of_another_stand_that_was_followed_are_not_the_own_ones(library: Path) -> None:
    """The first laptop ended and began again while this one followed, and crashed."""
    evening = play(library, GIG, NOON)
    with Journal(evening.path) as journal:
        for kind in ("opened", "closed", "opened"):
            journal.write({"kind": kind, "at": NOON + 700, "gig": GIG, "copied": True})

    assert not evening_for(library, GIG, NOON + HOUR).is_closed


def test_a_start_that_came_to_nothing_does_not_end_the_evening(library: Path) -> None:
    """Cut off in mid-set, started, and ended at once since the page would not open: the set still stands there."""
    evening = play(library, GIG, NOON)
    with Journal(evening.path) as journal:
        for kind in ("opened", "port", "closed"):
            journal.write({"kind": kind, "at": NOON + 700, "gig": GIG})

    assert not evening_for(library, GIG, NOON + HOUR).is_closed


@pytest.mark.parametrize(
    "name",
    [
        "../../etc/passwd",
        "a/b",
        "a\\b",
        "a:b",
        "CON",
        "..",
        ".hidden",
        "Möwe “neun”",
        "x" * 80,
        "海" * 80,
        "what? *",
        " a ",
        "a\0b",
    ],
)
def test_any_gig_has_a_file_of_its_own(library: Path, name: str) -> None:
    """A gig may be called anything; a file may not, and never leaves the folder."""
    evening = play(library, name, NOON)

    with GigLock(library, name):
        names = {path.name for path in stand_folder(library).iterdir()}

    assert evening.path.parent.resolve() == stand_folder(library).resolve()
    assert len(names) == 2
    assert all(len(each.encode()) < 200 and not set(each) & set('/\\:*?"<>|\0') for each in names)
    assert [each.path for each in evenings(library, name)] == [evening.path]


def test_names_that_look_alike_as_files_stay_apart(library: Path) -> None:
    """What differs only in a sign that no file may have are two gigs all the same."""
    first, second = play(library, "a/b", NOON), play(library, "a\\b", NOON)

    assert first.path != second.path
    assert evening_for(library, "a/b", NOON + HOUR).path == first.path


def test_the_key_of_an_evening_lies_beside_its_journal(library: Path) -> None:
    """A page that was open stays open after a crash, and not on the next evening."""
    evening = evening_for(library, GIG, NOON)

    assert keys_file(evening).name == f"{evening.path.stem}.key"


def hold(there: Connection, library: Path) -> None:
    lock = GigLock(library, GIG)
    there.send("held")
    there.recv()
    lock.close()


def holder(library: Path) -> tuple[multiprocessing.process.BaseProcess, Connection]:
    here, there = _PROCESSES.Pipe()
    process = _PROCESSES.Process(target=hold, args=(there, library))
    process.start()
    there.close()
    assert here.recv() == "held"
    return process, here


def test_a_second_stand_for_the_same_gig_is_refused_by_name(library: Path) -> None:
    """Two stands that send to the same units would fight over them."""
    process, here = holder(library)

    with pytest.raises(BadValueError, match=rf"another stand.*process {process.pid}.*--follow"):
        GigLock(library, GIG)
    GigLock(library, "another gig").close()

    here.send("enough")
    process.join()
    GigLock(library, GIG).close()


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is a signal of POSIX")
def test_the_lock_of_a_killed_stand_is_free_at_once(library: Path) -> None:
    """After a crash nobody may have to delete a file first, in the dark, between two songs."""
    process, _ = holder(library)
    process.kill()
    process.join()

    GigLock(library, GIG).close()


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """It is found at the start, in one sentence."""
    (tmp_path / "library.stand").write_text("a file")

    with pytest.raises(OutputError, match="folder cannot be written"):
        GigLock(tmp_path / "library.scenebook", GIG)
