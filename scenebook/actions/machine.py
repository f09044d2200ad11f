"""See to it that the computer lasts the evening: keep it awake, and say beforehand what could end it.

What a system does not let a program do, or does not tell, is said in words; nothing here raises.
"""

import re
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final, NamedTuple, Self

__all__ = ["Awake", "Power", "machine_words", "own_addresses", "power_words", "sleep_words"]

_LOW_PERCENT: Final = 60  # below it a laptop may not last a set, and another to pack up by
_ASK_S: Final = 3.0
_LOGIND: Final = ("/etc/systemd/logind.conf", "/usr/lib/systemd/logind.conf")

Ask = Callable[[Sequence[str]], str]


class Power(NamedTuple):
    """Where the current comes from: `plugged` is None and `percent` is None where the system does not tell."""

    plugged: bool | None = None
    percent: float | None = None


class Awake:
    """Keeps the computer and its screen awake from its making until `close`, where the system lets a program do so."""

    def __init__(self) -> None:
        """Ask the system; `words` say what came of it."""
        self._undo = ExitStack()
        self.words = self._begun()

    @property
    def is_kept(self) -> bool:
        """Whether the computer will not sleep by itself."""
        return not self.words.startswith("Note")

    def _begun(self) -> str:
        from wakepy import keep  # late: it looks through the whole system

        for mode, said in (
            (keep.presenting, "The computer and its screen are kept awake."),
            (keep.running, "The computer is kept awake; its screen may go dark."),
        ):
            try:
                if self._undo.enter_context(mode(on_fail="pass")).active:
                    return said
            except Exception as error:  # whatever a desktop answers, the gig goes on
                return (
                    f"Note: this system cannot be kept awake ({type(error).__name__}). Set it never to sleep tonight."
                )
        return "Note: this system does not let a program keep it awake. Set it never to sleep tonight."

    def close(self) -> None:
        """Let it sleep again."""
        try:
            self._undo.close()
        except Exception:  # the desktop has ended before us
            return

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def machine_words() -> tuple[str, ...]:
    """Return what could end an evening: mains and battery first, then what the sleep settings say."""
    power = _power()
    return (*power_words(power), *sleep_words(sys.platform, power, _asked))


def power_words(power: Power) -> Iterator[str]:
    """Yield what has to be said of mains and battery."""
    if power.plugged is None:
        yield "No battery is found, so the computer runs from the mains alone: mind its plug."
        return
    charge = "" if power.percent is None else f", {power.percent:.0f} %"
    if not power.plugged:
        yield f"Note: the computer runs on its battery{charge}. Plug the mains in."
    elif power.percent is not None and power.percent < _LOW_PERCENT:
        yield f"Note: on the mains, but the battery is low{charge}: it would not help for long."
    else:
        yield f"On the mains, with a battery{charge}."


def sleep_words(platform: str, power: Power, ask: Ask) -> Iterator[str]:
    """Yield what the system's settings would do by themselves; `ask` runs a command and gives what it printed."""
    on_mains = power.plugged is not False
    reader = {"darwin": _macos_minutes, "win32": _windows_minutes}.get(platform, _gnome_minutes)
    minutes = reader(on_mains, ask)
    if minutes is None:
        yield "What the sleep settings say could not be found out: look at them before the doors open."
    elif minutes:
        yield f"Note: left alone for {minutes:g} min, this computer goes to sleep by its settings."
    if platform == "linux" and (lid := _lid(ask)):
        yield lid


def _power() -> Power:
    try:
        import psutil  # late: only the stand asks

        battery = psutil.sensors_battery()
    except Exception:  # a system without such a thing, or one that refuses
        return Power()
    return Power() if battery is None else Power(battery.power_plugged, battery.percent)


def _asked(command: Sequence[str]) -> str:
    """Run a small command of the system; "" where there is none, or where it takes long."""
    if command[0] == "cat":
        return _read(command[1:])
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=_ASK_S, stdin=subprocess.DEVNULL, errors="replace"
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout if done.returncode == 0 else ""


def _read(names: Sequence[str]) -> str:
    texts = []
    for name in names:
        try:
            texts.append(Path(name).read_text(encoding="utf-8", errors="replace"))
        except OSError:
            continue
    return "\n".join(texts)


def _gnome_minutes(on_mains: bool, ask: Ask) -> float | None:
    """Return after how many minutes a GNOME desktop sleeps, 0 for never; None where it does not tell."""
    schema, source = "org.gnome.settings-daemon.plugins.power", "ac" if on_mains else "battery"
    what = ask(("gsettings", "get", schema, f"sleep-inactive-{source}-type")).strip().strip("'")
    seconds = ask(("gsettings", "get", schema, f"sleep-inactive-{source}-timeout")).strip()
    if not what or not seconds.isdigit():
        return None
    return 0.0 if what == "nothing" else int(seconds) / 60


def _macos_minutes(on_mains: bool, ask: Ask) -> float | None:
    """Read `pmset -g custom`: a section for each source, with lines such as "sleep  10" in minutes."""
    sections = re.split(r"(?m)^(\w[\w ]*):\s*$", ask(("pmset", "-g", "custom")))
    wanted = "AC Power" if on_mains else "Battery Power"
    for name, text in zip(sections[1::2], sections[2::2], strict=False):
        found = re.search(r"(?m)^\s*sleep\s+(\d+)", text)
        if name == wanted and found:
            return float(found[1])
    return None


def _windows_minutes(on_mains: bool, ask: Ask) -> float | None:
    """Read `powercfg`: its words are in any language, its last two numbers mains and battery in seconds."""
    said = ask(("powercfg", "/query", "SCHEME_CURRENT", "SUB_SLEEP", "STANDBYIDLE"))
    numbers = re.findall(r"0x([0-9a-fA-F]{8})\s*$", said, flags=re.MULTILINE)
    if len(numbers) < 2:
        return None
    return int(numbers[-2 if on_mains else -1], 16) / 60


def _lid(ask: Ask) -> str:
    """Say what closing the lid does where systemd decides it; its own default is to suspend (logind.conf(5))."""
    said = ask(("cat", *reversed(_LOGIND)))
    if not said:
        return ""
    found = re.findall(r"(?m)^\s*HandleLidSwitch\s*=\s*(\w+)", said)
    sleeps = (found[-1] if found else "suspend") in ("suspend", "hibernate", "hybrid-sleep", "suspend-then-hibernate")
    return "Keep the lid open: closed, the computer may sleep all the same." if sleeps else ""


def own_addresses() -> tuple[str, ...]:
    """Return the addresses by which other machines may reach this one, the likeliest first; none without a network."""
    import psutil  # late: only the stand asks

    try:
        found = [each for several in psutil.net_if_addrs().values() for each in several]
    except OSError:
        found = []
    there = [each.address for each in found if each.family is socket.AF_INET and not each.address.startswith("127.")]
    likely = _address_towards_others()
    return tuple(dict.fromkeys(([likely] if likely in there else []) + there))


def _address_towards_others() -> str:
    """Return the address from which something sent to others would leave. Nothing is sent.

    The address asked for is kept free for documentation (RFC 5737), so nobody has it.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))
        except OSError:
            return ""
        return str(asking.getsockname()[0])
