"""FluidSynth as a receiver: a program of its own on a JACK MIDI port, asked what it stands at on each channel."""

import itertools
import os
import queue
import re
import subprocess
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from scenebook.midi import OutPort, open_output
from scenebook.midi.system import find_systems
from scenebook.model.messages import program_change

__all__ = ["SOUND_FONTS", "Synthesizer", "synthesizer"]

_FOLDER = Path("/usr/share/sounds/sf2")
SOUND_FONTS = (_FOLDER / "TimGM6mb.sf2", _FOLDER / "FluidR3_GS.sf2")  # General MIDI; some of the GS variations

_LINE = re.compile(r"chan (\d+), (?:no preset|sfont (\d+), bank (\d+), preset (\d+))")
_CHANNELS = 16
_SECONDS = 20.0
_ATTEMPTS = 3
_count = itertools.count(1)


class Synthesizer:
    """A running FluidSynth and the port that leads to it. Channel 16 is kept for telling what has arrived."""

    def __init__(self, process: "subprocess.Popen[str]", port: OutPort) -> None:
        """Read what the process prints from now on."""
        assert process.stdin is not None
        assert process.stdout is not None
        self._process, self._stdin, self._port = process, process.stdin, port
        self._lines: queue.Queue[str] = queue.Queue()
        self._marks = itertools.cycle(range(1, 128))
        self._reader = threading.Thread(target=self._read, args=(process.stdout,), daemon=True)
        self._reader.start()

    @property
    def port(self) -> str:
        """The full name of its MIDI port, for whoever else is to send to it."""
        return self._port.name

    def send(self, messages: Sequence[bytes]) -> dict[int, tuple[int, int]]:
        """Send messages, and return the (bank, program) that the synthesizer reports of each channel 1-15 that has one.

        A program change on channel 16 goes last; once a report shows it, all has arrived, and the next report counts,
        since one is printed line by line while messages still come in.
        """
        mark = next(self._marks)
        for message in (*messages, program_change(_CHANNELS, mark)):
            self._port.send(message)
        deadline = time.monotonic() + _SECONDS
        while (found := self._report()).get(_CHANNELS, (0, -1))[1] != mark:
            if time.monotonic() > deadline:
                raise TimeoutError(f"what was sent has not arrived after {_SECONDS:.0f} s; last report: {found}")
        return {channel: at for channel, at in self._report().items() if channel != _CHANNELS}

    def _report(self) -> dict[int, tuple[int, int]]:
        self._stdin.write("channels -verbose\n")
        self._stdin.flush()
        found: dict[int, tuple[int, int]] = {}
        while True:
            line = _LINE.search(self._lines.get(timeout=_SECONDS))
            if line and line[2]:
                found[int(line[1]) + 1] = int(line[3]), int(line[4])
            if line and int(line[1]) == _CHANNELS - 1:
                return found

    def _read(self, stdout: IO[str]) -> None:
        with stdout:
            for line in stdout:
                self._lines.put(line)


@contextmanager
def synthesizer(fonts: Sequence[Path], *, banks: str) -> Iterator[Synthesizer]:
    """Run FluidSynth on the JACK server of this test; `banks` is its way to read Bank Select: gs, xg or mma.

    Its standard input stays open, or it would end at once; audio goes nowhere.
    """
    process, name = _started(fonts, banks)
    try:
        with open_output(name) as port:
            found = Synthesizer(process, port)
            _wait_until_it_hears(found, port)
            yield found
    finally:
        _quit(process)


def _started(fonts: Sequence[Path], banks: str) -> tuple["subprocess.Popen[str]", str]:
    """Start FluidSynth and return it with its MIDI port; now and then a JACK server lets a new client wait in vain."""
    for attempt in range(_ATTEMPTS):
        name = f"witness-{os.getpid()}-{next(_count)}"
        options = [f"midi.jack.id={name}", f"audio.jack.id={name}", f"synth.midi-bank-select={banks}"]
        options += ["audio.jack.autoconnect=0", "midi.autoconnect=0"]
        command = ["fluidsynth", "-a", "jack", "-m", "jack", *(part for each in options for part in ("-o", each))]
        process = subprocess.Popen(
            [*command, *map(str, fonts)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        try:
            return process, _port_of(name, process)
        except TimeoutError:
            _quit(process)
            assert process.stdout is not None
            process.stdout.close()
            if attempt == _ATTEMPTS - 1:
                raise
    raise AssertionError("never reached")


def _quit(process: "subprocess.Popen[str]") -> None:
    """Ask first: a JACK server waits for seconds, again and again, for a client that was killed."""
    assert process.stdin is not None
    try:
        with process.stdin:
            process.stdin.write("quit\n")
        process.wait(_SECONDS)
    except (OSError, subprocess.TimeoutExpired):
        process.kill()
        process.wait()


def _port_of(name: str, process: "subprocess.Popen[str]") -> str:
    """Return the full name of the synthesizer's MIDI port, as soon as it is there."""
    deadline = time.monotonic() + _SECONDS
    while time.monotonic() < deadline and process.poll() is None:
        for system in find_systems()[0]:
            for port in system.outputs():
                if name in port:
                    return port
        time.sleep(0.05)
    raise TimeoutError(f"the synthesizer {name} has no MIDI port; it ended with {process.poll()}")


def _wait_until_it_hears(found: Synthesizer, port: OutPort) -> None:
    """A connection just made may swallow what is sent first."""
    deadline = time.monotonic() + _SECONDS
    while found._report().get(_CHANNELS, (0, 0))[1] != 127 and time.monotonic() < deadline:
        port.send(program_change(_CHANNELS, 127))
        time.sleep(0.01)
