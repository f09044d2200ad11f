"""Give the parts of units that are not there to stand-ins, as plainly as rules S7 to S9 say it.

Readings of our own: a stand-in that the scene leaves no room for is refused and not shared; a control that two
stand-ins would set, or that the scene sets itself, keeps the scene's word, then the first need's.
"""

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


_Kept = dict[_Place, tuple[_Need, StandIn]]
Places = dict[tuple[str, str | None], _Place]
"""Where the needs of missing units are met at a cue, by unit and switch (None: its preset)."""


def with_stand_ins(tonight: Tonight, words: Words, before: Places) -> tuple[Words, Places]:
    """Return what the scene says of the units that are there, the parts of missing ones played by others; and where.

    `before` says where at the cue before: what met the needs of a missing unit that the scene leaves is left too (S6).
    """
    words = {name: dict(setting) for name, setting in words.items()}
    places = _left(tonight, words, before)
    said = {name: dict(setting) for name, setting in words.items() if name in tonight.units}
    needs = list(_needs(tonight, words))
    kept = _shared_out(tonight, words, needs)
    for place, (need, stand_in) in sorted(kept.items(), key=lambda item: item[1][0].order):
        setting = said.setdefault(place.unit, {})
        if place.switch is None:
            setting["preset"] = stand_in.preset or ""
        else:
            setting[place.switch] = "on"
        for control, text in _controls(tonight, need, stand_in, words[need.unit]).items():
            setting.setdefault(control, text)
    return said, places | {(need.unit, need.switch): place for place, (need, _) in kept.items()}


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
        unit = tonight.library.get(name)
        for key, text in setting.items():
            is_state = unit is None or key in unit.members
            if key == "preset" or (key not in RESERVED and text == "on" and is_state):
                found.append(_Need(len(found), name, None if key == "preset" else key))
    return found


def _shared_out(tonight: Tonight, words: Words, needs: list[_Need]) -> _Kept:
    """Meet the needs in rounds: each unmet one asks the best stand-in that has not yet refused it (S9)."""
    offers = {need: _offers(tonight, words, need) for need in needs}
    kept: _Kept = {}
    while True:
        met = {need for need, _ in kept.values()}
        asking = [(need, offers[need].pop(0)) for need in needs if need not in met and offers[need]]
        if not asking:
            return kept
        for need, stand_in in asking:
            place = _Place(stand_in.by, stand_in.switch)
            if place not in kept or _rank(need, stand_in) < _rank(*kept[place]):
                kept[place] = (need, stand_in)
        for name, unit in tonight.units.items():
            _keep_limit(name, unit, words.get(name, {}), kept)


def _rank(need: _Need, stand_in: StandIn) -> tuple[float, int]:
    return -stand_in.likeness, need.order


def _keep_limit(name: str, unit: Unit, said: dict[str, str], kept: _Kept) -> None:
    """Refuse the least alike while more sections are on than the unit has at once."""
    if unit.sections_at_once is None:
        return
    sections = {switch for switch, thing in unit.switches.items() if thing.section}
    on = sum(said.get(switch) == "on" for switch in sections)
    places = [place for place in kept if place.unit == name and place.switch in sections]
    places.sort(key=lambda place: _rank(*kept[place]))
    while places and on + len(places) > unit.sections_at_once:
        del kept[places.pop()]


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
    """Tell whether the scene itself says nothing of the place."""
    said = words.get(stand_in.by, {})
    return "leave" not in said and (stand_in.switch or "preset") not in said
