"""scenebook rig choose, rig curve: the best rig within limits, and reach against one limit."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import print_json, print_lines
from scenebook.cli.watching import watching
from scenebook.model.amounts import number_words

if TYPE_CHECKING:
    from scenebook.actions.planning_choice import Choosing
    from scenebook.planning.choice import Progress
    from scenebook.planning.curve import Curve

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
ByHand = Annotated[bool, typer.Option("--by-hand", help="No computer or sender travels: no unit hears MIDI.")]
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
    by_hand: ByHand = False,
    seconds: Seconds = 60.0,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Choose the units that reach most of the songs within limits, and say what each limit costs.

    Any unit of the library may be chosen, and the stand-ins of all rigs count. What is owned costs nothing. The rig is
    proved best; where time runs out, or Ctrl-C ends the work, it is the best so far, with the most that any other
    could be worth. A stored rig gets the chain in which its scenes break least of common practice, near to that of the
    largest rig with half of its units; channels at port "main" (unless all is worked by hand), its stand-ins, and the
    owned supply that leaves fewest units unfed, the lightest of those; which are unfed and what would do is said.

    Example: scenebook rig choose --max weight=9kg --max units=8 --must "tuner, stage" --name "fly board"
    """
    from scenebook.actions.planning_choice import Wanted, choose_rig
    from scenebook.cli.choose_words import choice_lines, feed_lines, stored_lines

    wanted = Wanted(gig or (), limits or (), must or (), never or (), mean, seconds, by_hand)
    with _watching() as watch:
        found = choose_rig(library_at(library), wanted, name=name, watch=watch)
    if json:
        print_json(_choice_json(found, name))
    else:
        stored = stored_lines(found.chosen.rig, name.strip(), found.fed, found.chosen.switchers) if name else ()
        said = choice_lines(found.chosen, found.gains, found.carried, stopped=found.stopped)
        print_lines([*said, *feed_lines(found.fed, found.others), *stored])


@app.command("curve")
def curve_command(
    against: Annotated[str, typer.Option("--against", help="The property: weight, units, price, area, ...")] = "weight",
    gig: Gigs = None,
    limits: Limits = None,
    must: Must = None,
    never: Never = None,
    points: Annotated[
        int, typer.Option("--points", help="How many steps at most, 2 to 60; for units each number.")
    ] = 10,
    mean: Mean = False,
    by_hand: ByHand = False,
    seconds: Seconds = 120.0,
    out: Annotated[Path | None, typer.Option("--out", "-o", help="Write the plot here: .png or .svg.")] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Show at which steps of one limit the best rig reaches more, each proved, and where more gives nothing.

    Steps are looked for where the reach changes most. A limit on the same property ends the curve there.

    Example: scenebook rig curve --against weight --max units=8 -o reach.png
    """
    from scenebook.actions.planning_choice import Wanted, check_curve_file, rig_curve, write_curve
    from scenebook.cli.choose_words import curve_lines

    if out is not None:
        check_curve_file(out)
    wanted = Wanted(gig or (), limits or (), must or (), never or (), mean, seconds, by_hand)
    with _watching() as watch:
        found = rig_curve(library_at(library), wanted, against=against, points=points, watch=watch)
    written = write_curve(found, out) if out is not None else None
    if json:
        print_json(_curve_json(found))
    else:
        print_lines([*curve_lines(found), *([f"Wrote {written}."] if written else [])])


@contextmanager
def _watching() -> Iterator[Callable[["Progress"], bool]]:
    """Show progress where somebody watches, and let Ctrl-C end the work and keep the best so far."""
    with watching() as show:

        def watch(far: "Progress") -> bool:
            bound = "" if far.bound > 1e20 else f", at most {number_words(far.bound)} is possible"
            return show(f"{number_words(far.seconds, 0)} s: best {number_words(far.worth)}{bound}")

        yield watch


def _choice_json(found: "Choosing", name: str | None) -> dict[str, Any]:
    chosen = found.chosen
    return {
        "name": name.strip() if name else None,
        "stopped": found.stopped,
        "supply": chosen.rig.supply,
        "unfed": [each.unit for each in found.fed.unfed] if found.fed else [],
        "supply_unknown": [name for name, _ in found.fed.unknown] if found.fed else [],
        "supplies_that_feed_all": list(found.others),
        "units": list(chosen.units),
        "to_buy": [{"unit": unit, "price": price} for unit, price in chosen.to_buy],
        "to_buy_price": sum(price for _, price in chosen.to_buy if price is not None),
        "hear_midi": [unit for unit in chosen.units if chosen.rig.placement(unit).port],
        "carried_g": sum(item.grams or 0 for item in found.carried) if found.carried else None,
        "carried_unknown": [item.what for item in found.carried if item.grams is None],
        "worth": round(chosen.worth, 6),
        "whole": chosen.reach.whole,
        "tonight": round(chosen.tonight, 6),
        "bound": round(chosen.bound, 6),
        "proved": chosen.proved,
        "lightest": chosen.settled,
        "limits": [{"name": limit.name, "used": used, "most": limit.most} for limit, used in chosen.used],
        "unknown": [{"limit": what, "units": list(units)} for what, units in chosen.unknown],
        "only_by_loop": list(chosen.looped),
        "gains": [
            {
                "limit": each.limit.name,
                "step": each.limit.step,
                "worth": round(each.worth, 6),
                "at_most": round(each.at_most, 6),
                "proved": each.proved,
                "units": list(each.units),
            }
            for each in found.gains
        ],
    }


def _curve_json(curve: "Curve") -> dict[str, Any]:
    return {
        "against": curve.limit.name,
        "points": [
            {
                "most": each.most,
                "worth": round(each.worth, 6),
                "whole": each.whole,
                "bound": round(each.bound, 6),
                "proved": each.proved,
                "units": list(each.units),
            }
            for each in curve.points
        ],
        "not_known": [band._asdict() for band in curve.bands],
        "complete": curve.complete,
        "stopped": curve.stopped,
        "more_gives_nothing": curve.ends,
        "unknown": [{"limit": what, "units": list(units)} for what, units in curve.unknown],
        "only_by_loop": list(curve.looped),
    }
