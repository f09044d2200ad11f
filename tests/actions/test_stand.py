"""A stand is put together: which port goes where, what is said of it, and what ends it before it begins."""

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from scenebook.actions.gigs import order_songs
from scenebook.actions.libraries import create, import_from
from scenebook.actions.stand import OpenStand, open_stand
from scenebook.actions.stand_wires import OnlyInputs, checked_names, wires_of
from scenebook.errors import BadValueError, OutputError, PortError, UnknownNameError
from scenebook.live.acts import Act, Verb
from scenebook.live.places import HOME, Part, Place
from scenebook.live.snapshot import PortState, Role
from scenebook.model import Rig
from scenebook.storage.evenings import evenings
from scenebook.storage.journal import Journal, read_journal
from tests.support.build import rig
from tests.support.checkout import ROOT
from tests.support.running import MemoryPorts

FRONT, WET = {"port": "front", "channel": 2}, {"port": "wet", "channel": 5}


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the demo library, on a machine whose MIDI ports are not found."""
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "scenebook-no-such-server")
    path = tmp_path / "tour.scenebook"
    create(path)
    import_from(path, ROOT / "demo_library")
    return path


@pytest.fixture
def stand(library: Path) -> Iterator[OpenStand]:
    with open_stand(library, "Pell") as opened:
        yield opened


def one() -> Rig:
    return rig("fuzz", units={"fuzz": FRONT})


def two(**said: object) -> Rig:
    return rig("fuzz", "hall", units={"fuzz": FRONT, "hall": WET}, **said)


def midi(of: Rig, *given: str, outputs: tuple[str, ...] = ("box A", "box B")) -> dict[str, str]:
    return {port: wire.midi for port, wire in wires_of("board", of, given, outputs)[0].items()}


def test_what_is_given_goes_before_what_the_rig_says() -> None:
    """Tonight's interface is another one."""
    board = two(wires={"front": {"midi": "home", "plug": "usb"}, "wet": {"midi": "other"}})

    assert midi(board) == {"front": "home", "wet": "other"}
    assert midi(board, "fr=box A") == {"front": "box A", "wet": "other"}
    assert midi(board, "front=") == {"front": "", "wet": "other"}
    assert wires_of("board", board, ["front=box A"], ())[0]["front"].plug == "usb"


def test_one_port_of_the_rig_and_one_of_the_computer_belong_together() -> None:
    """Nothing to type where there is no choice; said all the same."""
    assert midi(one(), outputs=("box A",)) == {"front": "box A"}
    assert wires_of("board", one(), (), ("box A",))[1] == ("Port front goes to 'box A', the only MIDI port there is.",)
    assert midi(one()) == {"front": ""}
    assert midi(two(), outputs=("box A",)) == {"front": "", "wet": ""}
    assert midi(one(), "box B") == {"front": "box B"}
    served = rig("fuzz", units={"fuzz": FRONT}, sender={"unit": "fuzz", "ports": ["front"]})
    assert midi(served, outputs=("box A",)) == {"front": ""}


@pytest.mark.parametrize(
    ("of", "given", "words"),
    [
        (two(), ["box A"], "'box A' does not say for which port"),
        (two(), ["front=a", "front=b"], "two MIDI ports are named"),
        (one(), ["built-in loopback"], "for proofs"),
        (rig("fuzz"), ["box A"], "no unit of this rig hears MIDI"),
    ],
)
def test_a_port_that_cannot_be_meant_is_refused(of: Rig, given: list[str], words: str) -> None:
    """Better now than at the first song."""
    with pytest.raises(PortError, match=words):
        wires_of("board", of, given, ())


def test_stand_and_sender_never_both_send() -> None:
    """The rig's foot controller serves the port: a laptop on the same lead would tell everything twice."""
    board = two(sender={"unit": "fuzz", "ports": ["wet"]}, wires={"wet": {"midi": "box A"}})

    with pytest.raises(BadValueError, match=r"rig 'board'.*stand and sender would both send to port 'wet'.*--port"):
        wires_of("board", board, (), ())
    assert midi(board, "wet=") == {"front": "", "wet": ""}
    with pytest.raises(UnknownNameError, match="no port of the rig is called 'wt'"):
        wires_of("board", board, ["wt=x"], ())


def said_of(*given: str, listens: tuple[str, ...] = (), goes_on: bool = False, ports: MemoryPorts) -> tuple[str, ...]:
    wires, _ = wires_of("board", one(), given, ports.outs)
    return checked_names(given, listens, wires, OnlyInputs(ports, listens), goes_on=goes_on)  # type: ignore[arg-type]


def test_a_port_name_typed_wrongly_ends_the_command_unless_a_gig_goes_on() -> None:
    """In the middle of a gig the port that is gone may be what failed: the stand opens all the same."""
    ports = MemoryPorts(("box A",), ("pedal",))

    with pytest.raises(PortError, match="there is no output port 'bax'"):
        said_of("bax", ports=ports)
    with pytest.raises(PortError, match="there is no input port 'foot'"):
        said_of("box", listens=("foot",), ports=ports)
    assert said_of("bax", ports=ports, goes_on=True) == ()
    (note,) = said_of("box", listens=("foot",), ports=ports, goes_on=True)
    assert note.startswith("Note: there is no input port 'foot'")


def test_a_computer_without_ports_runs_by_hand_and_says_so() -> None:
    """No interface, no error."""
    (note,) = said_of("box", ports=MemoryPorts(()))

    assert "runs by hand" in note


def test_only_the_inputs_that_are_named_are_listened_to() -> None:
    """A keyboard on stage must not step the gig by its notes."""
    ports = MemoryPorts((), ("Pedal one", "keyboard"))

    assert list(OnlyInputs(ports, ()).inputs()) == ["Pedal one", "keyboard"]  # type: ignore[arg-type]
    assert list(OnlyInputs(ports, ("pedal",)).inputs()) == ["Pedal one"]  # type: ignore[arg-type]
    assert list(OnlyInputs(ports, ("nosuch",)).inputs()) == []  # type: ignore[arg-type]


def test_a_stand_is_opened_at_home_and_every_step_is_on_disk(stand: OpenStand, library: Path) -> None:
    """What was done is in the journal as soon as the step is shown."""
    snapshot = stand.engine.ask(Act(Verb.NEXT, "key"))

    assert snapshot.step.place == Place(Part.SET, 0, 0)
    kinds = [record["kind"] for record in read_journal(stand.journal.path).records]
    assert kinds == ["opened", "set", "step"]
    assert stand.said[0].startswith("Note: this computer has no MIDI port now")
    assert {port.state for port in snapshot.ports} == {PortState.NONE}
    assert len(stand.port_words()) == 2


def test_any_unit_of_the_library_may_play_another_part_tonight(stand: OpenStand) -> None:
    """The hired octave is in no song and no rig: it is in the van."""
    act = Act(Verb.PLAYED_BY, "touch", unit="octave down", other="octave down, hired")
    snapshot = stand.engine.ask(act, seconds=20)

    assert snapshot.refused == ""
    assert snapshot.tonight.played_by == {"octave down": "octave down, hired"}


def test_a_stand_that_cannot_be_opened_leaves_nothing_behind(library: Path) -> None:
    """The lock is free, no evening has begun, and the next try works."""
    with pytest.raises(PortError):
        open_stand(library, "Pell", ports_given=["loopback"])
    assert evenings(library, "Pell Quay hall") == []

    open_stand(library, "Pell").close()


def test_a_journal_that_cannot_be_written_is_said_at_the_start(library: Path) -> None:
    """A file where the folder should be."""
    library.with_name("tour.stand").write_text("in the way")

    with pytest.raises(OutputError, match=r"stand's folder cannot be written"):
        open_stand(library, "Pell")


def test_a_torn_line_is_passed_over_and_said(library: Path) -> None:
    """The battery fell out while a line was written."""
    with open_stand(library, "Pell") as first:
        first.engine.ask(Act(Verb.NEXT, "key"))
        path = first.journal.path
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]) + b'{"kind":"step","at":17900')

    with open_stand(library, "Pell") as again:
        assert again.engine.snapshot.step.place == Place(Part.SET, 0, 0)
        assert any("1 line of the journal cannot be read" in each for each in again.said)
        assert any("Going on where this gig was cut off" in each for each in again.said)


def test_a_cue_that_is_no_more_in_the_gig_leads_to_the_one_before(library: Path) -> None:
    """A song was taken out while the stand was down."""
    with open_stand(library, "Pell") as first:
        path = first.journal.path
    with Journal(path) as journal:
        journal.write({"kind": "opened", "at": time.time(), "gig": "Pell Quay hall", "rig": "hall board"})
        journal.write({"kind": "step", "at": time.time(), "place": ["set", 23, 99], "left": None, "back": None})

    with open_stand(library, "Pell") as again:
        assert again.engine.snapshot.step.place.entry == 23
        assert any("not in the gig any more" in notice.words for notice in again.engine.snapshot.notices)


def test_a_stand_that_follows_says_so_from_the_beginning(library: Path) -> None:
    """The second laptop is silent until it takes over."""
    with open_stand(library, "Pell", role=Role.FOLLOWING) as second:
        assert second.engine.snapshot.role is Role.FOLLOWING
        assert second.engine.ask(Act(Verb.NEXT, "key")).step.place == HOME


def test_a_set_that_was_changed_between_two_runs_takes_its_songs_along(library: Path) -> None:
    """The first song was dropped at the interval: what was said of the third is said of the second now."""
    with open_stand(library, "Pell") as first:
        third = Place(Part.SET, 2, 0)
        first.engine.ask(Act(Verb.GO, "key", place=Place(Part.SET, 2, 1)))
        first.engine.ask(Act(Verb.KEY, "touch", place=third, text="D minor"), seconds=20)
        first.engine.ask(Act(Verb.CUT, "touch", place=Place(Part.SET, 0, 1)), seconds=20)
        names = [entry.song for entry in first.engine.snapshot.programme.library.gigs[first.gig].sets[0].songs]
        journal = first.journal.path.read_bytes()
        path = first.journal.path
    order_songs(library, "Pell", names[1:], part="first")
    path.write_bytes(journal)  # as a crash leaves it

    with open_stand(library, "Pell") as again:
        snapshot = again.engine.snapshot

    assert snapshot.step.place == Place(Part.SET, 1, 1)
    assert snapshot.step.full.song == names[2]
    assert snapshot.tonight.keys == {Place(Part.SET, 1, 0): "D minor"}
    assert snapshot.tonight.cut == frozenset()
    assert any("the gig has been changed since" in each for each in again.said)


@pytest.mark.skipif(os.name != "posix", reason="file modes are those of POSIX")
def test_what_is_written_of_an_evening_is_for_its_player_alone(stand: OpenStand) -> None:
    """Whoever has the key of an evening may step it."""
    assert stand.journal.path.stat().st_mode & 0o077 == 0
    assert stand.key_file.parent == stand.journal.path.parent
