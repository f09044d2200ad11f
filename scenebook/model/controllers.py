"""Controller numbers: which of a unit's members use which, and those that MIDI or the rig needs for something else."""

from collections.abc import Iterator, Mapping

from scenebook.errors import ControllerError
from scenebook.model.protocol import BANK_SELECT_LSB, BANK_SELECT_MSB, CHANNEL_MODE
from scenebook.model.rigs import Placement
from scenebook.model.units import BankSelect, Unit

__all__ = ["bank_select_clashes", "channel_mode_uses", "controllers_of", "shared_controllers"]

_BANK_SELECT: dict[BankSelect, tuple[int, ...]] = {
    BankSelect.NONE: (),
    BankSelect.MSB: (BANK_SELECT_MSB,),
    BankSelect.LSB: (BANK_SELECT_LSB,),
    BankSelect.BOTH: (BANK_SELECT_MSB, BANK_SELECT_LSB),
}


def bank_select_clashes(
    units: Mapping[str, Unit], places: Mapping[str, Placement]
) -> Iterator[tuple[bool, ControllerError]]:
    """Yield (the chart says so, error) for each controller that Bank Select needs on the same port and channel."""
    needed: dict[tuple[str | None, int], dict[int, str]] = {}
    for name, unit in units.items():
        place = places[name]
        if unit.programs and unit.programs.program_change and place.channel:
            numbers = _BANK_SELECT[unit.programs.bank_select]
            needed.setdefault((place.port, place.channel), {}).update(dict.fromkeys(numbers, name))
    for name, unit in units.items():
        place = places[name]
        wanted = needed.get((place.port, place.channel or 0), {})
        for member, number, by_chart in controllers_of(unit):
            if number in wanted:
                yield (
                    by_chart,
                    ControllerError(
                        f"{member!r} of {name!r} uses controller {number}, which {wanted[number]!r} needs for "
                        "Bank Select on the same channel",
                        remedy="Put one of them on another channel, or write by_chart: true if the chart says so",
                    ),
                )


def controllers_of(unit: Unit) -> Iterator[tuple[str, int, bool]]:
    """Yield (what uses it, controller number, by the maker's chart) for all controllers that a unit's chart names."""
    for name, switch in unit.switches.items():
        for way in (switch.message, switch.toggle):
            if way and way.controller is not None:
                yield name, way.controller, way.by_chart
    for name, control in unit.controls.items():
        if control.message:
            yield name, control.message.controller, control.message.by_chart
    for name, trigger in unit.triggers.items():
        if trigger.controller is not None:
            yield name, trigger.controller, trigger.by_chart
    for preset in unit.presets:
        for name, variant in preset.variants.items():
            if variant.controller is not None:
                yield name, variant.controller, variant.by_chart


def channel_mode_uses(unit: Unit) -> Iterator[tuple[bool, ControllerError]]:
    """Yield (the chart says so, error) for each controller number that is a channel mode message (120-127)."""
    for name, number, by_chart in controllers_of(unit):
        if number in CHANNEL_MODE:
            yield (
                by_chart,
                ControllerError(
                    f"{name!r} uses controller {number}, which is a channel mode message",
                    accepted="0 to 119",
                    remedy="Write by_chart: true if the maker's chart says so",
                ),
            )


def shared_controllers(unit: Unit) -> Iterator[ControllerError]:
    """Yield an error for each member whose controller would move another member of the same unit too.

    Two switches may share a number where each has its own explicit values for on and off.
    """
    taken: dict[tuple[int, int | None], str] = {}
    for name, number, values in _worked_by(unit):
        for value in values:
            other = taken.get((number, value)) or taken.get((number, None))
            if other is None and value is None:
                other = next((holder for (held, _), holder in taken.items() if held == number), None)
            if other is not None and other != name:
                yield ControllerError(
                    f"{name!r} and {other!r} both use controller {number}, so that one would move the other",
                    remedy="Give each its own controller, or switches with their own on and off values",
                )
                break
        taken.update({(number, value): name for value in values})


def _worked_by(unit: Unit) -> Iterator[tuple[str, int, tuple[int | None, ...]]]:
    """Yield (member, controller, the values that work it); None stands for every value."""
    for name, switch in unit.switches.items():
        message = switch.message
        if message and message.controller is not None:
            yield name, message.controller, (None,) if message.on is None else (message.on, message.off)
    for name, control in unit.controls.items():
        if control.message:
            yield name, control.message.controller, (None,)
