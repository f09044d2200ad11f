"""The stand as a process: it serves its page, goes on where it was cut off, and says what cannot be in one sentence."""

import os
import re
import shutil
import signal
import socket
import time
from pathlib import Path

import httpx
import pytest

from tests.support.stand_process import StandProcess
from tests.support.terminal import Printed, contents, typed, typed_in_a_process

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")
ENVIRONMENT = {"JACK_NO_START_SERVER": "1", "JACK_DEFAULT_SERVER": "scenebook-no-such-server"}


@pytest.fixture(autouse=True)
def no_midi(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no MIDI port of this machine be found: the stand has to run all the same."""
    for key, value in ENVIRONMENT.items():
        monkeypatch.setenv(key, value)


def refused(library: Path, *arguments: str) -> Printed:
    """Start a stand that cannot be opened; see that it says why and changes nothing."""
    before = contents(library)
    printed = typed_in_a_process("stand", *arguments, "--no-browser", SCENEBOOK_LIBRARY=str(library))
    assert printed.code == 2, printed
    assert "Traceback" not in printed.err
    assert printed.err.count("Error:") == 1
    assert contents(library) == before
    return printed


def test_without_any_midi_port_the_gig_runs_by_hand_and_says_so(demo: Path) -> None:
    """A lead that was left at home must not end the evening."""
    with StandProcess(demo, "Pell") as stand:
        state = stand.act("next")
        code, out, err = stand.end()

    assert "this computer has no MIDI port now" in stand.said
    assert "Port front: no MIDI port is named for it; what it carries is worked by hand" in stand.said
    assert (state["cue"]["song"], state["cue"]["scene"]) == ("Lamp room", "drone")
    assert (code, err) == (0, "")
    assert 'scenebook gig log "Pell Quay hall"' in out


def test_it_says_what_could_end_the_evening(demo: Path) -> None:
    """Mains, sleep, and whether the computer is kept awake: in words, before the first song."""
    with StandProcess(demo, "Pell") as stand:
        said = stand.said

    assert re.search(r"battery|mains", said)
    assert re.search(r"kept awake|keep it awake|goes to sleep", said)


def test_after_a_kill_it_stands_at_the_same_cue_and_says_so(demo: Path) -> None:
    """The laptop crashed in the second verse: the player sees where, and nothing is sent before they ask."""
    with StandProcess(demo, "Pell") as first:
        for _ in range(4):
            first.act("next")
        first.act("out", unit="octave down")
        before = first.state()
        first.kill()

    with StandProcess(demo, "Pell") as again:
        after = again.state()

    assert re.search(r"Going on where this gig was cut off at \d\d:\d\d: cue 4, Lamp room, verse", again.said)
    assert "Nothing is sent until you step or send again" in again.said
    assert "What was changed tonight still holds" in again.said
    assert after["cue"] == before["cue"]
    assert after["tonight"]["out"] == ["octave down"]
    assert after["sent"]["form"] == "nothing"
    assert "send again" in after["offer"]


def test_a_page_that_was_open_is_let_in_again_after_a_crash(demo: Path) -> None:
    """Nobody types a key between two songs."""
    with StandProcess(demo, "Pell") as first:
        cookies = dict(first.client.cookies)
        first.kill()

    with StandProcess(demo, "Pell") as again:
        again.client.cookies.clear()
        again.client.cookies.update(cookies)
        assert again.act("next")["cue"]["number"] == 1


@pytest.mark.parametrize(
    ("number", "why"), [(signal.SIGHUP, "its terminal was closed"), (signal.SIGTERM, "from outside")]
)
def test_a_closed_terminal_or_a_shutdown_is_not_the_end_of_the_evening(demo: Path, number: int, why: str) -> None:
    """A hand too quick on the laptop: the stand ends properly, and the next one stands at the same cue."""
    with StandProcess(demo, "Pell") as first:
        first.act("next")
        code, out, err = first.end(number)
    with StandProcess(demo, "Pell") as again:
        state = again.state()

    assert (code, err) == (0, "")
    assert why in out
    assert "Going on where this gig was cut off" in again.said
    assert state["cue"]["number"] == 1
    assert why in typed("gig", "log", "Pell").out


def test_a_start_in_which_nothing_was_done_is_not_spoken_of(demo: Path) -> None:
    """Killed at home, there is nothing to go on with."""
    with StandProcess(demo, "Pell") as first:
        first.kill()
    with StandProcess(demo, "Pell") as again:
        assert "Going on" not in again.said
        assert "--afresh" not in again.said


def test_a_second_laptop_starts_though_the_first_is_dead(demo: Path, tmp_path: Path) -> None:
    """The first laptop fell off its stand, then the second one restarted: it takes over from where it was."""
    other = tmp_path / "other"
    other.mkdir()
    copy = other / "demo.scenebook"
    shutil.copy(demo, copy)
    with StandProcess(demo, "Pell") as first:
        address = first.client.get("/api/keys").json()["step"]["address"]
        first.act("next")
        with StandProcess(copy, "Pell", "--follow", address) as second:
            second.wait(lambda state: state["cue"]["number"] == 1)
            second.kill()
        first.kill()

    with StandProcess(copy, "Pell", "--follow", address) as second:
        state = second.state()
        taken = second.act("take over")
        stepped = second.act("next")

    assert "This laptop stands where it was and sends nothing" in second.said
    told = "The other stand does not answer: to go on from here, take over"
    assert told in [each["words"] for each in state["notices"]]
    assert [path.stat().st_mode & 0o777 for path in other.glob("demo.stand/*.first")] == [0o600]
    assert (state["role"], state["cue"]["number"]) == ("following", 1)
    assert taken["role"] == "calling"
    assert stepped["cue"]["number"] == 2


def test_ended_by_ctrl_c_it_begins_at_home_the_same_evening_and_afresh_forgets(demo: Path) -> None:
    """The sound check is over; what broke in it is still broken. On another evening it may be mended."""
    with StandProcess(demo, "Pell") as check:
        check.act("next")
        check.act("out", unit="octave down")
        assert check.end()[0] == 0
    with StandProcess(demo, "Pell") as evening:
        here = evening.state()
        assert evening.end()[0] == 0
    with StandProcess(demo, "Pell", "--afresh") as other:
        there = other.state()

    assert "Begun again at home" in evening.said
    assert (here["cue"]["number"], here["tonight"]["out"]) == (0, ["octave down"])
    assert "evening" not in other.said.partition("Ctrl-C")[0].replace("The evening", "")
    assert (there["cue"]["number"], there["tonight"]["out"]) == (0, [])


def test_a_second_stand_for_the_same_gig_is_refused_and_the_first_goes_on(demo: Path) -> None:
    """Two that send to the same board would fight; the lock of one that was killed is no lock."""
    with StandProcess(demo, "Pell") as stand:
        printed = refused(demo, "Pell")
        assert f"another stand runs this gig already (process {stand.process.pid}" in printed.err
        assert stand.act("next")["cue"]["number"] == 1
        stand.kill()

    with StandProcess(demo, "Pell") as again:
        assert again.state()["cue"]["number"] == 1


def test_a_page_port_in_use_gives_way_to_the_next_and_is_said(demo: Path) -> None:
    """Something else on the laptop has the port: nobody looks for it before a gig."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with StandProcess(demo, "Pell", "--web-port", str(port)) as stand:
            assert stand.state()["cue"]["number"] == 0

    assert f"Port {port} is in use, so the page is served on port" in stand.said


def test_shared_it_prints_two_addresses_with_codes(demo: Path) -> None:
    """A phone points its camera at the terminal."""
    with StandProcess(demo, "Pell", "--share") as stand:
        said = stand.said

    if "in no network" in said:
        pytest.skip("this machine is in no network")
    see, step = re.search(r"see it on another screen: (\S+)", said), re.search(r"see it and step: (\S+)", said)
    assert see is not None
    assert step is not None
    assert see[1] != step[1]
    assert "127.0.0.1" not in see[1]
    assert said.count("▄") > 100
    assert "reads along" in said


def test_a_shared_address_that_was_used_is_followed_by_a_fresh_one(demo: Path) -> None:
    """The second phone asks where it finds its own: at the terminal, where the first one found it."""
    with StandProcess(demo, "Pell", "--share") as stand:
        if "in no network" in stand.said:
            pytest.skip("this machine is in no network")
        (used,) = re.findall(r"see it on another screen: \S+(/open/\S+)", stand.said)
        assert httpx.get(f"{stand.client.base_url}{used}", trust_env=False).status_code == 303
        time.sleep(1.5)
        _, out, _ = stand.end()

    (fresh,) = re.findall(r"see it on another screen: \S+(/open/\S+)", out)
    assert fresh != used
    assert "An address has been used; here is a fresh one." in out
    assert "to step:" not in out


def test_unless_it_is_shared_only_this_computer_can_open_it(demo: Path) -> None:
    """A hall's network is full of strangers."""
    with StandProcess(demo, "Pell") as stand:
        addresses = [each for each in re.findall(r"http://\S+", stand.said) if "127.0.0.1" not in each]
        port = int(str(stand.client.base_url.port))
        with socket.socket() as outside:
            outside.settimeout(1)
            outside.bind(("127.0.0.2", 0))
            found = outside.connect_ex(("127.0.0.2", port))

    assert addresses == []
    assert found != 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["Nosuch"], ["no gig is called 'Nosuch'"]),
        (["Pell", "--rig", "nosuch"], ["no rig is called 'nosuch'"]),
        (["Pell", "--port", "frond=interface"], ["no port of the rig is called 'frond'", "'front'"]),
        (["Pell", "--port", "interface"], ["'interface' does not say for which port", '--port "front=NAME"']),
        (["Pell", "--port", "front=one", "--port", "front=two"], ["two MIDI ports are named for port 'front'"]),
        (["Pell", "--port", "front=loopback"], ["built-in loopback is for proofs"]),
        (["Tallow", "--port", "fly=one"], ["no unit of this rig hears MIDI"]),
        (["Pell", "--web-port", "70000"], ["there is no port 70000"]),
        (["Skerrow", "--rig", "fly board, foot controller", "--port", "fly=one"], ["stand and sender would both send"]),
        (["Pell", "--follow", "http://127.0.0.1:9/open/key"], ["127.0.0.1"]),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(demo: Path, arguments: list[str], words: list[str]) -> None:
    """Where, what was found, what is accepted, what to do; and nothing was sent or changed."""
    printed = refused(demo, *arguments)

    assert [word for word in words if word not in printed.err] == [], printed.err


def test_two_songs_with_one_number_are_named_both(demo: Path, tmp_path: Path) -> None:
    """The drummer's player calls 60, and two songs would come."""
    assert typed("library", "export", str(tmp_path / "out")).code == 0
    file = tmp_path / "out" / "songs" / "nine-gannets.yaml"
    file.write_text(re.sub(r"number: 61", "number: 60", file.read_text()), encoding="utf-8")
    assert typed("library", "import", str(tmp_path / "out")).code == 0

    printed = refused(demo, "Pell")

    assert "calls 'Kelp fire' and 'Nine gannets' by the same number 60" in printed.err


def test_the_evening_is_told_afterwards_and_what_was_changed_is_kept(demo: Path) -> None:
    """When, which cue, by what, and what broke; then one command writes it into the gig, and one takes it back."""
    with StandProcess(demo, "Pell") as stand:
        stand.act("next")
        stand.act("out", unit="octave down")
        stand.kill()
    before = contents(demo)

    told = typed("gig", "log", "Pell")
    kept = typed("gig", "log", "Pell", "--keep")
    again = typed("gig", "log", "Pell", "--keep")
    shown = typed("gig", "show", "Pell")
    back = typed("library", "undo")

    assert told.code == 0
    assert re.search(r"\d\d:\d\d:\d\d  next by key: Lamp room, drone", told.out)
    assert "octave down out" in told.out
    assert kept.out.startswith("Kept in Pell Quay hall: what is out.\n")
    assert again.out.startswith("Nothing that Pell Quay hall does not say already")
    assert "Out: octave down" in shown.out
    assert back.code == 0
    assert contents(demo) != before  # history keeps both
    assert "Out:" not in typed("gig", "show", "Pell").out


def test_an_evening_that_was_never_is_said(demo: Path) -> None:
    """No gig, no evening; or another day."""
    for arguments, word in ((["Pell"], "there is no evening of this gig"), (["Nosuch"], "no gig is called")):
        printed = typed("gig", "log", *arguments)
        assert (printed.code, printed.out) == (2, "")
        assert word in printed.err
    with StandProcess(demo, "Pell"):
        pass
    other = typed("gig", "log", "Pell", "--date", "1999-01-01")
    assert other.code == 2
    assert "no evening began on '1999-01-01'" in other.err
    assert time.strftime("%Y-") in other.err
