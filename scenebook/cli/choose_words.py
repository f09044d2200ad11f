"""How the best rig, what limits cost, and reach against one limit are said."""

from collections.abc import Iterator, Sequence

from scenebook.cli.plain import columns, command_line
from scenebook.cli.power_words import remedy_lines, unfed_words
from scenebook.model import Rig
from scenebook.model.amounts import counted, number_words, share_words
from scenebook.planning.curve import Curve, CurvePoint
from scenebook.planning.packing_list import Item
from scenebook.planning.picking import Chosen, Gain
from scenebook.planning.power import Power

__all__ = ["choice_lines", "curve_lines", "feed_lines", "stored_lines"]

_SMALL = 1e-6  # a worth that is only a float's dust


def choice_lines(
    chosen: Chosen, gained: Sequence[Gain], carried: Sequence[Item] = (), *, stopped: bool = False
) -> Iterator[str]:
    """Yield all that `rig choose` says of the best rig; `carried` is all that travels where weight is limited.

    `stopped` says that somebody ended the work before all was looked at.
    """
    yield f"The best rig: {chosen.count}, in chain order"
    buy = dict(chosen.to_buy)
    yield from columns(
        ((unit, f"to buy, {_price(buy[unit])}" if unit in buy else "") for unit in chosen.units), indent=2
    )
    yield from _to_buy(chosen)
    whole, proof = chosen.reach.whole, _proof(chosen, stopped)
    yield f"It reaches {share_words(chosen.worth, whole)} of the songs: {_of(chosen.worth, whole)}. {proof}"
    yield from _stopped_words(chosen) if stopped else ()
    if abs(chosen.tonight - chosen.worth) > _SMALL:
        share = share_words(chosen.tonight, whole)
        yield f"At the gigs as they stand, with units that are out or played by others, it reaches {share}."
    yield from columns(
        ((f"{limit.name}:", f"{limit.figure(used)} of {limit.words()}") for limit, used in chosen.used), indent=2
    )
    yield from _carried(chosen, carried)
    yield from _left_out(chosen.unknown)
    hear = [unit for unit in chosen.units if chosen.rig.placement(unit).port]
    if hear:
        yield f"Counted on: a computer or a sender, with MIDI to {'; '.join(hear)}. Without one: --by-hand."
    else:
        yield "It needs no computer and no sender; scenebook rig compare counts what feet and hands do on a stored rig."
    yield from _looped(chosen.looped)
    if gained:
        yield "What each limit costs:"
        yield from columns((_gain(each, chosen) for each in gained), indent=2)


def _to_buy(chosen: Chosen) -> Iterator[str]:
    """Yield what has to be bought for a rig, in all; a price that nobody knows is named and in no sum."""
    if not chosen.to_buy:
        return
    known = [price for _, price in chosen.to_buy if price is not None]
    blank = [unit for unit, price in chosen.to_buy if price is None]
    total = f"{number_words(sum(known), 2)} in the library's own money" if known else ""
    lacks = f"price not known of {'; '.join(blank)}" if blank else ""
    yield f"To buy: {counted(len(chosen.to_buy), 'unit')}, {', '.join(filter(None, [total, lacks]))}."


def _price(price: float | None) -> str:
    return "price not known" if price is None else number_words(price, 2)


def _carried(chosen: Chosen, items: Sequence[Item]) -> Iterator[str]:
    """Yield what the units weigh with all that travels beside them, where weight is limited."""
    limit = next((limit for limit, _ in chosen.used if limit.name == "weight"), None)
    if limit is None or not items:
        return
    known = sum(item.grams or 0 for item in items)
    blank = [item.what for item in items if item.grams is None]
    supply = f"the supply {chosen.rig.supply!r} and " if chosen.rig.supply else ""
    over = f", {limit.words(known - limit.most)} over the limit" if known > limit.most + _SMALL else ""
    lacks = f"; not known, on top: {'; '.join(blank)}" if blank else ""
    yield f"  (The limit counts the units alone. With {supply}leads it is {limit.words(known)}{over}{lacks}.)"


def feed_lines(fed: Power | None, others: Sequence[str] = ()) -> Iterator[str]:
    """Yield which units the owned supply that goes with a rig leaves unfed, why, and what would do."""
    if fed is None or fed.feeds_all:
        return
    dark = counted(len(fed.unfed) + len(fed.unknown), "unit")
    yield f"▲ {fed.supply}, the owned supply that feeds most of it, leaves {dark} unfed: {unfed_words(fed)}."
    yield from remedy_lines(fed, others, then=False)
    yield from (f"▲ {caution}" for caution in fed.cautions)


def stored_lines(rig: Rig, name: str, fed: Power | None, switchers: Sequence[str] = ()) -> Iterator[str]:
    """Yield what was stored: under which name, with which supply, and what else of it has to be said in its file.

    `switchers` are units of it that could hold loops and hold none yet.
    """
    yield f"Stored as rig {name!r}, with {counted(len(rig.stand_ins), 'stand-in')}."
    if fed is None:
        yield "It has no supply: no owned unit of the library has outlets. A line supply: UNIT in its file gives one."
    elif not fed.feeds_all:
        without = "; ".join([*(each.unit for each in fed.unfed), *(name for name, _ in fed.unknown)])
        yield f"Its supply is {fed.supply!r}, which feeds all but {without}: scenebook rig power {name!r} says why."
    else:
        yield f"Its supply is {fed.supply!r}, the lightest owned one that feeds it: see scenebook rig power {name!r}."
    for holder in switchers:
        stores = command_line("rig", "switcher", name, "--name", "NEW")
        yield f"{holder!r} holds no loops yet: {stores} says which unit in which, and stores that."
    yield "What its bare board and case weigh: lines frame_g and case_g in its file (scenebook library export, import)."


def curve_lines(curve: Curve) -> Iterator[str]:
    """Yield all that `rig curve` says: a row for each step, its units, then where more gives nothing."""
    limit, last = curve.limit, curve.points[-1]
    rows = [(limit.name, "reach", "", "units", "")]
    steps = [each for each in curve.points if each.units or each.worth > _SMALL or len(curve.points) == 1]
    for each in steps:
        sure = "proved" if each.proved else f"not proved: {share_words(each.bound, each.whole)} at most"
        share = share_words(each.worth, each.whole)
        rows.append((_amount(curve, each), share, _of(each.worth, each.whole), str(len(each.units)), sure))
    yield from columns(rows)
    yield ""
    yield "Units of the first step, then what comes and goes:"
    yield from columns(_changes(curve, steps), indent=2)
    yield ""
    if curve.stopped:
        yield "Stopped early: these are the steps so far, and others may be left."
    if not curve.matters:
        matters = f"{_noun(curve)} does not matter here".capitalize()
        yield f"{matters}: the best rig of all is had with {limit.words(last.most)}."
    else:
        yield _steps_words(curve)
        yield _end_words(curve)
    yield from _left_out(curve.unknown)
    yield from _looped(curve.looped)


def _amount(curve: Curve, point: CurvePoint) -> str:
    """Return how much of the limit a step takes; nothing at all is told apart from what counts nothing."""
    if not point.units:
        return "nothing carried"
    of_nothing = {"price": " (what is owned)"}.get(curve.limit.name, "") if point.most <= 0 else ""
    return curve.limit.words(point.most) + of_nothing


def _changes(curve: Curve, steps: Sequence[CurvePoint]) -> Iterator[tuple[str, str]]:
    before: tuple[str, ...] = ()
    for each in steps:
        new = "; ".join(unit for unit in each.units if unit not in before)
        gone = "; ".join(unit for unit in before if unit not in each.units)
        said = [f"with {new}" if new else "", f"without {gone}" if gone else ""]
        yield _amount(curve, each), ", ".join(filter(None, said))
        before = each.units


def _steps_words(curve: Curve) -> str:
    least = f"Each row is the least {_noun(curve)} that reaches so much"
    if curve.complete:
        return f"{least}; between two rows nothing changes."
    more = "" if curve.stopped else ", and more --points tell more"
    return f"{least}; between two rows the reach lies between theirs{more}."


def _noun(curve: Curve) -> str:
    return "number of units" if curve.limit.name == "units" else curve.limit.name


def _end_words(curve: Curve) -> str:
    last, limit = curve.points[-1], curve.limit
    if not last.proved:
        most = share_words(last.bound, last.whole)
        more = "" if curve.stopped else ", and more --seconds may tell"
        return f"The last row is not proved: {most} at most may be reached{more}."
    if not curve.ends:
        return f"The curve ends at the limit on {limit.name}; with more, more may be reached."
    if last.worth > last.whole - _SMALL:
        return f"From {limit.words(last.most)} on all is reached: more gives nothing."
    most = share_words(last.worth, last.whole)
    why = [f"within the limit on {' and '.join(curve.others)}"] if curve.others else []
    why += ["without the units left out"] if curve.unknown or curve.looped else []
    within = f" {' and '.join(why)}" if why else ""
    return f"From {limit.words(last.most)} on more gives nothing: {most} is the most{within}."


def _of(worth: float, whole: float) -> str:
    return f"{number_words(worth, 2)} of {number_words(whole)}"


def _left_out(unknown: Sequence[tuple[str, Sequence[str]]]) -> Iterator[str]:
    for what, units in unknown:
        yield f"Left out, since their {what} is not known: {'; '.join(units)}"


def _looped(units: Sequence[str]) -> Iterator[str]:
    if units:
        yield f"Left out, since only a loop works them, and a choice has no loops: {'; '.join(units)}"


def _stopped_words(chosen: Chosen) -> Iterator[str]:
    if not chosen.proved:
        yield "Stopped early: the rig is the best so far, and a better one may be left."
    elif chosen.used:
        yield "Stopped early: what each limit costs was not looked at to the end."


def _proof(chosen: Chosen, stopped: bool) -> str:
    if not chosen.proved:
        most = share_words(chosen.bound, chosen.reach.whole)
        return f"Not proved: another could reach {most} at most{'' if stopped else '; more --seconds may tell'}."
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
