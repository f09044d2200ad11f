"""scenebook rig choose, rig curve: the best rig within limits, and reach against one limit."""

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import columns, counted, print_json, print_lines

if TYPE_CHECKING:
    from scenebook.model import Rig
    from scenebook.planning.choice import Progress
    from scenebook.planning.limits import Limit
    from scenebook.planning.picking import Chosen, CurvePoint, Gain
    from scenebook.planning.power import Power

__all__ = ["app"]

app = group("rig", "Which units make the best rig.")
Gigs = Annotated[
    list[str] | None, typer.Option("--gig", metavar="GIG", help="Only this gig, or several; unless given, all.")
]
Limits = Annotated[
    list[str] | None,
    typer.Option(
        "--max", metavar="PROPERTY=MOST", help="weight=9kg, units=8, price=500, area=1800cm2, width=600mm, current=1A."
    ),
]
Must = Annotated[list[str] | None, typer.Option("--must", metavar="UNIT", help="A unit that must be carried.")]
Never = Annotated[list[str] | None, typer.Option("--never", metavar="UNIT", help="A unit that stays at home.")]
Mean = Annotated[bool, typer.Option("--mean", help="Count the mean of a scene's musts and not the worst.")]
Seconds = Annotated[
    float, typer.Option("--seconds", help="How long to look for the proof, and as long again for what limits cost.")
]


@app.command("choose")
def choose_command(
    gig: Gigs = None,
    limits: Limits = None,
    must: Must = None,
    never: Never = None,
    name: Annotated[str | None, typer.Option("--name", help="Store the rig under this new name.")] = None,
    mean: Mean = False,
    seconds: Seconds = 60.0,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Choose the units that reach most of the songs within limits, and say what each limit costs.

    Any unit of the library may be chosen, and the stand-ins of all rigs count. What is owned costs nothing. The rig is
    proved best; where time runs out, or Ctrl-C ends the work, it is the best so far, with the most that any other
    could be worth. A stored rig gets its chain by common practice, channels at port "main", its stand-ins, and the
    lightest owned supply that feeds it.

    Example: scenebook rig choose --max weight=9kg --max units=8 --must "tuner, stage" --name "fly board"
    """
    from scenebook.actions.planning_choice import Wanted, choose_rig

    wanted = Wanted(gig or (), limits or (), must or (), never or (), mean, seconds)
    with _watching() as watch:
        chosen, gained, fed = choose_rig(library_at(library), wanted, name=name, watch=watch)
    if json:
        print_json(_choice_json(chosen, gained, name))
    else:
        print_lines([*_choice_lines(chosen, gained), *(_stored_lines(chosen.rig, name.strip(), fed) if name else [])])


@app.command("curve")
def curve_command(
    against: Annotated[str, typer.Option("--against", help="The property: weight, units, price, area, ...")] = "weight",
    gig: Gigs = None,
    limits: Limits = None,
    must: Must = None,
    never: Never = None,
    points: Annotated[int, typer.Option("--points", help="How many points, 2 to 60; for units each number.")] = 10,
    mean: Mean = False,
    seconds: Seconds = 120.0,
    out: Annotated[Path | None, typer.Option("--out", help="Write the plot here: .png or .svg.")] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Show how much of the songs the best rig reaches as one limit rises, each point proved, as a table and a plot.

    Example: scenebook rig curve --against weight --max units=8 --out reach.png
    """
    from scenebook.actions.planning_choice import Wanted, check_curve_file, rig_curve, write_curve

    if out is not None:
        check_curve_file(out)
    wanted = Wanted(gig or (), limits or (), must or (), never or (), mean, seconds)
    with _watching() as watch:
        limit, found = rig_curve(library_at(library), wanted, against=against, points=points, watch=watch)
    written = write_curve(limit, found, out) if out is not None else None
    if json:
        print_json({"against": limit.name, "points": [_point_json(each) for each in found]})
    else:
        print_lines([*_curve_lines(limit, found), *([f"Wrote {written}."] if written else [])])


@contextmanager
def _watching() -> Iterator[Callable[["Progress"], bool]]:
    """Show progress where somebody watches, and let Ctrl-C end the work and keep the best so far."""
    stopped: list[bool] = []
    shown = sys.stderr.isatty()

    def stop(number: int, frame: object) -> None:
        if stopped:
            raise KeyboardInterrupt  # a second time: at once
        stopped.append(True)

    def watch(far: "Progress") -> bool:
        if shown:
            bound = "" if far.bound > 1e20 else f", at most {far.bound:.6g} is possible"
            print(f"\r\x1b[K{far.seconds:.0f} s: best {far.worth:.6g}{bound}", end="", file=sys.stderr, flush=True)
        return not stopped

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield watch
    finally:
        signal.signal(signal.SIGINT, before)
        if shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def _choice_lines(chosen: "Chosen", gained: "tuple[Gain, ...]") -> Iterator[str]:
    yield f"The best rig: {counted(len(chosen.units), 'unit')}, in chain order"
    yield from columns(([unit] for unit in chosen.units), indent=2)
    whole = chosen.reach.whole
    yield f"It reaches {_number(chosen.worth)} of {whole}: {_percent(chosen.worth, whole)}. {_proof(chosen)}"
    if abs(chosen.tonight - chosen.worth) > 1e-6:
        yield f"(With what the gigs say of units that are out or played by others: {_number(chosen.tonight)}.)"
    for limit, used in chosen.used:
        yield f"  {limit.name}: {limit.words(used)} of {limit.words()}"
    if any(limit.name == "weight" for limit, _ in chosen.used):
        yield "  (The units alone: supply, leads, frame and case come on top; scenebook rig pack weighs all of it.)"
    for what, units in chosen.unknown:
        yield f"Left out, since their {what} is not known: {', '.join(units)}"
    if gained:
        yield "What each limit costs:"
        yield from columns((_gain(each, chosen) for each in gained), indent=2)


def _stored_lines(rig: "Rig", name: str, fed: "Power | None") -> Iterator[str]:
    """Yield what was stored: under which name, with which supply, and what else of it has to be said in its file."""
    yield f"Stored as rig {name!r}, with {counted(len(rig.stand_ins), 'stand-in')}."
    if fed is None:
        yield "It has no supply, since no owned unit of the library has outlets; a line supply: UNIT in its file gives one."
    elif not fed.feeds_all:
        without = ", ".join([*(each.unit for each in fed.unfed), *(name for name, _ in fed.unknown)])
        yield f"Its supply is {fed.supply!r}, which feeds all but {without}: scenebook rig power {name!r} says why."
    else:
        yield f"Its supply is {fed.supply!r}, the lightest owned one that feeds it: see scenebook rig power {name!r}."
    yield "What its bare board and case weigh: lines frame_g and case_g in its file (scenebook library export, import)."


def _proof(chosen: "Chosen") -> str:
    if not chosen.proved:
        return f"Not proved: another could reach {_number(chosen.bound)} at most; more --seconds may tell."
    lighter = "" if chosen.settled else " Whether a lighter one reaches as much is not settled."
    return "Proved: no other reaches more." + lighter


def _gain(gain: "Gain", chosen: "Chosen") -> tuple[str, str, str]:
    new = ", ".join(unit for unit in gain.units if unit not in chosen.units)
    gone = ", ".join(unit for unit in chosen.units if unit not in gain.units)
    more = f"{_number(gain.worth)} more" if gain.worth > 1e-6 else "nothing more"
    if not gain.proved and gain.at_most > gain.worth + 1e-6:
        more += f" found, {_number(gain.at_most)} at most"
    swap = f"with {new}" + (f" and without {gone}" if gone else "") if new and gain.worth > 1e-6 else ""
    return gain.limit.step_words + ":", more, swap


def _curve_lines(limit: "Limit", points: "list[CurvePoint]") -> Iterator[str]:
    rows = [("at most", "used", "units", "reach", "of it", "")]
    for each in points:
        sure = "proved" if each.proved else f"at most {_number(each.bound)}"
        share = _percent(each.worth, each.whole)
        used = limit.words(each.used)
        rows.append((limit.words(each.most), used, str(len(each.units)), _number(each.worth), share, sure))
    yield from columns(rows)
    unknown = [name for name, count in limit.counts.items() if count is None]
    if unknown:
        yield f"Left out, since their {limit.name} is not known: {', '.join(unknown)}"


def _choice_json(chosen: "Chosen", gained: "tuple[Gain, ...]", name: str | None) -> dict[str, Any]:
    return {
        "name": name.strip() if name else None,
        "supply": chosen.rig.supply,
        "units": list(chosen.units),
        "worth": round(chosen.worth, 6),
        "whole": chosen.reach.whole,
        "tonight": round(chosen.tonight, 6),
        "bound": round(chosen.bound, 6),
        "proved": chosen.proved,
        "lightest": chosen.settled,
        "limits": [{"name": limit.name, "used": used, "most": limit.most} for limit, used in chosen.used],
        "unknown": [{"limit": what, "units": list(units)} for what, units in chosen.unknown],
        "gains": [
            {
                "limit": each.limit.name,
                "step": each.limit.step,
                "worth": round(each.worth, 6),
                "at_most": round(each.at_most, 6),
                "proved": each.proved,
                "units": list(each.units),
            }
            for each in gained
        ],
    }


def _point_json(point: "CurvePoint") -> dict[str, Any]:
    return {
        "most": point.most,
        "used": point.used,
        "worth": round(point.worth, 6),
        "whole": point.whole,
        "bound": round(point.bound, 6),
        "proved": point.proved,
        "units": list(point.units),
    }


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _percent(value: float, whole: float) -> str:
    return f"{100 * value / whole:.1f} %" if whole else "100 %"
