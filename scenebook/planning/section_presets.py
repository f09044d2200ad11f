"""Presets that nothing plays although each section in them has a stand-in: what the player could still tell.

A stand-in for a section meets the need for that section alone, and a preset is one need (rules S7, S8), since a preset
may be more than the sections that are on in it. Whether another's preset is like it, an ear says.
"""

from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

from scenebook.model import Library, StandIn, Unit
from scenebook.planning.reach import Reach
from scenebook.states.stand_ins import PRESET

__all__ = ["SectionPreset", "section_presets"]


class SectionPreset(NamedTuple):
    """A preset of a unit that is not carried, and the carried one that plays each of its sections.

    `switches` are those of `by` that would be on; `preset` is the described preset of `by` in which just these are, ""
    where there is none yet. `times` counts the scenes as played that go without.
    """

    unit: str
    part_preset: str
    by: str
    switches: tuple[str, ...]
    preset: str
    times: int


def section_presets(library: Library, reach: Reach) -> tuple[SectionPreset, ...]:
    """Return the presets that scenes lack, or are without, on a rig of which each section has a stand-in by one unit.

    The most often played come first.
    """
    times: Counter[tuple[str, str]] = Counter()
    for each in reach.scenes:
        said = library.songs[each.song].scenes[each.scene].units
        for need, likeness in each.reached.met.likeness.items():
            if need.member == PRESET and not likeness and (need.unit, PRESET) not in each.reached.met.places:
                times[need.unit, said[need.unit][PRESET]] += each.weight
    found = (_by_sections(library, reach.rig, *key, count) for key, count in times.most_common() if count)
    return tuple(each for each in found if each is not None)


def _by_sections(library: Library, rig: str, name: str, text: str, times: int) -> SectionPreset | None:
    unit = library.units.get(name)
    if unit is None or unit.programs is None:
        return None
    preset = unit.preset_at(text)[1]
    wanted = [member for member, value in preset.stores.items() if value == "on" and member in unit.switches]
    players = list(_players(library, rig, name, wanted)) if wanted else []
    if not players:
        return None
    by, entries = max(players, key=lambda each: min(entry.likeness for entry in each[1]))
    switches = tuple(dict.fromkeys(entry.switch for entry in entries if entry.switch is not None))
    return SectionPreset(
        name, preset.name or preset.slot, by, switches, _preset_with(library.units[by], switches), times
    )


def _players(library: Library, rig: str, name: str, wanted: list[str]) -> Iterator[tuple[str, list[StandIn]]]:
    """Yield each carried unit with presets that plays each wanted switch of another, and can have them on at once."""
    of = library.rigs[rig]
    for by in dict.fromkeys(each.by for each in of.stand_ins if each.part == name and each.by in of.carried):
        own = [each for each in of.stand_ins if (each.part, each.by) == (name, by) and each.switch is not None]
        entries = [entry for switch in wanted for entry in own if entry.part_switch == switch]
        on, most = {entry.switch for entry in entries}, library.units[by].sections_at_once
        told = {entry.part_switch for entry in entries}
        if told == {*wanted} and library.units[by].programs and (most is None or len(on) <= most):
            yield by, entries


def _preset_with(unit: Unit, switches: tuple[str, ...]) -> str:
    """Return the described preset of a unit in which just some switches are on."""
    for each in unit.presets:
        if {member for member, text in each.stores.items() if text == "on"} == {*switches}:
            return each.name or each.slot
    return ""
