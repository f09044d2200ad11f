"""One cue to a real port: at its own times, and to the right place."""

from pathlib import Path

import pytest

from scenebook.actions.sending import Clock, _chosen, send_messages
from scenebook.cueing.cues import Message, MessageKind
from scenebook.errors import PortError, UnknownNameError
from scenebook.midi import OutPort, loopback_pair
from tests.support.far_end import Box
from tests.support.terminal import typed_in_a_process


class Watch:
    """A clock that goes only while somebody waits, by what is asked for and at least by 10 µs."""

    def __init__(self) -> None:
        self.time = 100.0

    def now(self) -> float:
        return self.time

    def sleep(self, seconds: float) -> None:
        self.time += max(seconds, 0.000_01)


class Noted(OutPort):
    """Writes down what was sent and when."""

    def __init__(self, watch: Watch) -> None:
        self.name, self.sent = "noted", list[tuple[float, bytes]]()
        self._watch = watch

    def send(self, message: bytes) -> None:
        self.sent.append((self._watch.time - 100.0, message))

    def close(self) -> None:
        """Nothing to let go of."""


def message(port: str, data: bytes, at_us: int) -> Message:
    return Message(port, "unit", MessageKind.CONTROL, "member", "value", data, at_us)


def test_no_message_goes_before_its_time() -> None:
    """A unit that still settles does not listen; late is late by the clock's own grain only."""
    watch = Watch()
    front, wet = Noted(watch), Noted(watch)
    messages = [
        message("front", b"\xc0\x01", 0),
        message("front", b"\xb0\x46\x7f", 40_640),
        message("wet", b"\xb1\x46\x7f", 0),
        message("wet", b"\xb1\x47\x7f", 960),
    ]

    send_messages(messages, {"front": front, "wet": wet}, Clock(watch.now, watch.sleep))

    assert [data for _, data in front.sent] == [b"\xc0\x01", b"\xb0\x46\x7f"]
    assert [data for _, data in wet.sent] == [b"\xb1\x46\x7f", b"\xb1\x47\x7f"]
    for sent, planned in zip([*front.sent, *wet.sent], [0, 0.040_640, 0, 0.000_960], strict=True):
        assert planned <= sent[0] + 1e-9 <= planned + 0.000_1


def test_real_time_is_kept_by_the_real_clock() -> None:
    """Twenty milliseconds of settling are twenty milliseconds."""
    out, back = loopback_pair()
    clock = Clock()
    begun = clock.now()

    send_messages([message("a", b"\xc0\x01", 0), message("a", b"\xb0\x46\x7f", 20_000)], {"a": out}, clock)

    assert clock.now() - begun >= 0.02
    assert back.poll() == [b"\xc0\x01", b"\xb0\x46\x7f"]


def test_each_port_of_the_rig_finds_its_midi_port() -> None:
    """One port needs no name for itself; several are named one by one, shortened as everything."""
    assert _chosen(["main"], []) == {"main": None}
    assert _chosen(["main"], ["Interface 1"]) == {"main": "Interface 1"}
    assert _chosen(["main"], ["main=Interface 1"]) == {"main": "Interface 1"}
    assert _chosen(["front", "wet"], ["fr=A", "wet=B:1"]) == {"front": "A", "wet": "B:1"}
    assert _chosen([], []) == {}


@pytest.mark.parametrize("given", [[], ["A"], ["front=A"], ["A", "B"]])
def test_a_port_that_is_not_said_is_asked_for(given: list[str]) -> None:
    """Nothing is sent to a guessed port."""
    with pytest.raises(PortError, match="wet=NAME"):
        _chosen(["front", "wet"], given)


def test_a_port_that_the_rig_has_not_is_refused() -> None:
    """The rig's ports are named in the refusal."""
    with pytest.raises(UnknownNameError, match="front"):
        _chosen(["front", "wet"], ["back=A", "wet=B"])


@pytest.mark.jack
@pytest.mark.usefixtures("jack")
def test_a_cue_arrives_on_a_real_port_in_full(tmp_path: Path) -> None:
    """What the command sends is what `compile --full` lists, byte for byte."""
    from scenebook.actions.compiling import compiled
    from scenebook.actions.libraries import create, import_from
    from scenebook.resources import demo_library_folder

    path = tmp_path / "library.scenebook"
    create(path)
    import_from(path, demo_library_folder())
    expected = compiled(path, "Skerrow", full=True).cues[3]
    box = Box("stage box")
    sent = typed_in_a_process("send", "Skerrow", "3", "--port", "stage box", "--library", str(path))
    wanted = [each.data.hex(" ").upper() for each in expected.messages]
    arrived = box.take(wanted)
    box.stop()

    assert sent.code == 0, sent
    assert sent.out.startswith(f"Sent cue 3 ({expected.song}, {expected.scene}): {len(expected.messages)} messages")
    assert arrived == wanted
