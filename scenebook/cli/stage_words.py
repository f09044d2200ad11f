"""Say in words how a rig is run on stage."""

from collections.abc import Iterator

from scenebook.cli.plain import names_words
from scenebook.cli.words import setting_words
from scenebook.model import Playback, Rig, StepTrigger, Unit, Wire

__all__ = ["stage_lines", "unit_stage_words"]


def stage_lines(rig: Rig) -> Iterator[str]:
    """Yield what a rig says of its gigs on stage, a line each; nothing where it says nothing."""
    yield from (f"  Port {port}: {_wire(wire)}" for port, wire in rig.wires.items())
    yield from (f"  {step.does}: {_step(step)}" for step in rig.steps)
    yield from [f"  Playback: {_playback(rig.playback)}"] if rig.playback else []
    yield from (f"  Safe: {unit}, {setting_words(setting)}" for unit, setting in rig.safe.items())
    yield from [f"  Sender: {rig.sender.unit}, to {names_words(rig.sender.ports)}"] if rig.sender else []


def unit_stage_words(unit: Unit) -> str:
    """Return what a unit says of how it is sent to, and of lists that it holds."""
    facts = [f"at least {unit.least_gap_ms:g} ms between messages"] if unit.least_gap_ms else []
    facts += [f"its tail bends with the clock for {unit.bends_ms:g} ms"] if unit.bends_ms else []
    if unit.lists is not None:
        holds = unit.lists
        facts.append(f"holds {holds.count} lists of {holds.messages} messages on {holds.channels} channels")
    return "; ".join(facts)


def _wire(wire: Wire) -> str:
    plug = "5-pin plug" if wire.plug == "5-pin" else "USB"
    clock = "clock with Start and Stop" if wire.start_stop else "clock" if wire.clock else ""
    return ", ".join(filter(None, [plug, f"MIDI port {wire.midi!r}" if wire.midi else "", clock]))


def _step(step: StepTrigger) -> str:
    kinds = {"note": step.note, "controller": step.controller, "program": step.program, "Song Select": step.song}
    kind, number = next((kind, number) for kind, number in kinds.items() if number is not None)
    channel = f" on channel {step.channel}" if step.channel else ""
    latching = ", latching" if step.latching else ""
    return f"{kind} {number}{channel}{latching}" + (f", from {step.listens!r}" if step.listens else "")


def _playback(playback: Playback) -> str:
    ways = [f"program change on channel {playback.channel}"] if playback.channel else []
    ways += ["Song Select"] if playback.song_select else []
    parts = f", parts by controller {playback.part_controller}" if playback.part_controller is not None else ""
    return f"{' or '.join(ways)} calls a song{parts}" + (f", from {playback.listens!r}" if playback.listens else "")
