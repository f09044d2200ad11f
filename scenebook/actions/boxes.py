"""Note what physical copies of units hold once a programming sheet is stored, and tell where the library is newer."""

import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from scenebook.actions.planning_sheets import Programmed
from scenebook.cueing.cues import CueList
from scenebook.errors import BadValueError, UnknownNameError
from scenebook.model import Preset, Unit, find_name
from scenebook.planning.programming import SlotPlan, UnitProgramming
from scenebook.storage import Box, open_library

__all__ = ["FIRST_COPY", "Noted", "box_warnings", "note_written"]

FIRST_COPY = "first"  # what a copy is called unless it is given a name
_LONGEST = 80


class Noted(NamedTuple):
    """What was noted: for each unit how many slots its copy now holds, and the library's revision."""

    copy: str
    slots: Mapping[str, int]
    revision: int


def note_written(path: Path, sheet: Programmed, unit: str | None = None, copy: str = FIRST_COPY) -> Noted:
    """Note that a copy of each unit, or of one, holds all that the sheet says; other slots of it stay as noted.

    Raises:
        UnknownNameError: the sheet has no unit of that name.
        BadValueError: the copy's name is empty or too long, or the sheet has nothing to store.
    """
    plans = _chosen(sheet, unit)
    name, today = _copy_name(copy), datetime.now(UTC).date().isoformat()
    with open_library(path) as store:
        boxes = [
            Box(plan.unit, name, slot.label, body, sheet.revision, today)
            for plan in plans
            for slot, body in _bodies(plan, store.unit(plan.unit))
        ]
        store.note_boxes(boxes)
    counts = {plan.unit: sum(box.unit == plan.unit for box in boxes) for plan in plans}
    return Noted(name, counts, sheet.revision)


def box_warnings(units: Mapping[str, Unit], cues: CueList, boxes: Sequence[Box]) -> tuple[str, ...]:
    """Return a warning for each preset that a gig recalls and that a noted copy of its unit holds otherwise, or not.

    A unit of which no copy is noted gives no warning.
    """
    held: dict[tuple[str, str], dict[str, Box]] = {}
    for box in boxes:
        held.setdefault((box.unit, box.copy), {})[box.slot] = box
    recalled = dict.fromkeys(_recalled(cues))
    return tuple(
        words
        for (unit, copy), slots in held.items()
        for name, slot in recalled
        if name == unit and (words := _difference(units[unit], unit, copy, slot, slots.get(slot)))
    )


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


def _copy_name(text: str) -> str:
    name = " ".join(text.split())
    if not name or len(name) > _LONGEST:
        raise BadValueError(f"{text!r} cannot be the name of a copy", accepted=f"1 to {_LONGEST} characters")
    return name


def _bodies(plan: UnitProgramming, unit: Unit) -> Iterator[tuple[SlotPlan, str]]:
    for slot in plan.kept:
        yield slot, _preset_body(unit.preset_at(slot.label)[1])
    for slot in plan.slots:
        variants = {variant.name: dict(variant.stores) for variant in slot.variants}
        yield slot, _json({"name": slot.name, "stores": dict(slot.stores), "variants": variants})


def _preset_body(preset: Preset) -> str:
    return _json(preset.model_dump(mode="json", exclude={"slot"}, exclude_defaults=True))


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True)


def _recalled(cues: CueList) -> Iterator[tuple[str, str]]:
    """Yield (unit, slot as displayed) of every preset that the gig's cues are in."""
    songs = (*cues.spares, *([cues.house] if cues.house else []))
    for cue in (*cues.cues, *(cue for song in songs for cue in song.cues)):
        yield from ((state.unit, state.preset) for state in cue.states if state.preset is not None)


def _difference(unit: Unit, name: str, copy: str, slot: str, box: Box | None) -> str:
    preset = unit.preset_at(slot)[1]
    said = f"{slot} {preset.name}".strip()
    if box is None:
        return f"{name}, copy {copy!r}: nobody noted that it holds {said}; store it, then rig program --written"
    if box.body == _preset_body(preset):
        return ""
    return (
        f"{name}, copy {copy!r}: the library is newer than the box: {said} was stored on {box.at}, at revision "
        f"{box.revision}, and is another now; store it again, then rig program --written"
    )
