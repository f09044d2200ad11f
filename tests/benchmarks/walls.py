"""Walls of units to choose from: libraries in which scenes want sounds, and units stand in for others of their role."""

import random
from typing import Any

from scenebook.model import Library, Role
from scenebook.planning.limits import Limit, read_limits

__all__ = ["wall", "wall_limits"]

ROLES = [str(role) for role in Role][:10]
A_SONG = 5


def wall(units: int, scenes: int, seed: int) -> Library:
    """Return a library of so many units and scenes.

    A fifth of the units are multi-effects of 3 to 6 sections, of which 1 to 3 can be on at once. Each sound has 1 to 5
    stand-ins of its role, with a likeness of 0.3 to 0.95. A scene wants 1 to 5 sounds, some far more often than others;
    a quarter of them are colours. It is played 1 to 6 times.
    """
    pick = random.Random(seed)
    made = {f"unit {number}": _unit(pick) for number in range(units)}
    sounds = [(name, key, switch["section"]) for name, unit in made.items() for key, switch in unit["switches"].items()]
    fame = {sound: pick.paretovariate(1.2) for sound in sounds}
    stand_ins = [each for sound in sounds for each in _stand_ins(pick, sound, sounds)]
    songs: dict[str, Any] = {}
    for number in range(0, scenes, A_SONG):
        named = {f"scene {each}": _scene(pick, sounds, fame) for each in range(min(A_SONG, scenes - number))}
        form = [name for name in named for _ in range(pick.randint(1, 6))]
        songs[f"song {number}"] = {"scenes": named, "form": form}
    gig = {"sets": [{"name": "all", "songs": list(songs)}]}
    rigs = {"wall": {"chain": list(made), "stand_ins": stand_ins}}
    return Library.model_validate({"units": made, "songs": songs, "rigs": rigs, "gigs": {"tour": gig}})


def wall_limits(library: Library, share: float = 0.2) -> tuple[Limit, ...]:
    """Return four limits, on weight, number, price and current: a share of what all units together count."""
    whole = read_limits(["weight=1g", "units=1", "price=1", "current=1mA"], library.units)
    return tuple(limit._replace(most=share * sum(count or 0 for count in limit.counts.values())) for limit in whole)


def _unit(pick: random.Random) -> dict[str, Any]:
    several = pick.random() < 0.2
    roles = pick.sample(ROLES, pick.randint(3, 6)) if several else [pick.choice(ROLES)]
    names = roles if several else ["main"]
    return {
        "switches": {name: {"foot": True, "section": role} for name, role in zip(names, roles, strict=True)},
        "sections_at_once": pick.randint(1, 3) if several else None,
        "weight_g": pick.randint(150, 900) * (2 if several else 1),
        "supply": {"volts": "9", "ma": pick.randint(5, 150) * (3 if several else 1)},
        "owned": pick.random() < 0.5,
        "price": pick.randint(50, 600),
    }


def _stand_ins(
    pick: random.Random, sound: tuple[str, str, str], sounds: list[tuple[str, str, str]]
) -> list[dict[str, Any]]:
    name, switch, role = sound
    peers = [(by, place) for by, place, other in sounds if other == role and by != name]
    return [
        {"part": name, "part_switch": switch, "by": by, "switch": place, "likeness": pick.randint(6, 19) / 20}
        for by, place in pick.sample(peers, min(len(peers), pick.randint(1, 5)))
    ]


def _scene(
    pick: random.Random, sounds: list[tuple[str, str, str]], fame: dict[tuple[str, str, str], float]
) -> dict[str, Any]:
    settings: dict[str, dict[str, str]] = {}
    colours = []
    for role in pick.sample(ROLES, pick.randint(1, 5)):
        fitting = [sound for sound in sounds if sound[2] == role]
        if not fitting:
            continue
        ((name, switch, _),) = pick.choices(fitting, [fame[sound] for sound in fitting])
        colours += [f"{name}.{switch}"] if settings and pick.random() < 0.25 else []
        settings.setdefault(name, {})[switch] = "on"
    return {"units": settings, "colours": colours}
