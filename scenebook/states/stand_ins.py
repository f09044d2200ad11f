"""What plays the part of units that stay at home (rules S7, S8, S9), and what a scene lacks."""

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from scenebook.model import MAIN, Scene, StandIn, Unit
from scenebook.model.units import value_over
from scenebook.states.sections import layers_of, sections_on
from scenebook.states.stage import Carried, Stage, Way, replaced_setting

__all__ = ["Met", "Need", "apply", "candidates", "is_colour", "is_open", "meet", "needs_of", "place_of", "plays"]

PRESET = "preset"


Place = tuple[str, str]
"""A switch of a carried unit, or its preset: (unit, switch or "preset")."""


class Need(NamedTuple):
    """One thing that a scene itself names as on, or a preset that it recalls."""

    unit: str
    member: str  # a switch, or "preset"
    order: int  # in the scene


class Met(NamedTuple):
    """A scene as it can be played: settings of carried units, and what became of the rest."""

    settings: Mapping[str, Mapping[str, str]]
    lacks: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    stand_ins: tuple[str, ...] = ()
    likeness: Mapping[Need, float] = MappingProxyType({})
    places: Mapping[tuple[str, str], Place] = MappingProxyType({})  # by unit and member that is missing
    not_carried: tuple[str, ...] = ()
    sections: Mapping[str, frozenset[str]] = MappingProxyType({})  # what is on of the units that have a limit at once


def needs_of(settings: Mapping[str, Mapping[str, str]], units: Mapping[str, Unit]) -> Iterator[Need]:
    """Yield what settings name as on or recall (rule S7); of a unit that nobody describes, all that is on."""
    order = 0
    for name, setting in settings.items():
        unit = units.get(name)
        for member, text in setting.items():
            if member == PRESET or (text == "on" and (unit is None or member in unit.members)):
                yield Need(name, member, order)
                order += 1


def is_colour(need: Need, scene: Scene) -> bool:
    """Whether the scene may be without `need`: it, or its unit as a whole, is one of the scene's colours."""
    return need.unit in scene.colours or f"{need.unit}.{need.member}" in scene.colours


def meet(stage: Stage, scene: Scene, before: Met | None = None) -> Met:
    """Return the scene's settings on the carried units, stand-ins included, and what of the scene nothing plays.

    `before` is what the cue before came to: what it met of a unit that this scene leaves is left too (rule S6). Without
    it `leave` means home.
    """
    met = _met(stage, scene, before)
    gone = [text for text in scene.triggers if not stage.has_trigger(text)]
    if not gone:
        return met
    colours = tuple(t for t in gone if t in scene.colours or t.rpartition(".")[0] in scene.colours)
    lacks = tuple(text for text in gone if text not in colours)
    return met._replace(lacks=(*met.lacks, *lacks), without=(*met.without, *colours))


def _met(stage: Stage, scene: Scene, before: Met | None) -> Met:
    settings, less = _replaced(stage, scene)
    played = before.places if before and less else ()
    if not any(less.values()) and not played and settings.keys() <= stage.by_name.keys():
        return Met(settings, sections=_sections(stage, settings, before))
    missing = {name: setting for name, setting in scene.units.items() if name not in stage.by_name}
    carried = {name: dict(setting) for name, setting in settings.items() if name in stage.by_name}
    left = _left_places(missing, carried, before) if before else {}
    needs = [need for need in needs_of(scene.units, stage.units) if need.unit in missing]
    needs = [need for need in needs if need.member in less.get(need.unit, (need.member,))]
    held = _matched(stage, needs, missing, carried, before)
    kept: set[tuple[str, str]] = set()
    for need, stand_in in held.items():
        kept.update((need.unit, control) for control in apply(stand_in, missing[need.unit], stage, carried))
    _leave_on(left, stage, carried)
    unmet = [need for need in needs if need not in held]
    colours = [need for need in unmet if is_colour(need, scene)]
    return Met(
        settings=carried,
        lacks=tuple(_words(need, scene.units) for need in unmet if need not in colours),
        without=tuple(_words(need, scene.units) for need in colours),
        stand_ins=tuple(_stand_in_words(need, stand_in) for need, stand_in in held.items()),
        likeness={need: held[need].likeness if need in held else 0.0 for need in needs},
        places={**left, **{(need.unit, need.member): place_of(stand_in) for need, stand_in in held.items()}},
        not_carried=(*_lost(missing, less, needs, kept), *_not_carried(missing, less, held, kept)),
        sections=_sections(stage, carried, before),
    )


def _sections(stage: Stage, settings: Mapping[str, Mapping[str, str]], before: Met | None) -> dict[str, frozenset[str]]:
    """Return which sections are on of each carried unit that has a limit at once."""
    none: Mapping[str, str] = {}
    return {
        each.name: sections_on(each.unit, each.home, settings.get(each.name, none), _stood(each, before))
        for each in stage.limited
    }


def _stood(carried: Carried, before: Met | None) -> frozenset[str] | None:
    return before.sections.get(carried.name) if before else None


def _left_places(
    missing: Mapping[str, Mapping[str, str]], carried: dict[str, dict[str, str]], before: Met
) -> dict[tuple[str, str], Place]:
    """Leave what played the part of a missing unit that the scene leaves, and return those places."""
    left = {}
    for (name, member), place in before.places.items():
        setting, (by, what) = missing.get(name, {}), place
        if "leave" not in setting and setting.get(member) != "leave":
            continue
        if what != PRESET:
            carried.setdefault(by, {}).setdefault(what, "leave")
        elif by not in carried:
            carried[by] = {"leave": "unit"}
        left[name, member] = place
    return left


def _leave_on(left: Mapping[tuple[str, str], Place], stage: Stage, carried: dict[str, dict[str, str]]) -> None:
    """Leave the main switch of a unit, a switch of which is left, as it was turned on with that switch."""
    for by, what in left.values():
        if what != PRESET and _has_main(stage.by_name[by]) and "leave" not in carried[by]:
            carried[by].setdefault(MAIN, "leave")


_Less = Mapping[str, Sequence[str]]
"""By unit that is played by another tonight, what of its setting the other does not have."""


def _replaced(stage: Stage, scene: Scene) -> tuple[Mapping[str, Mapping[str, str]], _Less]:
    """Return the scene's settings with units that are played by another renamed, and what that loses."""
    if not stage.played_by or stage.played_by.keys().isdisjoint(scene.units):
        return scene.units, {}
    settings: dict[str, Mapping[str, str]] = {}
    less: dict[str, list[str]] = {}
    for name, setting in scene.units.items():
        new = stage.played_by.get(name)
        if new is None:
            settings[name] = setting
        else:
            settings[new], less[name] = replaced_setting(setting, stage.units[name], stage.units[new])
    return settings, less


def _lost(
    missing: Mapping[str, Mapping[str, str]], less: _Less, needs: Sequence[Need], kept: set[tuple[str, str]]
) -> Iterator[str]:
    """Yield what the scene says of a unit that is played by another, and neither that nor a stand-in takes over."""
    asked = {(need.unit, need.member) for need in needs}
    for name, members in less.items():
        for member in members:
            if (name, member) not in asked and (name, member) not in kept:
                yield f"{name} {member} {missing[name][member]}"


def candidates(stage: Stage, need: Need, setting: Mapping[str, str]) -> list[StandIn]:
    """Return what may meet a need, best first: for the very switch or preset, then for the unit as a whole."""
    ours = [stand_in for stand_in in stage.stand_ins if stand_in.part == need.unit]
    if need.member == PRESET:
        slot = stage.units[need.unit].preset_at(setting[PRESET])[0]
        exact = [s for s in ours if s.part_preset and stage.units[need.unit].preset_at(s.part_preset)[0] == slot]
    else:
        exact = [s for s in ours if s.part_switch == need.member]
    wide = [s for s in ours if s.part_switch is None and s.part_preset is None]
    whole = need.member == MAIN or (need.member == PRESET and MAIN not in setting)
    best_first = [sorted(group, key=lambda s: -s.likeness) for group in (exact, wide if whole else [])]
    return [stand_in for group in best_first for stand_in in group]


def place_of(stand_in: StandIn) -> Place:
    """Return the place that a stand-in plays its part in."""
    return stand_in.by, stand_in.switch or PRESET


def _matched(
    stage: Stage,
    needs: list[Need],
    missing: Mapping[str, Mapping[str, str]],
    carried: Mapping[str, Mapping[str, str]],
    before: Met | None,
) -> dict[Need, StandIn]:
    """Meet needs in rounds: each asks for its best, a place keeps the likest, who loses asks for its next."""
    left = {
        need: [s for s in candidates(stage, need, missing[need.unit]) if is_open(place_of(s), carried, stage)]
        for need in needs
    }
    held: dict[Need, StandIn] = {}
    while asking := [need for need in needs if need not in held and left[need]]:
        for need in asking:
            held[need] = left[need].pop(0)
        for refused in _refused(stage, held, carried, before):
            del held[refused]
    return {need: held[need] for need in needs if need in held}


def is_open(place: Place, carried: Mapping[str, Mapping[str, str]], stage: Stage) -> bool:
    """Whether the scene itself says nothing of a place, so that a stand-in may have it, and does not turn its unit off.

    A unit is turned off by what the scene says of its main switch, or by a preset that it names.
    """
    says = carried.get(place[0], {})
    if "leave" in says or place[1] in says:
        return False
    layers = (*layers_of(stage.units[place[0]], says), says)
    return next((each[MAIN] for each in reversed(layers) if MAIN in each), "on") != "off"


def _refused(
    stage: Stage, held: Mapping[Need, StandIn], carried: Mapping[str, Mapping[str, str]], before: Met | None
) -> list[Need]:
    """Return the needs that lose their place to a likelier one, or with which too many sections would be on at once."""
    taken: set[Place] = set()
    words: dict[str, Mapping[str, str]] = {}
    refused = []
    for need in sorted(held, key=lambda need: (-held[need].likeness, need.order)):
        stand_in = held[need]
        by, place = stage.by_name[stand_in.by], place_of(stand_in)
        says = words.get(by.name, carried.get(by.name, {}))
        more = {**says, **plays(stand_in, says, stage)}
        if place in taken or _is_too_much(by, says, more, _stood(by, before)):
            refused.append(need)
            continue
        taken.add(place)
        words[by.name] = more
    return refused


def _is_too_much(by: Carried, says: Mapping[str, str], more: Mapping[str, str], stood: frozenset[str] | None) -> bool:
    """Whether more sections are on than the unit has at once, and more than without the stand-in."""
    most = by.unit.sections_at_once
    if most is None:
        return False
    on = len(sections_on(by.unit, by.home, more, stood))
    return on > most and on > len(sections_on(by.unit, by.home, says, stood))


def plays(stand_in: StandIn, says: Mapping[str, str], stage: Stage) -> dict[str, str]:
    """Return what is said of the carried unit that plays a part: the switch or the preset, and that it sounds.

    Its main switch is on where the scene says nothing of it, as far as something works that switch.
    """
    what = {stand_in.switch: "on"} if stand_in.switch is not None else {PRESET: stand_in.preset or ""}
    return what if MAIN in says or not _has_main(stage.by_name[stand_in.by]) else {**what, MAIN: "on"}


def _has_main(carried: Carried) -> bool:
    return carried.ways.get(MAIN, Way.PRESET) is not Way.PRESET


def apply(stand_in: StandIn, setting: Mapping[str, str], stage: Stage, carried: dict[str, dict[str, str]]) -> list[str]:
    """Say of the carried unit what plays the part, and return the missing unit's controls that it takes over."""
    says = carried.setdefault(stand_in.by, {})
    says |= plays(stand_in, says, stage)
    taken = []
    missing, by = stage.units[stand_in.part].controls, stage.units[stand_in.by].controls
    for control, other in stand_in.controls.items():
        if control in setting and control in missing and other in by and other not in says:
            text = value_over(setting[control], missing[control], by[other])
            if text is not None:
                says[other] = text
                taken.append(control)
    return taken


def _not_carried(
    missing: Mapping[str, Mapping[str, str]], less: _Less, held: Mapping[Need, StandIn], kept: set[tuple[str, str]]
) -> Iterator[str]:
    """Yield what the scene says of a unit whose part is played, and what nothing takes over."""
    played = {need.unit for need in held if need.unit not in less}
    for name, setting in missing.items():
        for member, text in setting.items() if name in played else ():
            if text not in ("on", "off", "leave") and member not in (PRESET, "leave") and (name, member) not in kept:
                yield f"{name} {member} {text}"


def _words(need: Need, settings: Mapping[str, Mapping[str, str]]) -> str:
    if need.member == PRESET:
        return f"{need.unit} preset {settings[need.unit][PRESET]}"
    return need.unit if need.member == MAIN else f"{need.unit} {need.member}"


def _stand_in_words(need: Need, stand_in: StandIn) -> str:
    what = stand_in.switch if stand_in.switch else f"preset {stand_in.preset}"
    name = need.unit if need.member in (MAIN, PRESET) else f"{need.unit} {need.member}"
    by = stand_in.by if what == MAIN else f"{stand_in.by} {what}"
    return f"{name}: {by}, likeness {stand_in.likeness:g}"
