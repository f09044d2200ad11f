"""How it is said which outlet feeds which unit."""

from collections.abc import Iterable, Iterator, Sequence

from scenebook.cli.plain import columns
from scenebook.model import Outlet
from scenebook.model.amounts import counted, number_words
from scenebook.model.objects import volts_range
from scenebook.planning.outlets import Bar, Draw
from scenebook.planning.power import CAUTIONS, Change, ChangeKind, Load, Power, Unfed

__all__ = ["power_lines", "remedy_lines", "unfed_words"]

_LEADS = {
    (Bar.POLARITY,): "a lead that turns the polarity, marked as such at both ends",
    (Bar.PLUG,): "a lead from one plug to the other",
    (Bar.POLARITY, Bar.PLUG): "a lead from one plug to the other that turns the polarity, marked as such at both ends",
}


def power_lines(rig: str, plan: Power, others: Sequence[str] = ()) -> Iterator[str]:
    """Yield all that `rig power` says, the cautions last."""
    yield f"{rig} on {plan.supply}: {_verdict(plan)}" if plan.supply else f"{rig}: it names no supply{_needless(plan)}."
    draws = {draw.unit: draw for draw in plan.draws}
    yield from _outlets(plan.loads, draws)
    if plan.loads:
        yield _sum(plan)
    yield from [f"On their own mains supply: {'; '.join(plan.own)}"] if plan.own else []
    yield from [f"Take no supply: {'; '.join(plan.without)}"] if plan.without else []
    blank = [*plan.unknown, *((f"outlet {name}", what) for name, what in plan.unclear)]
    if blank:
        yield "Not known, so in no sum and on no outlet:"
        yield from columns(((name, ", ".join(what)) for name, what in blank), indent=2)
    yield from _splitting(plan.loads)
    yield from (f"▲ {caution}" for caution in plan.cautions)
    yield from _why(plan.unfed) if plan.loads else []
    yield from remedy_lines(plan, others)
    if not plan.proved:
        yield "Found in the time given to it, but not proved the best."
    yield (
        f"{plan.headroom * 100:g} % of each outlet is kept free, and what boots takes more at start-up: "
        "common practice, no source."
    )
    yield from ["Cautions:", *(f"  {caution}" for caution in CAUTIONS)]


def remedy_lines(plan: Power, others: Sequence[str] = (), *, then: bool = True) -> Iterator[str]:
    """Yield the least that would feed every unit, what hangs where `then`, and which other supplies would feed all."""
    yield from _changes(plan, {draw.unit: draw for draw in plan.draws}, then=then)
    yield from [f"Or another supply of the library, which feeds them all: {'; '.join(others)}"] if others else []


def unfed_words(plan: Power) -> str:
    """Return which units a supply leaves unfed, each with why the nearest outlet does not do; "" where it feeds all."""
    nearest = {each.unit: min((bars for _, bars in each.why), key=len, default=()) for each in plan.unfed}
    said = [f"{unit} ({', '.join(bars) or 'no outlet'})" for unit, bars in nearest.items()]
    return "; ".join([*said, *(f"{name} (not noted: {', '.join(what)})" for name, what in plan.unknown)])


def _verdict(plan: Power) -> str:
    if plan.feeds_all:
        return "it feeds every unit."
    fed = sum(len(load.units) for load in plan.loads)
    unfed, unknown = len(plan.unfed), len(plan.unknown)
    counts = [counted(fed, "unit") + " fed", f"{unfed} not" * bool(unfed), f"{unknown} not known" * bool(unknown)]
    return ", ".join(filter(None, counts)) + "."


def _needless(plan: Power) -> str:
    return ", and nothing on it takes one" if plan.feeds_all else ""


def _outlets(loads: Iterable[Load], draws: dict[str, Draw]) -> list[str]:
    rows: list[tuple[str, ...]] = [("outlet", "gives", "mA", "taken", "start-up", "needs", "feeds")]
    rows += [_row(load, draws) for load in loads]
    return columns(rows, indent=2) if len(rows) > 1 else []


def _splitting(loads: Iterable[Load]) -> Iterator[str]:
    """Yield which outlets take a splitting lead, and what is lost by it."""
    for load in loads:
        if len(load.units) > 1:
            apart = "they lose their isolation from each other, and may hum" if load.outlet.isolated else "they may hum"
            yield (
                f"Outlet {load.outlet.name} feeds {counted(len(load.units), 'unit')}: a splitting lead goes to "
                f"{' + '.join(load.units)}; {apart}."
            )


def _row(load: Load, draws: dict[str, Draw]) -> tuple[str, ...]:
    outlet = load.outlet
    units = "; ".join(f"{unit} ({_takes(draws[unit])})" for unit in load.units)
    numbers = [number_words(value, 2) if load.units else "-" for value in (load.ma, load.peak_ma, load.needed_ma)]
    return (outlet.name, _gives(outlet), number_words(outlet.ma or 0, 2), *numbers, _set_to(load) + units or "nothing")


def _set_to(load: Load) -> str:
    """Return the volts that an outlet with a range is to be set to, since a wrong setting destroys units."""
    if load.volts is None or volts_range(load.outlet.volts) == load.volts:
        return ""
    low, high = load.volts
    return f"set to {low:g} V: " if low == high else f"set to {low:g} to {high:g} V: "


def _gives(outlet: Outlet) -> str:
    polarity = outlet.polarity or ("" if outlet.current == "AC" else "polarity not noted")
    shared = "isolated" if outlet.isolated else "not isolated"
    return ", ".join(filter(None, [f"{outlet.volts} V {outlet.current}", polarity, outlet.plug, shared]))


def _takes(draw: Draw) -> str:
    supply = draw.supply
    polarity = {"centre positive": ", centre positive"}.get(supply.polarity or "", "")
    ground = ", positive ground" if supply.positive_ground else ", ground not noted" if draw.ground_unknown else ""
    return f"{supply.volts} V {supply.current}{polarity}{ground}, {number_words(draw.ma, 2)} mA"


def _sum(plan: Power) -> str:
    limit = f" of {number_words(plan.watts_limit)} W" if plan.watts_limit else ""
    start = f"; {number_words(plan.peak_ma)} mA, {number_words(plan.peak_watts)} W while all start at once"
    start = start if plan.peak_ma > plan.ma else ""
    return f"In all {number_words(plan.ma)} mA, {number_words(plan.watts)} W{limit}, at the volts noted{start}."


def _why(unfed: Iterable[Unfed]) -> Iterator[str]:
    for each in unfed:
        yield f"{each.unit} has no outlet:"
        reasons: dict[str, list[str]] = {}
        for outlet, bars in each.why:
            reasons.setdefault(", ".join(bars), []).append(outlet)
        yield from columns(((f"outlet {', '.join(names)}", reason) for reason, names in reasons.items()), indent=2)


def _changes(plan: Power, draws: dict[str, Draw], *, then: bool) -> Iterator[str]:
    if not plan.changes:
        return
    if not plan.loads:
        yield "What a supply would have to give, an outlet for each:"
        yield from columns((_outlet_row(each, draws) for each in plan.changes), indent=2)
        return
    yield "The least that would feed them all:"
    yield from (f"  {_change(each, draws)}" for each in plan.changes)
    if then and [load.units for load in plan.loads] != [load.units for load in plan.changed]:
        yield "and then:"
        names = [f"outlet {load.outlet.name}" for load in plan.loads]
        names += ["one more outlet"] * (len(plan.changed) - len(names))
        feeds = (_set_to(load) + "; ".join(load.units) or "nothing" for load in plan.changed)
        yield from columns(zip(names, feeds, strict=True), indent=2)


def _outlet_row(change: Change, draws: dict[str, Draw]) -> tuple[str, str, str]:
    (unit,) = change.units
    return unit, f"at least {number_words(change.ma, 2)} mA", _wanted(draws[unit])


def _change(change: Change, draws: dict[str, Draw]) -> str:
    if change.kind is ChangeKind.BIGGER and change.outlet is None:
        return "a supply that gives more W in all"
    (unit,) = change.units
    if change.kind is ChangeKind.LEAD:
        return f"for {unit} on outlet {change.outlet}: {_LEADS[change.bars]}"
    if change.kind is ChangeKind.BIGGER:
        return f"for {unit}: outlet {change.outlet} made for at least {number_words(change.ma, 2)} mA"
    return f"for {unit}: one more outlet, {_wanted(draws[unit])}, made for at least {number_words(change.ma, 2)} mA"


def _wanted(draw: Draw) -> str:
    supply = draw.supply
    ground = "positive ground" if supply.positive_ground else ""
    facts = [f"{supply.volts} V {supply.current}", supply.polarity or "", ground, supply.plug]
    apart = "isolated and for it alone" if draw.alone else ""
    return ", ".join(filter(None, [*facts, apart]))
