"""The journal of a running gig: nothing of it is lost, whatever ends the process."""

import errno
import json
import multiprocessing
import os
import random
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from scenebook.errors import OutputError
from scenebook.storage.journal import Journal, read_journal

_PROCESSES = multiprocessing.get_context("forkserver")
_PROCESSES.set_forkserver_preload(["tests.storage.test_journal"])
KILLS = 200


def step(number: int, **more: object) -> dict[str, object]:
    return {"kind": "step", "at": 1_790_000_000.0 + number, "place": ["set", number, 0], **more}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "library.stand" / "Pier, 2027-05-14.jsonl"


def write_for_ever(there: Connection, path: Path) -> None:
    """Write steps and tell of each as soon as `write` has returned."""
    number = len(read_journal(path).records) if path.exists() else 0
    with Journal(path) as journal:
        while True:
            journal.write(step(number, song="Nine gannets" * (number % 40)))
            there.send(number)
            number += 1


def killed_while_writing(path: Path, patience_s: float) -> int:
    """Let a process write, kill it, and return the last record that it was sure of."""
    here, there = _PROCESSES.Pipe()
    process = _PROCESSES.Process(target=write_for_ever, args=(there, path))
    process.start()
    there.close()
    sure = here.recv()
    threading.Event().wait(patience_s)
    process.kill()
    process.join()
    while here.poll():
        try:
            sure = here.recv()
        except EOFError:
            break
    here.close()
    return int(sure)


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is a signal of POSIX")
def test_a_killed_process_has_lost_nothing_that_it_wrote(file: Path, tell: Callable[[str], None]) -> None:
    """The battery of nerves at a gig: two hundred kills, one journal, and every record that was sure is there."""
    chance = random.Random(14)
    for _ in range(KILLS):
        sure = killed_while_writing(file, chance.uniform(0, 0.005))
        written = read_journal(file)
        assert sure < len(written.records)

    tell(f"{KILLS} kills, {len(written.records)} records, none lost; {written.torn} lines torn inside the call itself")
    assert written.torn <= KILLS // 10  # a kill inside the call itself: nobody was told that it was written
    assert [record["place"][1] for record in written.records] == list(range(len(written.records)))


def test_a_record_is_there_as_soon_as_write_returns(file: Path) -> None:
    """The next step must never run ahead of the log."""
    with Journal(file) as journal:
        journal.write(step(1, song="Möwe, “neun”"))

        assert read_journal(file).records == (step(1, song="Möwe, “neun”"),)


@pytest.mark.parametrize("torn", [b'{"kind":"st', b"\0\0\0\0", b'{"kind":"step"}', b"[1]", b"\xff\xfe", b"{"])
def test_a_torn_last_line_is_passed_over_and_what_follows_is_whole(file: Path, torn: bytes) -> None:
    """A power cut may leave half a line: it costs that line and no other."""
    file.parent.mkdir()
    file.write_bytes(json.dumps(step(1)).encode() + b"\n" + torn)

    with Journal(file) as journal:
        journal.write(step(2))
    written = read_journal(file)

    whole = [each for each in written.records if len(each) > 1]
    assert whole == [step(1), step(2)]
    assert written.torn == (0 if torn == b'{"kind":"step"}' else 1)


def test_a_full_disk_is_said_and_what_was_held_is_written_when_there_is_room(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A log that cannot be written must not end a gig, and is whole again once somebody has made room."""
    with Journal(file) as journal:
        journal.write(step(1))
        write = os.write

        def full(number: int, data: bytes) -> int:
            if data[:5] == b'{"kin':
                return write(number, data[:7])  # the last bytes that found room
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(os, "write", full)
        for number in (2, 3):
            with pytest.raises(OutputError, match=r"cannot be written.*room"):
                journal.write(step(number))
        monkeypatch.undo()
        journal.write(step(4))

    written = read_journal(file)
    assert written.records == (step(1), step(2), step(3), step(4))
    assert written.torn == 1


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """One sentence at the start, not a traceback at the first song."""
    (tmp_path / "library.stand").write_text("a file")

    with pytest.raises(OutputError, match="journal cannot be written"):
        Journal(tmp_path / "library.stand" / "Pier.jsonl")


def test_a_reader_goes_on_where_it_was(file: Path) -> None:
    """The second laptop asks again and again, for what is new alone."""
    with Journal(file) as journal:
        for number in range(5):
            journal.write(step(number))

        first, place = journal.read(0, 2)
        then, end = journal.read(place, 100)
        nothing, still = journal.read(end, 100)

    assert [*first, *then] == [step(number) for number in range(5)]
    assert (list(nothing), still) == ([], end)


@pytest.mark.parametrize("place", [-1, 10**9])
def test_a_place_that_the_journal_never_gave_means_its_beginning(file: Path, place: int) -> None:
    """After a start afresh the second laptop still has a place in the file before: nothing of the new one is missed."""
    with Journal(file) as journal:
        journal.write(step(1))

        assert list(journal.read(place, 5)[0]) == [step(1)]


def test_a_place_inside_a_line_gives_that_line(file: Path) -> None:
    """Read twice does no harm; missed would."""
    with Journal(file) as journal:
        for number in (1, 2):
            journal.write(step(number))
        _, place = journal.read(0, 1)

        assert [list(journal.read(place + more, 5)[0]) for more in (0, 1, 20)] == [[step(2)]] * 3
        assert list(journal.read(place - 1, 5)[0]) == [step(1), step(2)]


def test_a_line_that_is_not_whole_yet_is_left_for_the_next_time(file: Path) -> None:
    """Another process may be writing it."""
    with Journal(file) as journal:
        journal.write(step(1))
        with file.open("ab") as other:
            other.write(b'{"kind":"step"')
            other.flush()
            found, place = journal.read(0, 5)
            other.write(b',"at":2}\n')

        assert list(found) == [step(1)]
        assert list(journal.read(place, 5)[0]) == [{"kind": "step", "at": 2}]


def test_the_newest_records_are_read_from_the_end(file: Path) -> None:
    """The tech's log after ten thousand steps costs no more than after ten."""
    with Journal(file) as journal:
        for number in range(3_000):
            journal.write(step(number, song="x" * 60))

        assert list(journal.last(3)) == [step(number, song="x" * 60) for number in (2_997, 2_998, 2_999)]
        assert len(journal.last(5_000)) == 3_000
        assert list(journal.last(0)) == []
