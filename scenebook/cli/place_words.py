"""How places in a chain are said, and what each breaks."""

from collections.abc import Iterator, Sequence

from scenebook.cli.plain import columns
from scenebook.model.amounts import counted, times_words
from scenebook.planning.chain import Spot
from scenebook.planning.place import Broken, Place, Placing
from scenebook.planning.signal_path import AMPLIFIER, INSTRUMENT

__all__ = ["place_lines"]

_MOST = 5  # of the pairs
_UNWIRED = "▲"  # marks a place at which a switcher's leads cannot be plugged
_FOLDED = 3  # places beside each other that break as much are one row from so many on


def place_lines(found: Placing) -> Iterator[str]:
    """Yield all that `rig place` says: today's place, the best, then every place."""
    yield f"{found.unit} on {found.rig}: heard in {counted(found.weight, 'scene')} as played."
    if not found.tells:
        yield "No scene turns it on, so nothing says which place is better for it."
        yield from _unknown(found)
        return
    if not found.weight:
        yield "No scene turns it on: only its buffered bypass, which is in the way while it is off, says where."
    if found.today:
        yield from _told("Today", found.today)
    yield from _advice(found)
    if found.line_out:
        yield _line_out(found)
    yield "Every place in the order of the signal, with how often a broken preference is heard:"
    yield from columns(_rows(found), indent=2)
    if found.unwired:
        yield f"{_UNWIRED}: nothing can be plugged in between two loops of a switcher, which has one in and one out."
    if any(place.spots[0].path is not None and place.weight < found.best.weight for place in found.places):
        yield "A place in one of several parallel paths is no way out: the others would go without it."
    if found.pairs:
        yield f"Before the send and after the return, the best of {counted(len(found.pairs), 'pair')}:"
        yield from columns(((str(each.weight), _where(each)) for each in _best_first(found)), indent=2)
    if found.send_unknown:
        yield "No rig says that it has a send and return (sends, in a rig's file), so no pairs of places are told."
    yield from _unknown(found)
    yield "The preferences are common practice, with no source; your ears, and library.yaml, may say otherwise."


def _advice(found: Placing) -> Iterator[str]:
    best = found.best
    there, pair = found.today and not {*found.today.spots} & {*found.unwired}, found.best_pair or best
    if there and found.today and found.today.weight <= min(best.weight, pair.weight):
        yield "No other place breaks less: leave it where it is."
        return
    if not there or (found.today and best.weight < found.today.weight):
        yield from _told("Best in one place", best)
    if found.best_pair and found.best_pair.weight < best.weight:
        yield from _told("Best with other units in its send and return", found.best_pair)
    if found.loop:
        yield f"It shares a loop with {'; '.join(found.loop)}: they move together, or the loop is given up."


def _line_out(found: Placing) -> str:
    if found.line_out == found.unit:
        return (
            "Last in the chain it is a line out: that it takes one side of a stereo signal there is no fault of order, "
            "and is not counted."
        )
    return (
        f"{found.line_out} ends the chain as a line out: that it takes one side of a stereo signal is no fault of "
        f"where {found.unit} stands, and is not counted."
    )


def _told(title: str, place: Place) -> Iterator[str]:
    harm = f"a broken preference is heard {times_words(place.weight)}" if place.weight else "breaks no preference"
    yield f"{title}: {_where(place)}; {harm}."
    yield from columns(_reasons(place.broken), indent=2)


def _reasons(broken: Sequence[Broken]) -> Iterator[tuple[str, str, str]]:
    for each in broken:
        yield f"{each.weight}×", f"{each.first} should come before {each.then}", each.reason


def _rows(found: Placing) -> Iterator[tuple[str, str]]:
    """Yield a row for each place; of several beside each other that break as much, one for all, today's marked."""
    today = set(found.today.spots) if found.today else set()
    runs: list[list[Place]] = []
    for place in found.places:
        beside = runs and runs[-1][-1].weight == place.weight
        beside = beside and (runs[-1][-1].spots[0] in found.unwired) == (place.spots[0] in found.unwired)
        if beside and runs[-1][-1].spots[0].path == place.spots[0].path is None:
            runs[-1].append(place)
        else:
            runs.append([place])
    for run in runs:
        unwired = f"  {_UNWIRED}" if run[0].spots[0] in found.unwired else ""
        mark = unwired + (" ← today" if any(place.spots[0] in today for place in run) else "")
        if len(run) >= _FOLDED:
            first, last = run[0].spots[0], run[-1].spots[0]
            yield str(run[0].weight), f"anywhere between {_after(first)} and {_before(last)}{mark}"
            continue
        for place in run:
            here = unwired + (" ← today" if place.spots[0] in today else "")
            indent = "" if place.spots[0].path is None else "  "
            yield str(place.weight), indent + _spot(place.spots[0]) + here


def _where(place: Place) -> str:
    if len(place.spots) == 1:
        return _spot(place.spots[0])
    first, last = place.spots[0], place.spots[-1]
    return f"first {_spot(first)}, then {_spot(last)}"


def _spot(spot: Spot) -> str:
    if spot.path is None:
        return f"between {_after(spot)} and {_before(spot)}"
    path = f"in path {spot.path + 1}"
    if spot.after and spot.before:
        return f"{path}, between {spot.after} and {spot.before}"
    if spot.before or spot.after:
        return f"{path}, before {spot.before}" if spot.before else f"{path}, after {spot.after}"
    return f"{path}, which is dry"


def _after(spot: Spot) -> str:
    return spot.after or INSTRUMENT


def _before(spot: Spot) -> str:
    return spot.before or AMPLIFIER


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
