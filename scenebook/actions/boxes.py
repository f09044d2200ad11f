"""Note what physical copies of units hold once a programming sheet is stored, and tell where the library is newer."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from scenebook.actions.box_bodies import Made, body_of, described, held_in, holds, made_for, planned
from scenebook.actions.planning_sheets import Programmed
from scenebook.actions.stored_presets import with_stored
from scenebook.cueing.cues import CueList, recalled_slots
from scenebook.errors import BadValueError, UnknownNameError
from scenebook.model import Library, Unit, find_name
from scenebook.planning.slot_plans import Programming, SlotPlan, UnitProgramming
from scenebook.planning.sounds import Sound, sounds_of
from scenebook.storage import Box, open_library

__all__ = ["FIRST_COPY", "Noted", "box_warnings", "note_written"]

FIRST_COPY = "first"  # what a copy is called unless it is given a name
_LONGEST = 80


class Noted(NamedTuple):
    """What was noted: for each unit how many slots its copy now holds, the library's revision, what was described."""

    copy: str
    slots: Mapping[str, int]
    revision: int
    presets: Mapping[str, int] | None = None
    changed: bool = True  # whether anything in the library is another than before


def note_written(path: Path, sheet: Programmed, unit: str | None = None, copy: str = FIRST_COPY) -> Noted:
    """Note that a copy of each unit, or of one, holds all that the sheet says; other slots of it stay as noted.

    So does a slot that stays as it is and of which the copy is noted to hold just that: it is still noted for what it
    was stored once.

    Of a sheet made to be described, what it stores is described in the library too, so that compiling recalls it. All
    of it is one change to the library.

    Raises:
        UnknownNameError: the sheet has no unit of that name.
        BadValueError: the copy's name is empty or too long, or the sheet has nothing to store.
    """
    plans = _chosen(sheet, unit)
    name, today = _copy_name(copy), datetime.now(UTC).date().isoformat()
    said = "--written --as-presets" if sheet.plan.as_presets else "--written"
    with open_library(path) as store, store.change(f"rig program {sheet.plan.rig} {said}") as change:
        before = store.library()
        units = {plan.unit: _told(sheet, plan, before.units[plan.unit]) for plan in plans}
        for each, told in units.items():
            if told != before.units[each]:
                change.put_unit(each, told)
        after = before.model_copy(update={"units": {**before.units, **units}})
        asked = _asked(after, sheet.plan.rig, sheet.plan.gigs)
        held = {(box.unit, box.slot): box for box in store.boxes() if box.copy == name}
        change.note_boxes(
            Box(plan.unit, name, slot.label, body, sheet.revision, today)
            for plan in plans
            for slot, body in _bodies(plan, units[plan.unit], sheet.plan, asked)
            if not (slot.kept and _is_noted(held.get((plan.unit, slot.label)), units[plan.unit]))
        )
    counts = {plan.unit: len(plan.kept) + len(plan.slots) for plan in plans}
    new = {each: len(told.presets) - len(before.units[each].presets) for each, told in units.items()}
    return Noted(name, counts, sheet.revision, new if sheet.plan.as_presets else None, bool(change.written))


def box_warnings(library: Library, rig: str, gig: str, cues: CueList, boxes: Sequence[Box]) -> tuple[str, ...]:
    """Return a warning for each slot of a noted copy that no longer holds what a gig on a rig wants of it.

    That is a preset that the gig recalls and the copy holds otherwise, or not, or a slot stored for scenes which now
    ask for another sound: one warning a slot. A unit of which no copy is noted gives no warning.
    """
    recalled = _recalled_warnings(library.units, cues, boxes)
    asked = _sound_warnings(library, rig, gig, boxes)
    return tuple({**asked, **recalled}[key] for key in dict.fromkeys([*recalled, *asked]))


_Slot = tuple[str, str, str]  # unit, copy, slot as displayed


def _recalled_warnings(units: Mapping[str, Unit], cues: CueList, boxes: Sequence[Box]) -> dict[_Slot, str]:
    held: dict[tuple[str, str], dict[str, Box]] = {}
    for box in boxes:
        held.setdefault((box.unit, box.copy), {})[box.slot] = box
    recalled = dict.fromkeys(recalled_slots(cues))
    return {
        (unit, copy, slot): words
        for (unit, copy), slots in held.items()
        for name, slot in recalled
        if name == unit and (words := _difference(units[unit], unit, copy, slot, slots.get(slot)))
    }


def _sound_warnings(library: Library, rig: str, gig: str, boxes: Sequence[Box]) -> dict[_Slot, str]:
    """Return a warning for each slot that was stored for scenes of a gig on a rig which now ask for another sound.

    Of each copy the last sheet for that gig and rig counts: what an earlier one put elsewhere is played no more.
    """
    bodies = [(box, made_for(box.body)) for box in boxes]
    made = [(box, why) for box, why in bodies if why and why.rig == rig and gig in why.gigs]
    if not made:
        return {}
    now, last = _asked(library, rig, (gig,)), _last_revisions(box for box, _ in made)
    return {
        (box.unit, box.copy, box.slot): words
        for box, why in made
        if box.revision == last[box.unit, box.copy] and (words := _stale(box, why, now, library.units[box.unit]))
    }


def _last_revisions(boxes: Iterable[Box]) -> dict[tuple[str, str], int]:
    last: dict[tuple[str, str], int] = {}
    for box in boxes:
        last[box.unit, box.copy] = max(box.revision, last.get((box.unit, box.copy), 0))
    return last


_Asked = dict[tuple[str, str, str], list[Any]]  # by unit, song and scene: each sound, as JSON gives it back


def _asked(library: Library, rig: str, gigs: Sequence[str]) -> _Asked:
    """Return what every scene asks of each unit in some gigs, in numbers, so that another writing is no other sound."""
    found: _Asked = {}
    for unit, songs in sounds_of(library, rig, [gig for gig in gigs if gig] or None).by_unit.items():
        for song, part in ((song, part) for song, runs in songs.items() for run in runs for part in run.parts):
            sounds = found.setdefault((unit, song, part.scene), [])
            if part.sound is not None and (words := _sound(part.sound)) not in sounds:
                sounds.append(words)
    return found


def _sound(sound: Sound) -> list[Any]:
    return [sound.preset, sound.variant, [list(value) for value in sorted(sound.values)]]


def _stale(box: Box, made: Made, now: _Asked, unit: Unit) -> str:
    new = [
        f"{song}, {scene}"
        for song, scene, sounds in made.asked
        if not all(sound in sounds or _names(sound, box, unit) for sound in now.get((box.unit, song, scene), ()))
    ]
    if not new:
        return ""
    return (
        f"{box.unit}, copy {box.copy!r}: the library is newer than the box: {box.slot} was stored on {box.at}, at "
        f"revision {box.revision}, for what asks for another sound now: {'; '.join(new)}; store it again from a new "
        "sheet, then rig program --written"
    )


def _names(sound: Sequence[Any], box: Box, unit: Unit) -> bool:
    """Whether a scene asks by name for the very slot that was stored: what that preset holds is compared by itself."""
    preset = sound[0]
    return preset is not None and unit.programs is not None and unit.programs.label(preset) == box.slot


def _told(sheet: Programmed, plan: UnitProgramming, unit: Unit) -> Unit:
    """Return a unit as the library tells it once a sheet is stored."""
    return with_stored(plan, unit) if sheet.plan.as_presets else unit


def _chosen(sheet: Programmed, unit: str | None) -> tuple[UnitProgramming, ...]:
    plans = sheet.plan.units
    if not plans:
        raise BadValueError("the rig has no unit with presets to store", where=f"rig {sheet.plan.rig!r}")
    if unit is None:
        return plans
    try:
        name = find_name(unit, [plan.unit for plan in plans], "unit")
    except UnknownNameError as error:
        raise error.at(f"what rig {sheet.plan.rig!r} stores") from None
    return tuple(plan for plan in plans if plan.unit == name)


def _is_noted(box: Box | None, unit: Unit) -> bool:
    """Whether a copy is noted to hold just what the library says of a preset."""
    return box is not None and body_of(held_in(box.body, unit)) == body_of(described(unit.preset_at(box.slot)[1], unit))


def _copy_name(text: str) -> str:
    name = " ".join(text.split())
    if not name or len(name) > _LONGEST:
        raise BadValueError(f"{text!r} cannot be the name of a copy", accepted=f"1 to {_LONGEST} characters")
    return name


def _bodies(plan: UnitProgramming, unit: Unit, of: Programming, asked: _Asked) -> Iterator[tuple[SlotPlan, str]]:
    for slot in plan.kept:
        yield slot, body_of(described(unit.preset_at(slot.label)[1], unit))
    for slot in plan.slots:
        uses = [*slot.uses, *(use for variant in slot.variants for use in variant.uses)]
        scenes = dict.fromkeys((use.song, use.scene) for use in uses)
        made = Made(of.rig, of.gigs, [[*each, asked.get((plan.unit, *each), [])] for each in scenes])
        now = next((each for each in unit.presets if each.slot == slot.label), None)  # described since the sheet
        yield slot, body_of(planned(slot) if now is None else described(now, unit), made)


def _difference(unit: Unit, name: str, copy: str, slot: str, box: Box | None) -> str:
    preset = unit.preset_at(slot)[1]
    said = f"{slot} {preset.name}".strip()
    if box is None:
        return f"{name}, copy {copy!r}: nobody noted that it holds {said}; store it, then rig program --written"
    if holds(held_in(box.body, unit), described(preset, unit), unit):
        return ""
    return (
        f"{name}, copy {copy!r}: the library is newer than the box: {said} was stored on {box.at}, at revision "
        f"{box.revision}, and is another now; store it again, then rig program --written"
    )
