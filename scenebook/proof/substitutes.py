"""Give the parts of units that are not there to stand-ins, as plainly as rules S7 to S9 say it.

Readings of our own: a stand-in that the scene leaves no room for is refused and not shared; a control that two
stand-ins would set, or that the scene sets itself, keeps the scene's word, then the first need's. Who plays a part is
turned on, unless the scene says something of its main switch; who goes on playing one is left on.
"""

from collections.abc import Mapping
from typing import NamedTuple

from scenebook.model import MAIN, StandIn, Unit
from scenebook.model.units import RESERVED, value_over
from scenebook.proof.tonight import Tonight, Words

__all__ = ["Places", "with_stand_ins"]


class _Need(NamedTuple):
    """What the scene wants of a missing unit: a switch on, or (with no `switch`) a preset."""

    order: int
    unit: str
    switch: str | None


class _Place(NamedTuple):
    """Where a need is met: a switch of a carried unit, or (with no `switch`) its preset."""

    unit: str
    switch: str | None


_Kept = dict[_Need, StandIn]
Sections = dict[str, set[str]]
"""The sections that are on at a cue, by unit."""
Places = dict[tuple[str, str | None], _Place]
"""Where the needs of missing units are met at a cue, by unit and switch (None: its preset)."""


def with_stand_ins(
    tonight: Tonight, words: Words, before: Places, on_before: Sections | None = None
) -> tuple[Words, Places]:
    """Return what the scene says of the units that are there, the parts of missing ones played by others; and where.

    `before` says where at the cue before: what met the needs of a missing unit that the scene leaves is left too (S6).
    `on_before` says which switches were on there; without it `leave` means home.
    """
    words = {name: dict(setting) for name, setting in words.items()}
    places = _left(tonight, words, before)
    said = {name: dict(setting) for name, setting in words.items() if name in tonight.units}
    needs = list(_needs(tonight, words))
    kept = _shared_out(tonight, words, needs, on_before)
    for need, stand_in in sorted(kept.items(), key=lambda item: item[0].order):
        setting = said.setdefault(stand_in.by, {})
        setting |= _part(tonight, stand_in, setting)
        for control, text in _controls(tonight, need, stand_in, words[need.unit]).items():
            setting.setdefault(control, text)
    for place in places.values():
        if place.switch is not None and _can_turn_on(tonight, place.unit) and "leave" not in said[place.unit]:
            said[place.unit].setdefault(MAIN, "leave")
    return said, places | {(need.unit, need.switch): _Place(each.by, each.switch) for need, each in kept.items()}


def _part(tonight: Tonight, stand_in: StandIn, said: dict[str, str]) -> dict[str, str]:
    """Return what is said of the unit that plays a part: the switch or preset, and its main switch."""
    part = {"preset": stand_in.preset or ""} if stand_in.switch is None else {stand_in.switch: "on"}
    if MAIN not in said and _can_turn_on(tonight, stand_in.by):
        part[MAIN] = "on"
    return part


def _can_turn_on(tonight: Tonight, name: str) -> bool:
    """Tell whether a message, a foot, a hand or a loop of its own works a unit's main switch (S11)."""
    main = tonight.units[name].switches.get(MAIN)
    if main is None or main.momentary:
        return False
    by_message = tonight.placements[name].channel is not None and (main.message or main.toggle)
    return bool(by_message or main.foot or main.contact or main.hand) or any(
        name in loop.inside and not loop.shared for loop in tonight.loops
    )


def _left(tonight: Tonight, words: Words, before: Places) -> Places:
    """Say of the places of missing units, or of their switches, that the scene leaves them; return those places."""
    left: Places = {}
    for (name, switch), place in before.items():
        setting = {} if name in tonight.units else words.get(name, {})
        if "leave" not in setting and setting.get(switch or "preset") != "leave":
            continue
        left[name, switch] = place
        if place.switch is not None:
            words.setdefault(place.unit, {}).setdefault(place.switch, "leave")
        elif place.unit not in words:
            words[place.unit] = {"leave": "unit"}
    return left


def _controls(tonight: Tonight, need: _Need, stand_in: StandIn, wanted: dict[str, str]) -> dict[str, str]:
    """Return what a stand-in's controls take over from those of the missing unit, as they write it."""
    missing, by = tonight.library[need.unit].controls, tonight.units[stand_in.by].controls
    texts = {
        other: value_over(wanted[control], missing[control], by[other])
        for control, other in stand_in.controls.items()
        if control in wanted and control in missing and other in by
    }
    return {other: text for other, text in texts.items() if text is not None}


def _needs(tonight: Tonight, words: Words) -> list[_Need]:
    found: list[_Need] = []
    for name, setting in words.items():
        if name in tonight.units:
            continue
        unit, lacking = tonight.library.get(name), tonight.lacking(name, setting)
        for key, text in setting.items():
            is_state = unit is None or key in unit.members
            if key in lacking and (key == "preset" or (key not in RESERVED and text == "on" and is_state)):
                found.append(_Need(len(found), name, None if key == "preset" else key))
    return found


def _shared_out(tonight: Tonight, words: Words, needs: list[_Need], on_before: Sections | None) -> _Kept:
    """Meet the needs in rounds: each unmet one asks the best stand-in that has not yet refused it (S9)."""
    offers = {need: _offers(tonight, words, need) for need in needs}
    kept: _Kept = {}
    while True:
        asking = {need: offers[need].pop(0) for need in needs if need not in kept and offers[need]}
        if not asking:
            return kept
        kept = _placed(tonight, words, kept | asking, on_before)


def _placed(tonight: Tonight, words: Words, asking: _Kept, on_before: Sections | None) -> _Kept:
    """Give each its place, the most alike first, unless it is taken or would turn on one section too many."""
    kept: _Kept = {}
    said = {name: words.get(name, {}) for name in tonight.units}
    for need, stand_in in sorted(asking.items(), key=lambda item: (-item[1].likeness, item[0].order)):
        name, unit = stand_in.by, tonight.units[stand_in.by]
        taken = any((each.by, each.switch) == (name, stand_in.switch) for each in kept.values())
        with_it = said[name] | _part(tonight, stand_in, said[name])
        if unit.sections_at_once is not None:
            now, then = (_sections(tonight, name, setting, on_before) for setting in (said[name], with_it))
            taken = taken or len(then) > max(unit.sections_at_once, len(now))
        if not taken:
            kept[need], said[name] = stand_in, with_it
    return kept


def _sections(tonight: Tonight, name: str, said: dict[str, str], on_before: Sections | None) -> set[str]:
    """Return the sections that are on by what is said: as in reading.py, home, then presets, then the words."""
    unit, home = tonight.units[name], tonight.home.get(name, {})
    stood = _sections(tonight, name, {}, {}) if said and on_before is None else (on_before or {}).get(name, set())
    if "leave" in said:
        return stood
    found = set()
    for switch, thing in unit.switches.items():
        if thing.section and not thing.momentary:
            states = [each[switch] for each in (*_told(unit, home), *_told(unit, said)) if switch in each]
            if states and (states[-1] == "on" or (states[-1] == "leave" and switch in stood)):
                found.add(switch)
    return found


def _told(unit: Unit, said: dict[str, str]) -> list[Mapping[str, str]]:
    """Return what decides a switch where `said` is said, the last winning: rest, preset, variant, the words."""
    if "preset" not in said:
        return [said]
    _, preset = unit.preset_at(said["preset"])
    rest = dict.fromkeys(unit.stored, "off") if preset.rest == "off" else {}
    variant = preset.variants[said["variant"]].stores if "variant" in said else {}
    return [rest, preset.stores, variant, said]


def _offers(tonight: Tonight, words: Words, need: _Need) -> list[StandIn]:
    """Return the stand-ins that fit a need, best first: its own entries, then those for the whole unit (S8)."""
    own, whole = [], []
    for each in tonight.stand_ins:
        if each.part != need.unit or each.by not in tonight.units or not _is_free(tonight, words, each):
            continue
        if each.part_switch is None and each.part_preset is None:
            whole.append(each)
        elif _is_for(tonight, words, need, each):
            own.append(each)
    wanted_whole = MAIN if MAIN in words[need.unit] else None
    if need.switch != wanted_whole:
        whole = []
    own.sort(key=lambda each: -each.likeness)
    whole.sort(key=lambda each: -each.likeness)
    return own + whole


def _is_for(tonight: Tonight, words: Words, need: _Need, stand_in: StandIn) -> bool:
    if need.switch is not None:
        return stand_in.part_switch == need.switch
    unit = tonight.library[need.unit]
    if stand_in.part_preset is None:
        return False
    return unit.preset_at(stand_in.part_preset)[0] == unit.preset_at(words[need.unit]["preset"])[0]


def _is_free(tonight: Tonight, words: Words, stand_in: StandIn) -> bool:
    """Tell whether the scene itself says nothing of the place, and does not turn the unit off."""
    said = words.get(stand_in.by, {})
    if "leave" in said or (stand_in.switch or "preset") in said:
        return False
    main = [each[MAIN] for each in _told(tonight.units[stand_in.by], said) if MAIN in each]
    return not main or main[-1] != "off"
