"""Small random gigs with all that an evening has: sets, spare songs, house sounds, a safe state, a thru chain."""

import random
from typing import Any

from scenebook.errors import ScenebookError
from scenebook.live.programme import programme_of
from scenebook.model import Gig, Library, Rig, Unit
from tests.support.build import GIG, RIG, song, unit
from tests.support.random_gigs import random_library

__all__ = ["playable_evening", "random_evening"]


def playable_evening(seed: int) -> Library:
    """Return the first random evening from a seed up whose scenes can all be reached."""
    while True:
        library = random_evening(seed)
        try:
            programme_of(library, GIG, RIG)
        except ScenebookError:
            seed += 1_000
        else:
            return library


def random_evening(seed: int) -> Library:
    """Return a library with one gig, another for each seed.

    Each carried unit has a twin at home that can play it. Free controls, foot switches and deaf units come in all of
    them; a verse and its repeat too.
    """
    chance = random.Random(seed)
    base = random_library(seed)
    units = {**base.units, **{f"twin of {name}": _twin(chance, each) for name, each in base.units.items()}}
    songs = {
        name: each.model_copy(
            update={"form": song({s: {} for s in each.scenes}, *_form(chance, list(each.scenes))).form}
        )
        for name, each in base.songs.items()
    }
    whole = {"units": units, "songs": songs, "rigs": {RIG: _rig(chance, base)}, "gigs": {GIG: _gig(chance, base)}}
    return Library.model_validate({"settings": base.settings, **whole})


def _twin(chance: random.Random, of: Unit) -> Unit:
    """Return a unit that does the same, or less."""
    said = of.model_dump(exclude_defaults=True)
    if chance.random() < 0.4 and len(said.get("controls", {})) > 1:
        said["controls"].popitem()
        for preset in said.get("presets", ()):
            for stores in (
                preset.get("stores", {}),
                *(v.get("stores", {}) for v in preset.get("variants", {}).values()),
            ):
                for member in list(stores):
                    if member.startswith("control") and member not in said["controls"]:
                        del stores[member]
    return unit(**{key: each for key, each in said.items() if key != "presets"}, preset=said.get("presets", ()))


def _form(chance: random.Random, scenes: list[str]) -> list[str]:
    return [*scenes, *chance.choices(scenes, k=chance.randint(0, 4))]


def _rig(chance: random.Random, base: Library) -> Rig:
    """Return the rig with a lead to each unit, some through the thru of another, and a safe state in some."""
    was = base.rigs[RIG]
    said = was.model_dump(exclude_defaults=True)
    leads: list[dict[str, Any]] = []
    for name in was.carried:
        port = was.placement(name).port
        before = [lead["to"] for lead in leads if was.placement(lead["to"]).port == port]
        end: dict[str, Any] = {"thru": chance.choice(before)} if before and chance.random() < 0.7 else {"port": port}
        leads.append({"to": name, **end})
    said["leads"] = leads
    if chance.random() < 0.6:
        scene = chance.choice(list(base.songs["song 0"].scenes.values()))
        said["safe"] = {name: _unleft(setting) for name, setting in scene.units.items() if _unleft(setting)}
    return Rig.model_validate(said)


def _unleft(setting: Any) -> dict[str, str]:
    return {member: text for member, text in setting.items() if text != "leave" and member != "leave"}


def _gig(chance: random.Random, base: Library) -> Gig:
    was = base.gigs[GIG]
    said: dict[str, Any] = {**was.model_dump(exclude_defaults=True)}
    said["sets"] = [*said["sets"], {"name": "second", "songs": chance.sample(list(base.songs), 2)}]
    said["spares"] = chance.sample(list(base.songs), chance.randint(0, 2))
    if chance.random() < 0.7:
        said["house"] = chance.choice(list(base.songs))
    if chance.random() < 0.2:
        said["out"] = [chance.choice(list(base.units))]
    return Gig.model_validate(said)
