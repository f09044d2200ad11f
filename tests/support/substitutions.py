"""Put units out, replace one and write stand-ins into a random gig, as an evening does."""

import random
from typing import Any

from scenebook.model import MAIN, Library, Unit
from scenebook.model.units import Role
from tests.support.build import GIG, RIG
from tests.support.random_gigs import random_library

__all__ = ["with_substitutions"]


def with_substitutions(seed: int) -> Library:
    """Return a random gig, always the same for the same seed, in which much is not as the songs were written."""
    chance, of = random.Random(seed), random_library(seed, leave=0.25)
    names, played_by = list(of.units), {}
    units = {name: _with_sections(each, chance) for name, each in of.units.items()}
    if chance.random() < 0.5:
        old = chance.choice(names)
        units["new"] = chance.choice([units[old], *random_library(chance.randrange(10**6)).units.values()])
        played_by = {old: "new"}
    said = {"stand_ins": [each for name in names for each in _stand_ins(name, names, of, chance)]}
    rig = type(of.rigs[RIG]).model_validate({**of.rigs[RIG].model_dump(exclude_defaults=True), **said})
    out = [name for name in names if name not in played_by and chance.random() < 0.35]
    changes = {"out": out, "played_by": played_by}
    gig = type(of.gigs[GIG]).model_validate({**of.gigs[GIG].model_dump(exclude_defaults=True), **changes})
    return Library(units=units, rigs={RIG: rig}, songs=of.songs, gigs={GIG: gig})


def _with_sections(unit: Unit, chance: random.Random) -> Unit:
    """Make some switches of a unit sections, of which only so many may be on at once."""
    if chance.random() < 0.2:
        return unit
    switches = {
        name: switch.model_copy(update={"section": Role.DRIVE} if name != MAIN else {})
        for name, switch in unit.switches.items()
    }
    return unit.model_copy(update={"switches": switches, "sections_at_once": chance.choice([1, 1, 2])})


def _stand_ins(part: str, names: list[str], of: Library, chance: random.Random) -> list[dict[str, Any]]:
    others = [name for name in names if name != part]
    found = [_stand_in(part, chance.choice(others), of, chance) for _ in range(chance.randint(0, 5)) if others]
    return [each for each in found if "switch" in each or "preset" in each]


def _stand_in(part: str, by: str, of: Library, chance: random.Random) -> dict[str, Any]:
    missing, carried = of.units[part], of.units[by]
    said: dict[str, Any] = {"part": part, "by": by, "likeness": round(chance.random(), 1)}
    switches = [name for name, switch in carried.switches.items() if not switch.momentary]
    if switches and chance.random() < 0.7:
        said["switch"] = chance.choice(switches)
    elif carried.presets:
        said["preset"] = chance.choice(carried.presets).slot
    if chance.random() < 0.4 and missing.switches:
        said["part_switch"] = chance.choice(list(missing.switches))
    elif chance.random() < 0.3 and missing.presets:
        said["part_preset"] = chance.choice(missing.presets).slot
    if missing.controls and carried.controls and chance.random() < 0.5:
        said["controls"] = {chance.choice(list(missing.controls)): chance.choice(list(carried.controls))}
    return said
