"""How places in a chain are said, and what each breaks."""

from collections.abc import Iterator, Sequence

from scenebook.cli.plain import columns, counted
from scenebook.planning.chain import Spot
from scenebook.planning.place import Broken, Place, Placing

__all__ = ["place_lines"]

_MOST = 5  # of the pairs


def place_lines(found: Placing) -> Iterator[str]:
    """Yield all that `rig place` says: today's place, the best, then every place."""
    yield f"{found.unit} on {found.rig}: heard in {counted(found.weight, 'part')} of the songs as they are played."
    if found.today:
        yield from _told("Today", found.today)
    yield from _advice(found)
    yield "Every place in the order of the signal, with how often a broken preference is heard:"
    yield from columns((_row(each) for each in found.places), indent=2)
    if found.pairs:
        yield f"Before the send and after the return, the best of {len(found.pairs)} pairs:"
        yield from columns((_row(each) for each in _best_first(found)), indent=2)
    yield from _unknown(found)
    yield "The preferences are common practice, with no source; your ears, and library.yaml, may say otherwise."


def _advice(found: Placing) -> Iterator[str]:
    best = found.best
    if found.today and found.today.weight <= min(
        best.weight, found.best_pair.weight if found.best_pair else best.weight
    ):
        yield "No other place breaks less: leave it where it is."
        return
    if not found.today or best.weight < found.today.weight:
        yield from _told("Best in one place", best)
    if found.best_pair and found.best_pair.weight < best.weight:
        yield from _told("Best with other units in its send and return", found.best_pair)
    if found.loop:
        yield f"It shares a loop with {'; '.join(found.loop)}: they move together, or the loop is given up."


def _told(title: str, place: Place) -> Iterator[str]:
    harm = f"breaks a preference {counted(place.weight, 'time')}" if place.weight else "breaks no preference"
    yield f"{title}: {_where(place)}; {harm}."
    yield from columns(_reasons(place.broken), indent=2)


def _reasons(broken: Sequence[Broken]) -> Iterator[tuple[str, str, str]]:
    for each in broken:
        yield f"{each.weight}x", f"{each.first} should come before {each.then}", each.reason


def _row(place: Place) -> tuple[str, str]:
    return str(place.weight), _where(place)


def _where(place: Place) -> str:
    if len(place.spots) == 1:
        return _spot(place.spots[0])
    first, last = place.spots[0], place.spots[-1]
    return f"{_spot(first)}, and again {_spot(last)}"


def _spot(spot: Spot) -> str:
    path = "" if spot.path is None else f"in parallel path {spot.path + 1}"
    if spot.after and spot.before:
        near = f"between {spot.after} and {spot.before}"
    elif spot.before:
        near = f"before {spot.before}" if path else f"first, before {spot.before}"
    elif spot.after:
        near = f"after {spot.after}" if path else f"last, after {spot.after}"
    else:
        near = "which is dry"
    return ", ".join(filter(None, [path, near]))


def _best_first(found: Placing) -> list[Place]:
    return sorted(found.pairs, key=lambda place: (place.weight, place is not found.best_pair))[:_MOST]


def _unknown(found: Placing) -> Iterator[str]:
    if found.not_noted:
        lacks: dict[str, list[str]] = {}
        for unit, what in found.not_noted:
            lacks.setdefault(what, []).append(unit)
        yield "Not noted, so it decided nothing:"
        yield from columns(((what, "; ".join(units)) for what, units in lacks.items()), indent=2)
    if found.refused:
        yield f"Cannot be set on this rig, so not counted: {'; '.join(found.refused)}"
