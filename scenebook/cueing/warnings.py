"""What a player should know of a rig's channels: controllers needed twice, and messages that disturb another unit."""

from collections.abc import Iterable, Iterator, Sequence

from scenebook.cueing.cues import Cue
from scenebook.model import MAIN, Library, Unit
from scenebook.model.controllers import bank_select_clashes, channel_mode_uses, controllers_of
from scenebook.model.messages import describe
from scenebook.model.protocol import CONTROL_CHANGE, PROGRAM_CHANGE
from scenebook.states.stage import Carried, Stage

__all__ = ["check_controllers", "disturbances", "undescribed"]


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
    sent = {(m.port, m.unit, m.data[:2]): m.data for cue in cues for m in cue.messages}
    seen: set[tuple[str, str, bytes]] = set()
    for (port, unit, start), data in sent.items():
        for other in _hearers(stage.carried, port, data[0], but=unit):
            key = (unit, other.name, start if data[0] & 0xF0 == CONTROL_CHANGE else start[:1])
            if key not in seen and _understands(other.unit, data):
                seen.add(key)
                yield f"{other.name!r} hears what is meant for {unit!r}: {describe(data)}"


def undescribed(stage: Stage, cues: Sequence[Cue]) -> Iterator[str]:
    """Yield a warning for each unit with presets that scenes name and of which nothing says what they store.

    Such a preset is taken to leave the unit's members as they were, which the unit itself will hardly do.
    """
    named: dict[str, dict[str, None]] = {}
    for state in {id(state): state for cue in cues for state in cue.states}.values():
        if state.named and state.preset is not None:
            named.setdefault(state.unit, {})[state.preset] = None
    for name, labels in named.items():
        unit = stage.by_name[name].unit
        told = {preset.slot for preset in unit.presets if preset.stores or preset.rest}
        blank = [label for label in labels if label not in told]
        if blank and len(unit.members) > (MAIN in unit.members):
            yield f"{name!r}: nothing says what preset {', '.join(blank)} stores, so it is taken to change no member"


def _hearers(carried: Iterable[Carried], port: str, status: int, *, but: str) -> Iterator[Carried]:
    for each in carried:
        if each.name != but and each.placement.port == port and (status & 0x0F) + 1 in each.placement.channels:
            yield each


def _understands(unit: Unit, data: bytes) -> bool:
    kind = data[0] & 0xF0
    if kind == CONTROL_CHANGE:
        return any(number == data[1] for _, number, _ in controllers_of(unit))
    if kind == PROGRAM_CHANGE:
        return unit.programs is not None and unit.programs.program_change
    notes = [switch.message.note for switch in unit.switches.values() if switch.message]
    return data[1] in [*notes, *(trigger.note for trigger in unit.triggers.values())]
