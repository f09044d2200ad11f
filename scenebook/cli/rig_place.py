"""scenebook rig place: where in the chain of a rig a unit does least harm."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import print_json, print_lines

if TYPE_CHECKING:
    from scenebook.planning.place import Place, Placing

__all__ = ["app"]

app = group("rig", "Where in the chain a unit stands.")


@app.command("place")
def place_command(
    rig: Annotated[str, typer.Argument(help="The rig.")],
    unit: Annotated[str, typer.Argument(help="The unit; it need not be in the rig yet.")],
    gig: Annotated[
        list[str] | None, typer.Option("--gig", metavar="GIG", help="Only this gig, or several; unless given, all.")
    ] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say for each place in the chain which order preferences it breaks, and how often that is heard.

    For a multi-effects that has a send and return in some rig the pairs of places count as well: before its send and
    after its return. Only scenes in which both units of a preference sound count. The preferences are common practice,
    and library.yaml may say otherwise.

    Example: scenebook rig place "hall board" "multi-effects, large"
    """
    from scenebook.actions.planning_place import rig_place
    from scenebook.cli.place_words import place_lines

    found = rig_place(library_at(library), rig, unit, gig or ())
    if json:
        print_json(_json(found))
    else:
        print_lines(place_lines(found))


def _json(found: "Placing") -> dict[str, Any]:
    return {
        "rig": found.rig,
        "unit": found.unit,
        "times_heard": found.weight,
        "today": _place_json(found.today) if found.today else None,
        "best": _place_json(found.best) if found.tells else None,
        "best_pair": _place_json(found.best_pair) if found.best_pair else None,
        "places": [_place_json(each) for each in found.places],
        "pairs": [_place_json(each) for each in found.pairs],
        "not_noted": [{"unit": unit, "lacks": what} for unit, what in found.not_noted],
        "refused": list(found.refused),
        "shares_loop_with": list(found.loop),
    }


def _place_json(place: "Place") -> dict[str, Any]:
    return {
        "at": [each._asdict() for each in place.spots],
        "weight": place.weight,
        "broken": [each._asdict() for each in place.broken],
    }
