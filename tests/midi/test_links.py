"""Ports are found by name, a link is made of what the machine has, and mistakes are named."""

import re
import subprocess
import sys

import pytest

from scenebook.errors import PortError
from scenebook.midi import InPort, Link, OutPort, PortInfo, exchange, loopback_pair, open_link, open_output, ports
from scenebook.midi import links as links_module
from scenebook.midi.carrier import CLIENT, client_name
from scenebook.midi.names import is_ours, port_named
from tests.support.jack import JackServer

LOOPBACK = PortInfo("built-in loopback", "both", "built-in loopback")


@pytest.fixture
def no_system(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine on which JACK does not run; where ALSA is there all the same, the test has nothing to show."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "scenebook-nobody-runs-this")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    if len(ports()) > 1 or open_link().kind != "built-in loopback":
        monkeypatch.setattr(links_module, "find_systems", lambda: ([], "no MIDI system answers on this machine"))


def test_without_a_midi_system_the_loopback_serves_and_says_why(no_system: None) -> None:
    """The main job runs on any laptop, and its summary tells through what."""
    with open_link() as link:
        assert link.kind == "built-in loopback"
        assert "no MIDI system answers on this machine" in link.reason
        assert exchange(link, [b"\xc0\x05"], 1) == b"\xc0\x05"


def test_without_a_midi_system_the_list_of_ports_is_the_loopback(no_system: None) -> None:
    """Asking what there is is never an error."""
    assert ports() == [LOOPBACK]


def test_without_a_midi_system_a_named_port_is_an_error_that_lists_what_there_is(no_system: None) -> None:
    """Nothing is sent anywhere when a port that was asked for is not there."""
    with pytest.raises(PortError) as caught:
        open_link(name="interface 2")

    assert str(caught.value) == (
        "there is no output port 'interface 2'; accepted: 'built-in loopback'. Look with `scenebook ports`."
    )


def test_the_c_libraries_say_nothing_on_the_terminal() -> None:
    """ALSA and JACK would print six lines of their own on a machine without MIDI."""
    code = "from scenebook.midi import open_link, ports; ports(); open_link().close()"
    environment = {"JACK_DEFAULT_SERVER": "scenebook-nobody-runs-this", "JACK_NO_START_SERVER": "1"}

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, timeout=60)

    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_the_room_needs_no_midi_library_to_be_imported() -> None:
    """A command that sends nothing does not wait for libraries that send."""
    code = "import sys, scenebook.midi; print(sorted({'mido', 'rtmidi'} & set(sys.modules)))"

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)

    assert (done.stdout, done.stderr) == ("[]\n", "")


def test_where_python_rtmidi_is_not_installed_the_loopback_serves(monkeypatch: pytest.MonkeyPatch) -> None:
    """Newer Pythons have no wheel of it, and installing must not ask for a compiler."""
    monkeypatch.setitem(sys.modules, "rtmidi", None)

    with open_link() as link:
        assert link.kind == "built-in loopback"
        assert link.reason == "python-rtmidi, which reaches the system's ports, is not installed or does not load"
    assert ports() == [LOOPBACK]


def test_the_loopback_can_be_asked_for() -> None:
    """Whoever wants no real port has none."""
    for link in (open_link(prefer="loopback"), open_link(name="loopback"), open_link(name="Built-in loopback")):
        with link:
            assert link.kind == "built-in loopback"
            assert link.reason.startswith("asked for")


def on_the_server() -> tuple[list[str], list[str]]:
    """Return the outputs and inputs that any other client sees."""
    import rtmidi

    found: list[list[str]] = []
    for kind in (rtmidi.MidiOut, rtmidi.MidiIn):
        client = kind(rtmidi.API_UNIX_JACK, name="onlooker")
        found.append(client.get_ports())
        client.delete()
    return found[0], found[1]


@pytest.mark.jack
def test_a_link_on_jack_is_two_real_ports(jack: JackServer) -> None:
    """Both ends stand on the server, where any other client sees them, and go with the link."""
    before = on_the_server()
    with open_link() as link:
        outputs, inputs = on_the_server()
        assert (link.kind, link.reason) == ("system port by JACK", "")
        assert ports() == [LOOPBACK]  # nobody means them, so they are not among what there is

    assert (before, on_the_server()) == (([], []), ([], []))
    assert ([is_ours(name) for name in outputs], [is_ours(name) for name in inputs]) == ([True], [True])


@pytest.mark.jack
def test_a_named_port_is_read_back_from_the_input_that_answers(through: str) -> None:
    """A loop lead comes back on a port of another name; which one is found by sending."""
    messages = [b"\xb0\x00\x01", b"\xc0\x05", b"\xf0\x7d\x01\xf7", b"\xf8"]

    with open_link(name=through) as link:
        assert (link.kind, link.reason) == ("system port by JACK", "")
        assert link.out.name == through
        assert "from the lead" in link.back.name
        assert exchange(link, messages, 5) == b"".join(messages)


@pytest.mark.jack
@pytest.mark.parametrize("written", ["loop lead:to the lead", "LOOP LEAD:TO THE LEAD", "loop", "Loop Lead:"])
def test_a_port_is_found_without_capitals_and_by_a_unique_beginning(through: str, written: str) -> None:
    """Port names are long, and typed in a dark hall."""
    with open_output(written) as port:
        assert port.name == through


@pytest.mark.jack
def test_the_only_output_port_needs_no_name(through: str) -> None:
    """One interface, one cable: nothing to choose."""
    with open_output() as port:
        assert port.name == through


@pytest.mark.jack
def test_a_misspelt_port_is_an_error_that_suggests_the_nearest(through: str) -> None:
    """One letter off is a typing error; the right name stands in the answer."""
    said = (
        f"there is no output port 'lop lead'; accepted: '{through}', 'built-in loopback'. The nearest is '{through}'."
    )

    with pytest.raises(PortError, match=f"^{re.escape(said)}$"):
        open_link(name="lop lead")


@pytest.mark.jack
def test_several_ports_of_one_beginning_are_an_error_that_lists_them(through: str) -> None:
    """Sending to the wrong unit is worse than asking."""
    import rtmidi

    other = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="loop of another")
    other.open_virtual_port("in")

    with pytest.raises(PortError, match=r"2 output ports are there: .*Name one with --port"):
        open_output()
    with pytest.raises(PortError, match="several output ports begin with 'loop'") as caught:
        open_output("loop")
    assert "'loop of another:in'" in str(caught.value)
    assert f"'{through}'" in str(caught.value)
    other.delete()


@pytest.mark.jack
def test_a_port_of_our_own_is_never_the_one_that_is_meant(through: str) -> None:
    """While a proof runs the only interface is still the only one; what goes to a port of ours reaches no unit."""
    with open_link() as link:
        with open_output() as port:
            assert port.name == through
        for asked in (open_output, lambda name: open_link(name=name)):
            with pytest.raises(PortError, match=f"there is no output port '{link.out.name}'"):
                asked(link.out.name)


def test_where_no_port_is_there_at_all_that_is_said() -> None:
    """A list of nothing helps nobody."""
    with pytest.raises(PortError) as caught:
        port_named("front", [])
    assert str(caught.value) == (
        "there is no output port 'front': no MIDI port is there to send to. "
        "Connect a MIDI interface and look with `scenebook ports`."
    )
    with pytest.raises(PortError, match="there is no input port 'floor': no MIDI port is there to listen to"):
        port_named("floor", [], kind="input port")


@pytest.mark.parametrize(
    ("name", "ours"),
    [
        ("scenebook stand 18099:in", True),
        ("scenebook stand 18099:in 129:0", True),  # as ALSA has it
        ("scenebook stand:in", True),
        ("scenebook:proof-18099-1", True),
        ("scenebook-01:out", True),
        ("proof-18099-1", True),  # as CoreMIDI has it
        ("scenebook stand box:in", False),
        ("scenebookshelf:in", False),
        ("stage box:scenebook", False),
        ("fireproof-1-1:in", False),
    ],
)
def test_our_own_ports_are_told_from_others_by_their_names(name: str, ours: bool) -> None:
    """A player may call a port of theirs almost the same."""
    assert is_ours(name) == ours


def test_a_carrier_is_named_so_that_its_ports_are_known() -> None:
    """It imports nothing of the house, and so not the word either."""
    assert is_ours(f"{client_name(18_099)}:out")
    assert is_ours(f"{CLIENT}:in")


@pytest.mark.jack
def test_a_port_from_which_nothing_comes_back_is_an_error(jack: JackServer) -> None:
    """Without a way back there is no proof, and the error says what lead is missing."""
    import rtmidi

    deaf = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="deaf unit")
    deaf.open_virtual_port("in")

    with pytest.raises(PortError, match=r"nothing comes back from the port 'deaf unit:in'.*Put a MIDI lead from"):
        open_link(name="deaf")

    assert [port.name for port in ports()] == ["deaf unit:in", "built-in loopback"]  # none of our own is left open
    deaf.delete()


class Backend:
    """Another MIDI library in the place of python-rtmidi: the seam needs these methods and no more."""

    name = "another library"

    def __init__(
        self, *, makes_ports: bool = True, delivers: bool = True, shows_ports: bool = True, held: tuple[str, ...] = ()
    ) -> None:
        self._makes_ports = makes_ports
        self._delivers = delivers
        self._shows_ports = shows_ports
        self._held = held
        self._out, self._back = loopback_pair()
        self._names: list[str] = []

    def outputs(self, token: str = "") -> list[str]:
        return self._names

    def inputs(self) -> list[str]:
        return list(self._held)

    def open_output(self, name: str) -> OutPort:
        return self._out if self._delivers else loopback_pair()[0]

    def open_input(self, name: str) -> InPort:
        raise PortError(f"the port '{name}' is held by another program")

    def make_input(self, name: str) -> InPort:
        if not self._makes_ports:
            raise PortError("virtual ports are not made here")
        self._names = [f"decorated {name} 128:0"] if self._shows_ports else []
        return self._back


def link_by(monkeypatch: pytest.MonkeyPatch, *backends: Backend) -> Link:
    monkeypatch.setattr(links_module, "find_systems", lambda: (list(backends), ""))
    return open_link()


def test_another_library_serves_through_the_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where python-rtmidi has no wheel, whoever has another library writes one small class."""
    with link_by(monkeypatch, Backend()) as link:
        assert link.kind == "system port by another library"
        assert exchange(link, [b"\xc0\x05"], 1) == b"\xc0\x05"


def test_a_system_that_makes_no_ports_leaves_it_to_the_next_or_the_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows MM has ports and makes none; the summary then says why the loopback served."""
    with link_by(monkeypatch, Backend(makes_ports=False)) as link:
        assert (link.kind, link.reason) == ("built-in loopback", "another library: virtual ports are not made here")
    with link_by(monkeypatch, Backend(makes_ports=False), Backend()) as link:
        assert link.kind == "system port by another library"


def test_a_system_that_does_not_deliver_is_not_proved_through(monkeypatch: pytest.MonkeyPatch) -> None:
    """A port that swallows everything is found out before the gig is sent."""
    with link_by(monkeypatch, Backend(delivers=False)) as link:
        assert link.kind == "built-in loopback"
        assert link.reason == "another library: what is sent to a port of our own does not arrive"


def test_a_system_that_hides_our_port_is_not_proved_through(monkeypatch: pytest.MonkeyPatch) -> None:
    """A port that nothing can be connected to proves nothing."""
    with link_by(monkeypatch, Backend(shows_ports=False)) as link:
        assert link.reason == "another library: a port of our own cannot be seen by others"


def test_an_input_that_another_program_holds_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows a port has one owner; that it cannot be listened to is no reason to stop before asking the others."""
    backend = Backend(held=("taken",))
    with link_by(monkeypatch, backend), pytest.raises(PortError, match=r"nothing comes back .* listened to: none"):
        open_link(name="decorated")
