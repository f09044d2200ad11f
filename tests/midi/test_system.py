"""Whatever python-rtmidi raises becomes a PortError, and a port that goes away is named."""

import inspect
import subprocess
import sys

import pytest

from scenebook.errors import PortError
from scenebook.midi.system import RtMidiSystem, _translated, find_systems
from tests.support.jack import JackServer

rtmidi = pytest.importorskip("rtmidi", reason="python-rtmidi has no wheel for this Python")

FOREIGN = {
    "InvalidPortError",
    "InvalidUseError",
    "MemoryAllocationError",
    "NoDevicesError",
    "RtMidiError",
    "SystemError",
    "UnsupportedOperationError",
}


def foreign_classes() -> dict[str, type[Exception]]:
    found = inspect.getmembers(rtmidi, lambda thing: inspect.isclass(thing) and issubclass(thing, Exception))
    return dict(found)


def test_the_foreign_errors_are_the_ones_that_we_know() -> None:
    """A new version with a new error is noticed here and not on stage."""
    assert set(foreign_classes()) == FOREIGN


@pytest.mark.parametrize("name", sorted(FOREIGN))
def test_every_foreign_error_becomes_one_clear_port_error(name: str) -> None:
    """A player reads one sentence that says which port, what is wrong and what to do."""
    with pytest.raises(PortError) as caught, _translated("port 'stage'"):
        raise foreign_classes()[name]("the device said no.")

    assert str(caught.value) == (
        "port 'stage': the MIDI system refuses: the device said no. "
        "Look with `scenebook ports` at what is there, and whether another program holds the port."
    )


def test_a_foreign_error_without_words_is_named_by_its_class() -> None:
    """An empty reason would leave a sentence that says nothing."""
    with pytest.raises(PortError, match="the MIDI system refuses: NoDevicesError"), _translated("port 'stage'"):
        raise foreign_classes()["NoDevicesError"]("")


@pytest.mark.jack
def test_the_systems_that_answer_are_found_in_order(jack: JackServer) -> None:
    """JACK comes first where it runs, since both ends of a link then stand on its server."""
    systems, reason = find_systems()

    assert (systems[0].name, reason) == ("JACK", "")


@pytest.mark.jack
def test_a_port_that_is_gone_is_an_error(jack: JackServer) -> None:
    """An interface pulled out between listing and opening."""
    system = RtMidiSystem("JACK", rtmidi.API_UNIX_JACK)

    for open_port in (system.open_output, system.open_input):
        with pytest.raises(PortError, match=r"the port 'pulled out' is gone\. Look with `scenebook ports`"):
            open_port("pulled out")


def test_a_system_that_is_not_compiled_in_or_does_not_run_is_silent(monkeypatch: pytest.MonkeyPatch) -> None:
    """Asking a server that does not run is an answer, not an error."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "scenebook-nobody-runs-this")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")

    assert not RtMidiSystem("JACK", rtmidi.API_UNIX_JACK).answers()


@pytest.mark.jack
def test_a_port_that_the_system_will_not_make_is_an_error(jack: JackServer) -> None:
    """JACK takes names of some 300 characters and refuses longer ones, as another system refuses all."""
    system = RtMidiSystem("JACK", rtmidi.API_UNIX_JACK)

    with pytest.raises(PortError, match="a port of our own by JACK: the MIDI system refuses"):
        system.make_input("x" * 1_000)

    assert system.outputs() == []


@pytest.mark.skipif(sys.platform == "win32", reason="a shell of Unix closes the descriptor")
def test_a_program_without_a_standard_error_finds_its_ports_all_the_same() -> None:
    """A desktop may start it with nothing to write to."""
    code = "from scenebook.midi import ports; print(ports()[-1].name)"

    done = subprocess.run(
        ["sh", "-c", 'exec "$0" -c "$1" 2>&-', sys.executable, code], capture_output=True, text=True, timeout=60
    )

    assert (done.returncode, done.stdout) == (0, "built-in loopback\n")
