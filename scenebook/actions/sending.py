"""Send one cue of a gig to real ports, at its own times."""

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

from scenebook.actions.compiling import compiled
from scenebook.actions.cue_names import find_cue
from scenebook.cueing.cues import Cue, CueList, Message
from scenebook.errors import PortError
from scenebook.midi import OutPort, PortInfo, open_output, ports
from scenebook.midi.ports import LOOPBACK
from scenebook.model import find_name

__all__ = ["CONNECT", "Clock", "SentCueReport", "midi_ports", "send_cue", "send_messages"]

CONNECT = (
    "Connect a MIDI interface (on Python 3.13 and later the extra 'ports' has to be installed: see README), "
    "or prove the gig without one: scenebook verify"
)

SPIN_S = 0.002  # the system may sleep longer than asked; the rest of a wait is spent looking at the clock


@dataclass(frozen=True, slots=True)
class Clock:
    """What time it is, in seconds, and how to wait; a test brings its own."""

    now: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep


@dataclass(frozen=True, slots=True)
class SentCueReport:
    """The full list of the one cue that was sent, and to which port each of the rig's ports went.

    `part` says of what it is a cue where it is none of the sets: "spare song", "house sound".
    """

    cue_list: CueList
    ports: Mapping[str, str]
    part: str = ""

    @property
    def cue(self) -> Cue:
        """The cue itself."""
        return self.cue_list.cues[0]


def midi_ports() -> list[PortInfo]:
    """Return every MIDI port there is, the built-in loopback last."""
    return ports()


def send_cue(
    path: Path,
    gig: str,
    cue: str,
    *,
    rig: str | None = None,
    ports_given: Sequence[str] = (),
    clock: Clock | None = None,
) -> SentCueReport:
    """Send one cue, full, paced by its times.

    `cue` is its number, "home", the scene of a house sound, a spare song (its first cue), or "song/scene".

    `ports_given` are names of MIDI ports: one for a rig with one port, else "rig's port=MIDI port" for each.

    Raises:
        UnknownNameError: the gig has no such cue, or several.
        PortError: a port is not there, or it is not said which to use.
    """
    cue_list = compiled(path, gig, rig, full=True)
    part, found = find_cue(cue_list, cue)
    wanted = list(dict.fromkeys(message.port for message in found.messages))
    _check_outputs(ports_given, is_needed=bool(wanted))
    chosen = _chosen(wanted, ports_given)
    with ExitStack() as stack:
        opened: dict[str | None, OutPort] = {}
        for name in dict.fromkeys(chosen.values()):
            opened[name] = stack.enter_context(open_output(name))
        outs = {port: opened[name] for port, name in chosen.items()}
        send_messages(found.messages, outs, clock or Clock())
        return SentCueReport(replace(cue_list, cues=(found,)), {port: out.name for port, out in outs.items()}, part)


def send_messages(messages: Sequence[Message], outs: Mapping[str, OutPort], clock: Clock) -> None:
    """Send each message when its time has come, counted from now; none is sent early."""
    begun = clock.now()
    for message in sorted(messages, key=lambda each: each.at_us):
        _wait_until(begun + message.at_us / 1_000_000, clock)
        outs[message.port].send(message.data)


def _wait_until(moment: float, clock: Clock) -> None:
    left = moment - clock.now()
    if left > SPIN_S:
        clock.sleep(left - SPIN_S)
    while clock.now() < moment:
        clock.sleep(0)


def _check_outputs(given: Sequence[str], *, is_needed: bool) -> None:
    """Refuse what no unit can hear: the built-in loopback, and a machine without any port.

    Raises:
        PortError: as said; it names a next step.
    """
    if any(text.rpartition("=")[2].strip().casefold() in (LOOPBACK, "loopback") for text in given):
        raise PortError("the built-in loopback is for proofs, and no unit hears it", remedy=CONNECT)
    if is_needed and not given and not any(port.direction == "out" for port in ports()):
        raise PortError("there is no MIDI port to send to", remedy=CONNECT)


def _chosen(wanted: Sequence[str], given: Sequence[str]) -> dict[str, str | None]:
    """Return the MIDI port for each port of the rig; None is the only one there is."""
    if len(wanted) <= 1:
        if len(given) > 1:
            raise PortError(f"{len(given)} ports are named, and the cue needs {len(wanted)}")
        name = given[0].removeprefix(f"{wanted[0]}=") if given and wanted else None
        return dict.fromkeys(wanted, name)
    chosen: dict[str, str | None] = {}
    for text in given:
        port, sign, name = text.partition("=")
        if not sign:
            raise _say_which(wanted, f"{text!r} does not say for which port of the rig")
        chosen[find_name(port, wanted, "port of the rig")] = name
    missing = [port for port in wanted if port not in chosen]
    if missing:
        raise _say_which(wanted, f"no MIDI port is named for {', '.join(missing)}")
    return chosen


def _say_which(wanted: Sequence[str], found: str) -> PortError:
    example = " ".join(f'--port "{port}=NAME"' for port in wanted)
    return PortError(found, remedy=f"Name one for each port of the rig: {example}")
