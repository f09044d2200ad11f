"""What the machine does to a command: full disks, closed pipes, an interrupt, no MIDI system, a plain terminal."""

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from scenebook.midi import links
from tests.support.checkout import ROOT
from tests.support.terminal import contents, typed, typed_in_a_process


def test_an_import_onto_a_full_disk_changes_nothing(empty: Path) -> None:
    """The laptop's disk is full of recordings, on the evening before."""
    before = contents(empty)

    printed = typed_in_a_process("library", "import", str(ROOT / "demo_library"), largest_file=100_000)

    assert (printed.code, printed.out) == (2, "")
    assert "disk" in printed.err
    assert "nothing was changed" in printed.err
    assert "Traceback" not in printed.err
    assert contents(empty) == before


@pytest.mark.parametrize(
    ("command", "out"),
    [(["sheet", "Pell", "-o"], "sheet.pdf"), (["export", "Pell", "--to"], "lists"), (["library", "export"], "songs")],
)
def test_a_full_disk_leaves_no_half_of_a_file(demo: Path, tmp_path: Path, command: list[str], out: str) -> None:
    """Half a sheet looks like a whole one until the second set; a folder keeps the files that were whole."""
    printed = typed_in_a_process(*command, str(tmp_path / out), largest_file=40_000 if out != "songs" else 33_000)

    if out == "songs":  # each of its files fits
        assert printed.code == 0
        return
    assert (printed.code, printed.out) == (2, "")
    assert "cannot be written" in printed.err
    assert "Traceback" not in printed.err
    assert not (tmp_path / "sheet.pdf").exists()
    assert not [path for path in tmp_path.rglob("*") if path.suffix == ".part"]


def test_a_full_disk_behind_the_printing_is_one_error(demo: Path) -> None:
    """`scenebook compile > list.txt` must not look as if it had worked."""
    command = [sys.executable, "-m", "scenebook", "compile", "Pell"]
    with open("/dev/full", "w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, env=_environment())

    assert done.returncode == 2
    assert "No space left on device" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_pipe_that_closes_early_is_no_error(demo: Path) -> None:
    """`scenebook compile | head` is how a player looks at the first song."""
    command = f"{sys.executable} -m scenebook compile Pell | head -n 1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, env=_environment())

    assert done.stdout.startswith("Pell Quay hall, hall board, lean list")
    assert done.stderr == ""


def test_a_closed_pipe_leaves_with_nothing_wrong(demo: Path) -> None:
    """A script that stops at the first failure must not stop at `head`."""
    reading, writing = os.pipe()
    os.close(reading)
    command = [sys.executable, "-m", "scenebook", "compile", "Pell"]
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True, env=_environment())
    os.close(writing)

    assert (done.returncode, done.stderr) == (0, "")


def test_an_interrupt_ends_quietly(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C is a wish, not a fault; 130 is what shells expect."""

    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("scenebook.actions.compiling.compiled", interrupted)

    assert typed("compile", "Pell") == (130, "", "")


def test_without_a_midi_system_the_loopback_serves_and_says_why(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A library can be proved on a train; what cannot be done there says so."""
    # The one thing here that is not real: a machine that has MIDI cannot be without it for a test.
    monkeypatch.setattr(links, "find_systems", lambda: ([], "no MIDI system answers on this machine"))

    proved = typed("verify", "Pell")
    listed = typed("ports")
    sent = typed("send", "Skerrow", "1")
    named = typed("verify", "Pell", "--port", "interface")

    assert proved.code == 0
    assert "through the built-in loopback (no MIDI system answers on this machine)" in proved.out
    assert listed.code == 0
    assert listed.out.splitlines()[0].split("  ") == ["for proofs", "built-in loopback"]
    assert listed.out.splitlines()[1].startswith("No MIDI port is there but our own. Connect a MIDI interface")
    assert (sent.code, sent.out) == (2, "")
    assert sent.err.startswith("Error: there is no MIDI port to send to. Connect a MIDI interface")
    assert named.code == 2
    assert "there is no output port 'interface'" in named.err


@pytest.mark.jack
@pytest.mark.usefixtures("jack")
def test_a_gig_is_proved_through_real_virtual_ports(demo: Path) -> None:
    """What arrived went through the system's MIDI, byte by byte; the summary says through which."""
    printed = typed_in_a_process("verify", "Pell", "--json")

    found = json.loads(printed.out)
    assert printed.code == 0, printed
    assert found["ok"]
    assert found["port"] == {"kind": "system port by JACK", "reason": ""}
    assert found["bytes"] > 0


def test_a_terminal_without_our_signs_gets_question_marks(demo: Path) -> None:
    """An old terminal must not end a command in the middle of a line; on and off are told in words as well."""
    printed = typed_in_a_process("scene", "show", "Limpet", "stuck", "--rig", "hall board", PYTHONIOENCODING="ascii")

    assert printed.code == 0
    assert "? sounds  drive, soft" in printed.out
    assert "? silent  octave down" in printed.out


def test_json_says_everything_on_any_terminal(empty: Path) -> None:
    """A program reads it: no letter may become a question mark."""
    assert typed("unit", "add", "Träume, 夢").code == 0

    printed = typed_in_a_process("unit", "list", "--json", PYTHONIOENCODING="ascii")

    assert json.loads(printed.out)[0]["name"] == "Träume, 夢"


@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "1"}])
def test_nothing_is_told_by_colour(demo: Path, environment: dict[str, str]) -> None:
    """Output goes to printers, mails and red torches: it is the same plain text everywhere."""
    for command in (["gig", "list"], ["compile", "Skerrow"], ["--help"], ["nosuch"]):
        printed = typed_in_a_process(*command, **environment)

        assert "\x1b" not in printed.out + printed.err


def test_progress_is_shown_only_to_a_terminal(demo: Path) -> None:
    """A log file full of counting helps nobody."""
    assert typed("verify", "Tallow", "--port", "loopback").err == ""


def test_progress_is_counted_on_a_terminal(demo: Path) -> None:
    """A long proof shows that it goes on, and clears its line at the end."""
    terminal, ours = pty.openpty()
    command = [sys.executable, "-m", "scenebook", "verify", "Tallow", "--port", "loopback"]
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=ours, env=_environment())
    os.close(ours)
    shown = os.read(terminal, 65536).decode()
    os.close(terminal)

    assert done.returncode == 0
    assert shown.startswith("cue 1 of 69\r")
    assert shown.endswith("cue 69 of 69\r\x1b[K")


def test_a_shell_completes_commands() -> None:
    """Typing in the dark is easier with the tab key."""
    words = {"_SCENEBOOK_COMPLETE": "complete_bash"}

    first = typed_in_a_process(COMP_WORDS="scenebook un", COMP_CWORD="1", **words)
    second = typed_in_a_process(COMP_WORDS="scenebook scene ", COMP_CWORD="2", **words)

    assert first.out.split() == ["unit"]
    assert second.out.split() == ["show", "set", "copy", "rename", "delete"]


def _environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}


def test_a_command_with_its_output_closed_does_its_work(demo: Path) -> None:
    """Started by another program that closes what it does not need, a command still ends as it should."""
    command = f"exec {sys.executable} -m scenebook song list >&-"

    done = subprocess.run(
        ["sh", "-c", command], env=os.environ | {"PYTHONPATH": str(ROOT)}, stderr=subprocess.PIPE, timeout=120
    )

    assert (done.returncode, done.stderr) == (0, b"")
