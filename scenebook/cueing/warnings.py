"""What a player should know of a rig's channels: controllers needed twice, and messages that disturb another unit."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from scenebook.cueing.cues import Cue
from scenebook.cueing.points import Point
from scenebook.model import MAIN, Library, Unit
from scenebook.model.base import place_text
from scenebook.model.controllers import bank_select_clashes, channel_mode_uses, controllers_of
from scenebook.model.messages import MessagePattern, channel_of, describe
from scenebook.model.protocol import CONTROL_CHANGE, NOTE_OFF, NOTE_ON, PROGRAM_CHANGE, SYSTEM_FIRST
from scenebook.states.stage import Carried, Stage
from scenebook.states.standing import Standing

__all__ = ["check_controllers", "crowded", "disturbances", "undescribed"]


def check_controllers(library: Library, stage: Stage) -> Iterator[str]:
    """Yield what the maker's charts excuse.

    Raises:
        ControllerError: a controller is needed for Bank Select on the same channel, or is a channel mode message, and
            no chart says that it is meant.
    """
    units = {carried.name: carried.unit for carried in stage.carried}
    places = {carried.name: carried.placement for carried in stage.carried}
    for carried in stage.carried:
        for by_chart, error in channel_mode_uses(carried.unit):
            if not by_chart:
                raise error.at(f"unit {carried.name!r}")
            if carried.placement.channel is not None:
                yield f"{carried.name}: {error.found} (the maker's chart says so)"
    for by_chart, error in bank_select_clashes(units, places):
        if not by_chart:
            raise error.at(f"rig {stage.rig!r}")
        yield f"{error.found} (the maker's chart says so)"


def disturbances(library: Library, stage: Stage, cues: Sequence[Cue]) -> Iterator[str]:
    """Yield a warning for each message of the list that another unit on its channel takes for its own."""
    shared = _heard_by_others(stage.carried)
    everything = (message for cue in cues for message in cue.messages)
    messages = [m for m in everything if m.unit in shared or m.data[0] >= SYSTEM_FIRST]
    sent = {(m.port, m.unit, m.data[:2] if channel_of(m.data) else m.data): m.data for m in messages}
    seen: set[tuple[str, str, bytes]] = set()
    for (port, unit, start), data in sent.items():
        for other in _hearers(stage.carried, port, channel_of(data), but=unit):
            key = (unit, other.name, start if data[0] & 0xF0 == CONTROL_CHANGE else start[:1])
            if key not in seen and _understands(other.unit, data):
                seen.add(key)
                yield f"{other.name!r} hears what is meant for {unit!r}: {describe(data)}"


def _heard_by_others(carried: Sequence[Carried]) -> set[str]:
    """Return the units on whose channel another unit listens."""
    return {
        one.name
        for one in carried
        for other in carried
        if other is not one
        and other.placement.port == one.placement.port
        and one.placement.channel in other.placement.channels
    }


def undescribed(stage: Stage, named: Mapping[str, Iterable[str]]) -> Iterator[str]:
    """Yield a warning for each unit with presets that are named (slots as displayed) and of which nothing is told.

    What such a preset does to the unit's members is not known here, and the unit will hardly leave them alone.
    """
    for name, labels in named.items():
        unit = stage.by_name[name].unit
        told = {preset.slot for preset in unit.presets if preset.stores or preset.rest}
        blank = [label for label in labels if label not in told]
        if blank and len(unit.members) > (MAIN in unit.members):
            yield f"{name!r}: nothing says what preset {', '.join(blank)} stores; describe it, or its sound is a guess"


def crowded(stage: Stage, points: Iterable[Point], standings: Iterable[Standing]) -> Iterator[str]:
    """Yield a warning for each unit of which a scene itself turns on more sections than it has at once.

    Stand-ins never do; which of the sections the unit really plays is not known here.
    """
    seen: set[tuple[str, frozenset[str]]] = set()
    for point, standing in zip(points, standings, strict=True) if stage.limited else ():
        for carried in stage.limited:
            on, most = standing.met.sections[carried.name], carried.unit.sections_at_once or 0
            if len(on) > most and (carried.name, on) not in seen:
                seen.add((carried.name, on))
                names = ", ".join(member for member in carried.unit.switches if member in on)
                where = place_text("song", point.song_name, f"scene {point.part.scene!r}")
                yield f"{where}: {carried.name!r} has {len(on)} sections on ({names}), and does {most} at once"


def _hearers(carried: Iterable[Carried], port: str, channel: int | None, *, but: str) -> Iterator[Carried]:
    """Yield the other units on a port that hear a channel; what has no channel is heard by all."""
    for each in carried:
        if each.name != but and each.placement.port == port and (channel is None or channel in each.placement.channels):
            yield each


def _understands(unit: Unit, data: bytes) -> bool:
    channel, kind = channel_of(data), data[0] & 0xF0
    if any(data in MessagePattern.parse(text).for_channel(channel or 1) for text in _bytes_of(unit)):
        return True
    if channel is None:
        return False
    if kind == CONTROL_CHANGE:
        return any(number == data[1] for _, number, _ in controllers_of(unit))
    if kind == PROGRAM_CHANGE:
        return unit.programs is not None and unit.programs.program_change
    return kind in (NOTE_ON, NOTE_OFF) and data[1] in _notes_of(unit)


def _notes_of(unit: Unit) -> Iterator[int | None]:
    for switch in unit.switches.values():
        yield from (way.note for way in (switch.message, switch.toggle) if way)
    yield from (trigger.note for trigger in unit.triggers.values())


def _bytes_of(unit: Unit) -> Iterator[str]:
    """Yield every list of message bytes in a unit's chart."""
    texts: list[str | None] = [trigger.bytes for trigger in unit.triggers.values()]
    for switch in unit.switches.values():
        texts += [switch.message.on_bytes, switch.message.off_bytes] if switch.message else []
        texts += [switch.toggle.bytes] if switch.toggle else []
    texts += [variant.bytes for preset in unit.presets for variant in preset.variants.values()]
    yield from filter(None, texts)
