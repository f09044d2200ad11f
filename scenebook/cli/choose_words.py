"""How the best rig, what limits cost, and reach against one limit are said."""

from collections.abc import Iterator, Sequence

from scenebook.cli.plain import columns
from scenebook.model import Rig
from scenebook.model.amounts import counted, number_words, share_words
from scenebook.planning.curve import Curve
from scenebook.planning.picking import Chosen, Gain
from scenebook.planning.power import Power

__all__ = ["choice_lines", "curve_lines", "stored_lines"]

_SMALL = 1e-6  # a worth that is only a float's dust


def choice_lines(chosen: Chosen, gained: Sequence[Gain]) -> Iterator[str]:
    """Yield all that `rig choose` says of the best rig."""
    yield f"The best rig: {chosen.count}, in chain order"
    yield from columns(([unit] for unit in chosen.units), indent=2)
    whole = chosen.reach.whole
    yield f"It reaches {share_words(chosen.worth, whole)} of the songs: {_of(chosen.worth, whole)}. {_proof(chosen)}"
    if abs(chosen.tonight - chosen.worth) > _SMALL:
        share = share_words(chosen.tonight, whole)
        yield f"At the gigs as they stand, with units that are out or played by others, it reaches {share}."
    yield from columns(
        ((f"{limit.name}:", f"{limit.figure(used)} of {limit.words()}") for limit, used in chosen.used), indent=2
    )
    if any(limit.name == "weight" for limit, _ in chosen.used):
        yield "  (The units alone: supply, leads, frame and case come on top; scenebook rig pack weighs all of it.)"
    yield from _left_out(chosen.unknown)
    if chosen.looped:
        yield f"Left out, since only a loop works them, and a choice has no loops: {'; '.join(chosen.looped)}"
    if gained:
        yield "What each limit costs:"
        yield from columns((_gain(each, chosen) for each in gained), indent=2)


def stored_lines(rig: Rig, name: str, fed: Power | None) -> Iterator[str]:
    """Yield what was stored: under which name, with which supply, and what else of it has to be said in its file."""
    yield f"Stored as rig {name!r}, with {counted(len(rig.stand_ins), 'stand-in')}."
    if fed is None:
        yield "It has no supply: no owned unit of the library has outlets. A line supply: UNIT in its file gives one."
    elif not fed.feeds_all:
        without = "; ".join([*(each.unit for each in fed.unfed), *(name for name, _ in fed.unknown)])
        yield f"Its supply is {fed.supply!r}, which feeds all but {without}: scenebook rig power {name!r} says why."
    else:
        yield f"Its supply is {fed.supply!r}, the lightest owned one that feeds it: see scenebook rig power {name!r}."
    yield "What its bare board and case weigh: lines frame_g and case_g in its file (scenebook library export, import)."


def curve_lines(curve: Curve) -> Iterator[str]:
    """Yield all that `rig curve` says: a row for each step, then where more gives nothing."""
    limit, last = curve.limit, curve.points[-1]
    rows = [(limit.name, "reach", "", "units", "")]
    for each in curve.points:
        sure = "proved" if each.proved else f"not proved: {share_words(each.bound, each.whole)} at most"
        share = share_words(each.worth, each.whole)
        rows.append((limit.words(each.most), share, _of(each.worth, each.whole), str(len(each.units)), sure))
    yield from columns(rows)
    yield ""
    if not curve.matters:
        matters = f"{_noun(curve)} does not matter here".capitalize()
        yield f"{matters}: the best rig of all is had with {limit.words(last.most)}."
    else:
        yield _steps_words(curve)
        yield _end_words(curve)
    yield from _left_out(curve.unknown)


def _steps_words(curve: Curve) -> str:
    least = f"Each row is the least {_noun(curve)} that reaches so much"
    if curve.complete:
        return f"{least}; between two rows nothing changes."
    return f"{least}; between two rows the reach lies between theirs, and more --points tell more."


def _noun(curve: Curve) -> str:
    return "number of units" if curve.limit.name == "units" else curve.limit.name


def _end_words(curve: Curve) -> str:
    last, limit = curve.points[-1], curve.limit
    if not curve.ends:
        return f"The curve ends at the limit on {limit.name}; with more, more may be reached."
    if last.worth > last.whole - _SMALL:
        return f"From {limit.words(last.most)} on all is reached: more gives nothing."
    most = share_words(last.worth, last.whole)
    why = [f"within the limit on {' and '.join(curve.others)}"] if curve.others else []
    why += ["without the units left out"] if curve.unknown else []
    within = f" {' and '.join(why)}" if why else ""
    return f"From {limit.words(last.most)} on more gives nothing: {most} is the most{within}."


def _of(worth: float, whole: float) -> str:
    return f"{number_words(worth, 2)} of {number_words(whole)}"


def _left_out(unknown: Sequence[tuple[str, Sequence[str]]]) -> Iterator[str]:
    for what, units in unknown:
        yield f"Left out, since their {what} is not known: {'; '.join(units)}"


def _proof(chosen: Chosen) -> str:
    if not chosen.proved:
        most = share_words(chosen.bound, chosen.reach.whole)
        return f"Not proved: another could reach {most} at most; more --seconds may tell."
    lighter = "" if chosen.settled else " Whether a lighter one reaches as much is not settled."
    return f"Proved: no other{' without loops' if chosen.looped else ''} reaches more." + lighter


def _gain(gain: Gain, chosen: Chosen) -> tuple[str, str, str]:
    new = " + ".join(unit for unit in gain.units if unit not in chosen.units)
    gone = " + ".join(unit for unit in chosen.units if unit not in gain.units)
    more = f"{number_words(gain.worth, 2)} more" if gain.worth > _SMALL else "nothing more"
    if not gain.proved and gain.at_most > gain.worth + _SMALL:
        more += f" found, {number_words(gain.at_most, 2)} at most"
    swap = f"with {new}" + (f", without {gone}" if gone else "") if new and gain.worth > _SMALL else ""
    return gain.limit.step_words + ":", more, swap
