"""Cross-checks of what a rig says of its gigs on stage: wires, steps, playback, safe, sender; and of songs' numbers.

Pure. As in `checks`, each function yields one error for each fault, with the path to it.
"""

from collections.abc import Callable, Iterator, Mapping

from scenebook.errors import BadValueError, ScenebookError, UnknownNameError
from scenebook.model.base import Setting, did_you_mean, listed
from scenebook.model.gigs import Gig
from scenebook.model.on_stage import Playback, Sender, StepTrigger
from scenebook.model.rigs import Lead, Rig
from scenebook.model.songs import Song
from scenebook.model.units import Unit

__all__ = ["check_numbers", "check_on_stage", "check_sent_once"]

Faults = Iterator[ScenebookError]
Path = tuple[str | int, ...]
SettingCheck = Callable[[Unit, Setting, float | None, Path], Faults]

_KINDS = ("note", "controller", "program", "song")


def check_on_stage(rig: Rig, units: Mapping[str, Unit], check_setting: SettingCheck) -> Faults:
    """Yield the faults of what a rig says of a gig on stage; `check_setting` holds one unit's setting against it."""
    for port in rig.wires:
        yield from _unknown_port(rig, port, ("wires", port))
    yield from _step_faults(rig)
    yield from _safe_faults(rig, units, check_setting)
    yield from _sender_faults(rig, units)


def check_numbers(gig: Gig, songs: Mapping[str, Song]) -> Faults:
    """Yield a fault for each song of a gig that has the number of another: a playback rig could not tell them apart."""
    taken: dict[int, str] = {}
    for name in dict.fromkeys(entry.song for entry in (*gig.entries, *gig.spares)):
        number = songs[name].number if name in songs else None
        if number is None:
            continue
        if number in taken:
            yield BadValueError(
                f"a playback rig calls {taken[number]!r} and {name!r} by the same number {number}",
                remedy="Give one of them another number, or none",
            )
        taken.setdefault(number, name)


def check_sent_once(rig: Rig, midi: Mapping[str, str], where: str) -> Faults:
    """Yield a fault for each port that would be sent to from the computer and from the rig's sender as well.

    Args:
        rig: the rig.
        midi: by port of the rig, the MIDI port that is named for it; "" is none.
        where: the place, in the player's words.
    """
    if rig.sender is None:
        return
    for port in rig.sender.ports:
        if midi.get(port):
            yield BadValueError(
                f"stand and sender would both send to port {port!r}: the sender {rig.sender.unit!r} serves it, and the "
                f"MIDI port {midi[port]!r} is named for it",
                where=where,
                remedy=f'Leave it to the sender with --port "{port}=", or take the port from the rig\'s sender',
            )


def _step_faults(rig: Rig) -> Faults:
    """Yield a fault for each message that would do two things; the names of MIDI ports may be shortened."""
    for index, step in enumerate(rig.steps):
        for other in rig.steps[:index]:
            if _message(step) == _message(other) and _may_be_one(step.listens, other.listens):
                yield _twice(step, other.does, ("steps", index))
                break
        else:
            if rig.playback is not None and _calls(rig.playback, step):
                yield _twice(step, "", ("steps", index))


def _message(step: StepTrigger) -> tuple[object, ...]:
    return tuple(getattr(step, name) for name in ("channel", *_KINDS))


def _calls(playback: Playback, step: StepTrigger) -> bool:
    """Tell whether a message that steps would call a song, or a part of one, too."""
    if not _may_be_one(step.listens, playback.listens):
        return False
    if step.song is not None:
        return playback.song_select
    if step.channel != playback.channel:
        return False
    return step.program is not None or (step.controller is not None and step.controller == playback.part_controller)


def _may_be_one(one: str, other: str) -> bool:
    one, other = one.casefold(), other.casefold()
    return one.startswith(other) or other.startswith(one)


def _twice(step: StepTrigger, other: str, path: Path) -> BadValueError:
    """Return the fault of a message that does something else as well: `other`, or "" to call songs."""
    name = next(name for name in _KINDS if getattr(step, name) is not None)
    channel = f" on channel {step.channel}" if step.channel else ""
    said = f"{name} {getattr(step, name)}{channel}"
    if other == step.does:
        return BadValueError(f"{said} does {other!r} twice", path=path, remedy="Leave one of them out")
    also = repr(other) if other else "the playback rig's calling of songs"
    return BadValueError(
        f"{said} would do two things: {step.does!r} and {also}",
        path=path,
        remedy="Let one of them listen to another message",
    )


def _safe_faults(rig: Rig, units: Mapping[str, Unit], check_setting: SettingCheck) -> Faults:
    for name, setting in rig.safe.items():
        path: Path = ("safe", name)
        if name not in rig.carried or name not in units:
            remedy = did_you_mean(name, rig.carried)
            accepted = "" if remedy else listed(rig.carried)
            yield UnknownNameError(
                f"safe names {name!r}, which is not in this rig", path=path, accepted=accepted, remedy=remedy
            )
            continue
        yield from check_setting(units[name], setting, None, path)
        if "leave" in setting.values() or "leave" in setting:
            yield BadValueError("safe is called from anywhere, so it cannot leave anything as it is", path=path)


def _sender_faults(rig: Rig, units: Mapping[str, Unit]) -> Faults:
    sender = rig.sender
    if sender is None:
        return
    if sender.unit not in rig.carried or sender.unit not in units:
        remedy = did_you_mean(sender.unit, rig.carried)
        accepted = "" if remedy else listed(rig.carried)
        yield UnknownNameError(
            f"the sender {sender.unit!r} is not in this rig", path=("sender", "unit"), accepted=accepted, remedy=remedy
        )
    elif units[sender.unit].lists is None:
        yield BadValueError(
            f"{sender.unit!r} is the sender, but nothing says what lists it can hold",
            path=("sender", "unit"),
            remedy="Give the unit lists: count and messages",
        )
    for index, port in enumerate(sender.ports):
        yield from _unknown_port(rig, port, ("sender", "ports", index))
        if port in sender.ports[:index]:
            yield BadValueError(f"port {port!r} is named twice", path=("sender", "ports", index))
    yield from _sent_twice(rig, sender)


def _sent_twice(rig: Rig, sender: Sender) -> Faults:
    """Yield a fault for each wire and each lead by which the computer would send what the sender sends."""
    for port, wire in rig.wires.items():
        if port in sender.ports and wire.midi:
            yield BadValueError(
                f"stand and sender would both send to port {port!r}: the sender {sender.unit!r} serves it, and "
                f"the MIDI port {wire.midi!r} is named for it",
                path=("wires", port, "midi"),
                remedy="Name no MIDI port there, or take the port from the sender",
            )
    for index, lead in enumerate(rig.leads):
        source = _source(rig, lead, sender)
        if source is not None and source not in sender.ports and rig.placement(lead.to).port in sender.ports:
            yield BadValueError(
                f"stand and sender would both send to {lead.to!r}: the sender {sender.unit!r} feeds it, and a lead "
                f"comes to it from the computer's port {source!r}",
                path=("leads", index),
                remedy="Take the lead away, or let the unit hear that port",
            )


def _source(rig: Rig, lead: Lead, sender: Sender) -> str | None:
    """Return the computer's port from which a lead's messages come, through units' thrus; None where there is none."""
    before = {each.to: each for each in rig.leads}
    for _ in rig.leads:
        if lead.port is not None or lead.thru == sender.unit or lead.thru not in before:
            break
        lead = before[lead.thru]
    return lead.port


def _unknown_port(rig: Rig, port: str, path: Path) -> Faults:
    if port not in rig.ports:
        remedy = did_you_mean(port, rig.ports)
        accepted = "" if remedy else listed(rig.ports) or "none: no unit of this rig hears MIDI"
        yield UnknownNameError(
            f"no unit of this rig hears a port {port!r}", path=path, accepted=accepted, remedy=remedy
        )
