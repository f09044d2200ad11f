"""Send one cue of a gig to real ports, at its own times."""

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

from scenebook.actions.compiling import compiled
from scenebook.cueing.cues import Cue, CueList, Message
from scenebook.errors import PortError, UnknownNameError
from scenebook.midi import OutPort, PortInfo, open_output, ports
from scenebook.model import find_name
from scenebook.model.base import place_text

__all__ = ["Clock", "SentCueReport", "midi_ports", "send_cue", "send_messages"]

SPIN_S = 0.002  # the system may sleep longer than asked; the rest of a wait is spent looking at the clock


@dataclass(frozen=True, slots=True)
class Clock:
    """What time it is, in seconds, and how to wait; a test brings its own."""

    now: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep


@dataclass(frozen=True, slots=True)
class SentCueReport:
    """The full list of the one cue that was sent, and to which port each of the rig's ports went."""

    cue_list: CueList
    ports: Mapping[str, str]

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
    """Send one cue, full, paced by its times. `cue` is its number, or "home".

    `ports_given` are names of MIDI ports: one for a rig with one port, else "rig's port=MIDI port" for each.

    Raises:
        UnknownNameError: the gig has no cue of that number.
        PortError: a port is not there, or it is not said which to use.
    """
    cue_list = compiled(path, gig, rig, full=True)
    found = _cue(cue_list, cue)
    wanted = list(dict.fromkeys(message.port for message in found.messages))
    chosen = _chosen(wanted, ports_given)
    with ExitStack() as stack:
        opened: dict[str | None, OutPort] = {}
        for name in dict.fromkeys(chosen.values()):
            opened[name] = stack.enter_context(open_output(name))
        outs = {port: opened[name] for port, name in chosen.items()}
        send_messages(found.messages, outs, clock or Clock())
        return SentCueReport(replace(cue_list, cues=(found,)), {port: out.name for port, out in outs.items()})


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


def _cue(cue_list: CueList, text: str) -> Cue:
    by_name = {"home": cue_list.cues[0], **{str(cue.number): cue for cue in cue_list.cues}}
    if text.strip().casefold() in by_name:
        return by_name[text.strip().casefold()]
    raise UnknownNameError(
        f"there is no cue {text!r}",
        where=place_text("gig", cue_list.gig),
        accepted=f"0 (home) to {len(cue_list.cues) - 1}",
        remedy="See them with: scenebook compile",
    )


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
