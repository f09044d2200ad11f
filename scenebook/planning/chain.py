"""Places in a chain: where a unit stands, where it could stand, and what comes before what."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from scenebook.model import Parallel, Rig

__all__ = ["Spot", "Stand", "is_before", "put_in", "spots_of", "spots_today", "stands_of", "without"]

Chain = tuple[str | Parallel, ...]


class Spot(NamedTuple):
    """A place between two links of a chain, or in a path of a parallel link.

    `link` counts the links before it; in a path, `path` and `position` count within the link that it is in. `after` and
    `before` are the neighbours in words, empty at an end.
    """

    link: int
    path: int | None
    position: int
    after: str
    before: str


def without(rig: Rig, unit: str) -> Chain:
    """Return the chain of a rig with a unit taken out wherever it stands."""
    return tuple(_taken_out(link, unit) for link in rig.chain if link != unit)


def _taken_out(link: str | Parallel, unit: str) -> str | Parallel:
    if isinstance(link, str):
        return link
    return Parallel(parallel=tuple(tuple(name for name in path if name != unit) for path in link.parallel))


def spots_of(chain: Chain) -> Iterator[Spot]:
    """Yield every place at which one more unit could stand, in the order of the signal."""
    words = ["", *(_words(link) for link in chain), ""]
    for link in range(len(chain) + 1):
        yield Spot(link, None, 0, words[link], words[link + 1])
        if link < len(chain):
            yield from _in_paths(chain[link], link)


def _in_paths(link: str | Parallel, number: int) -> Iterator[Spot]:
    for path, names in enumerate(link.parallel if isinstance(link, Parallel) else ()):
        for position in range(len(names) + 1):
            before = names[position] if position < len(names) else ""
            yield Spot(number, path, position, names[position - 1] if position else "", before)


def put_in(chain: Chain, unit: str, spots: Sequence[Spot]) -> Chain:
    """Return a chain with one more unit at a place of it, or at several."""
    links = list(chain)
    for spot in sorted(spots, key=lambda spot: -spot.link):  # from the end, so that links before it keep their number
        link = links[spot.link] if spot.path is not None else None
        if isinstance(link, Parallel) and spot.path is not None:
            paths = [list(path) for path in link.parallel]
            paths[spot.path].insert(spot.position, unit)
            links[spot.link] = Parallel(parallel=tuple(map(tuple, paths)))
        else:
            links.insert(spot.link, unit)
    return tuple(links)


def _words(link: str | Parallel) -> str:
    if isinstance(link, str):
        return link
    first = next((name for path in link.parallel for name in path), "")
    return f"the parallel paths of {first}" if first else "the parallel paths"


class Stand(NamedTuple):
    """Where a unit of the chain stands: its link, and in which path and where in it."""

    link: int
    path: int | None
    position: int


def stands_of(chain: Chain) -> dict[str, list[Stand]]:
    """Return where each unit of a chain stands; one with a send and return stands at two places."""
    found: dict[str, list[Stand]] = {}
    for number, link in enumerate(chain):
        if isinstance(link, str):
            found.setdefault(link, []).append(Stand(number, None, 0))
            continue
        for path, names in enumerate(link.parallel):
            for position, name in enumerate(names):
                found.setdefault(name, []).append(Stand(number, path, position))
    return found


def is_before(spot: Spot, stand: Stand) -> bool | None:
    """Return whether a place comes before a unit of the chain; nothing where the signal runs beside it."""
    if spot.path is None or spot.link != stand.link:
        return spot.link <= stand.link
    return spot.position <= stand.position if spot.path == stand.path else None


def spots_today(rig: Rig, unit: str) -> tuple[Spot, ...]:
    """Return where a unit stands today, as places of the chain without it."""
    spots = {(spot.link, spot.path, spot.position): spot for spot in spots_of(without(rig, unit))}
    found, gone = [], 0
    for number, link in enumerate(rig.chain):
        if link == unit:
            found.append(spots[number - gone, None, 0])
            gone += 1
        elif isinstance(link, Parallel):
            found += [
                spots[number - gone, path, names.index(unit)]
                for path, names in enumerate(link.parallel)
                if unit in names
            ]
    return tuple(found)
