"""scenebook rig switcher: which units belong in a switcher's loops."""

from json import dumps
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import columns, command_line, counted, print_json, print_lines
from scenebook.cli.watching import watching

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from scenebook.planning.switcher import Switching
    from scenebook.planning.work import Count

__all__ = ["app"]

app = group("rig", "What belongs in a switcher's loops.")
_MOST = 10  # of what single loops would save


@app.command("switcher")
def switcher_command(
    rig: Annotated[str, typer.Argument(help="The rig.")],
    switcher: Annotated[
        str | None, typer.Option("--switcher", metavar="UNIT", help="The switcher, where the rig has several.")
    ] = None,
    gig: Annotated[
        list[str] | None, typer.Option("--gig", metavar="GIG", help="Only this gig, or several; unless given, all.")
    ] = None,
    name: Annotated[str | None, typer.Option("--name", help="Store the rig with these loops under a new name.")] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say which units belong in the loops of a rig's switcher, so that feet press least inside songs.

    A switcher that holds no loops yet, as in a rig that was just chosen, is filled from nothing. Its roles are utility
    alone, and it has two switches or more.

    Each unit that a foot works is tried in a loop, and so are neighbours in the chain that share one, in each kind of
    switch there is; the best choice that can be plugged is exact. Nothing stands between two loops and in none, since a
    switcher has one in and one out: a unit there that no foot works gets a loop of its own, if that is worth it. What
    nothing but its loop switches stays in it. What scenes ask for stays the same: only who works it changes. Ctrl-C
    ends the search and keeps the best so far.

    Example: scenebook rig switcher "hall board"
    """
    from scenebook.actions.planning_switcher import rig_switcher

    with watching() as show:

        def watch(done: int, of: int, least: int | None) -> bool:
            best = "" if least is None else f", best so far {counted(least, 'press', 'presses')}"
            return show(f"loop {done} of {of}{best}")

        found = rig_switcher(library_at(library), rig, switcher, gig or (), name=name, watch=watch)
    if json:
        print_json(_json(found, name))
    else:
        print_lines([*_lines(found), *_stored(found, name.strip() if name else "")])


def _lines(found: "Switching") -> "Iterator[str]":
    yield f"{found.switcher} on {found.rig}: {counted(found.count, 'loop')}."
    if not found.today:
        yield f"Today it holds no loops: {_presses(found.now)}."
    elif found.without is not None:
        yield f"No loops: {_presses(found.without)}."
    else:
        yield f"Nothing but a loop switches these, so they stay in theirs: {'; '.join(found.stuck)}"
    if found.today:
        yield f"Today: {_presses(found.now)}."
        yield from columns(_loops(found, found.today), indent=2)
    yield from [found.tangled] if found.tangled else []
    if found.best == found.today and found.tangled:
        yield "No choice of loops that keeps these where they are can be wired."
    elif found.best == found.today:
        stay = "leave the loops as they are" if found.today else "no loop saves a press"
        yield f"Nothing presses less inside songs: {stay}."
    else:
        yield f"Best{' that can be wired' if found.tangled else ''}: {_presses(found.then)}."
        yield from columns(_loops(found, found.best), indent=2)
    yield from _in_the_way(found)
    yield "What one loop by itself would save inside songs:"
    saved = ((f"{each.presses}", " + ".join(each.units)) for each in found.savings[:_MOST])
    yield from columns(saved, indent=2) or ["  no unit that a foot works could be in one"]
    yield from _notes(found)


def _in_the_way(found: "Switching") -> "Iterator[str]":
    """Yield what stands between loops that would save more: a switcher has one in and one out."""
    if found.in_the_way:
        stand = f"{'stands' if len(found.in_the_way) == 1 else 'stand'} between loops that would save"
        fewer = counted(found.wished, "press", "presses")
        place = command_line("rig", "place", found.rig, found.in_the_way[0])
        yield f"{'; '.join(found.in_the_way)} {stand} {fewer} more inside songs, and nothing can be plugged in there."
        yield f"Before or behind them it is out of the way; what that breaks: {place}."


def _stored(found: "Switching", name: str) -> "Iterator[str]":
    """Yield under which name the rig was stored, or what to write into its file."""
    if found.best == found.today:
        yield from [f"Nothing is stored as {name!r}: the loops are today's."] if name else []
        return
    if name:
        play = command_line("compile", "GIG", "--rig", name)
        yield f"Stored as rig {name!r}, with these loops; a gig plays on it with {play}."
        return
    yield "To store it: --name NEW; or in the rig's file (scenebook library export, import):"
    if found.in_chain:
        yield f"  (take {found.switcher!r} out of chain: its loops stand beside it; its port and channel stay in units)"
    yield "  loops:"
    yield f"    {_quoted(found.switcher)}:"
    yield from (f"      {_quoted(loop)}: [{', '.join(map(_quoted, units))}]" for loop, units in found.best.items())
    if found.stay_on:
        on = ", ".join(f"{_quoted(loop)}: on" for loop in found.stay_on)
        yield from ["  home:  # beside what stands there", f"    {_quoted(found.switcher)}: {{{on}}}"]


def _quoted(name: str) -> str:
    """Return a name as it may stand in a text file, whatever is in it."""
    return dumps(name, ensure_ascii=False)


def _notes(found: "Switching") -> "Iterator[str]":
    if found.tried < found.loops_to_try:
        yield f"Stopped early: {found.tried} of {found.loops_to_try} loops were tried, and a better choice may be left."
    elif not found.proved:
        yield "Together the loops save other than one by one, so a better choice may be left."
    if found.out_of_order:
        yield "The loops follow each other otherwise than their switches: only a switcher with a free order does that."
    if found.named:
        yield f"These scenes speak of a loop by name; look at them if loops change: {'; '.join(found.named)}"
    yield from (f"Cannot be in a loop: {unit}: {why}" for unit, why in found.refused)
    yield from (f"Left out: {gig}: {why}" for gig, why in found.left_out)


def _presses(count: "Count") -> str:
    return f"{counted(count.inside, 'press', 'presses')} inside songs, {count.between} between them"


def _loops(found: "Switching", loops: "Mapping[str, tuple[str, ...]]") -> "Iterator[tuple[str, str]]":
    for name in dict.fromkeys([*found.today, *loops]):
        on = "  (stays on)" if loops == found.best and name in found.stay_on else ""
        yield name, (" + ".join(loops.get(name, ())) or "nothing") + on


def _json(found: "Switching", name: str | None) -> dict[str, Any]:
    return {
        "name": name.strip() if name and found.best != found.today else None,
        "take_out_of_chain": found.in_chain,
        "rig": found.rig,
        "switcher": found.switcher,
        "loops": found.count,
        "today": {name: list(units) for name, units in found.today.items()},
        "best": {name: list(units) for name, units in found.best.items()},
        "presses": {
            "without": found.without._asdict() if found.without is not None else None,
            "today": found.now._asdict(),
            "best": found.then._asdict(),
        },
        "savings": [
            {"units": list(each.units), "presses": each.presses, "switch": each.switch} for each in found.savings
        ],
        "refused": [{"unit": unit, "why": why} for unit, why in found.refused],
        "left_out": [{"gig": gig, "why": why} for gig, why in found.left_out],
        "scenes_that_name_loops": list(found.named),
        "proved": found.proved,
        "stuck": list(found.stuck),
        "tried": found.tried,
        "loops_to_try": found.loops_to_try,
        "cannot_be_wired": found.tangled or None,
        "stay_on": list(found.stay_on),
        "out_of_order": found.out_of_order,
        "in_the_way": list(found.in_the_way),
        "in_the_way_presses": found.wished,
    }
