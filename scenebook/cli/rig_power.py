"""scenebook rig power: which unit of a rig hangs on which outlet of a supply."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import print_json, print_lines

if TYPE_CHECKING:
    from scenebook.actions.planning_power import RigPower
    from scenebook.planning.power import Load

__all__ = ["app"]

app = group("rig", "What feeds a rig.")


@app.command("power")
def power_command(
    rig: Annotated[str, typer.Argument(help="The rig.")],
    supply: Annotated[
        str | None, typer.Option("--supply", help="The unit that feeds it; unless given, the rig's own.")
    ] = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say which unit of a rig hangs on which outlet, why one does not, and the least change that would do.

    Counted are volts, AC or DC, polarity, plug, the mA of all that hangs on an outlet with headroom and start-up, and
    isolation: positive ground shares an outlet with nothing. What is not noted is named, never 0.
    Exit code 1 if a unit is not fed, or nobody knows whether it is.

    Example: scenebook rig power "hall board" --supply "supply, ten outlets"
    """
    from scenebook.actions.planning_power import rig_power
    from scenebook.cli.power_words import power_lines

    found = rig_power(library_at(library), rig, supply)
    if json:
        print_json(_json(found))
    else:
        print_lines(power_lines(found.rig, found.power, found.others))
    raise typer.Exit(0 if found.power.feeds_all else 1)


def _json(found: "RigPower") -> dict[str, Any]:
    from scenebook.planning.power import CAUTIONS

    plan = found.power
    return {
        "rig": found.rig,
        "supply": plan.supply,
        "feeds_all": plan.feeds_all,
        "proved": plan.proved,
        "headroom": plan.headroom,
        "ma": round(plan.ma, 3),
        "watts": round(plan.watts, 3),
        "start_ma": round(plan.peak_ma, 3),
        "start_watts": round(plan.peak_watts, 3),
        "look_at": list(plan.cautions),
        "outlets": [_load_json(load) for load in plan.loads],
        "splitting_leads": [
            {"outlet": load.outlet.name, "units": list(load.units), "isolated_from_each_other": False}
            for load in plan.loads
            if len(load.units) > 1
        ],
        "unfed": [
            {"unit": each.unit, "why": {outlet: [str(bar) for bar in bars] for outlet, bars in each.why}}
            for each in plan.unfed
        ],
        "unknown": [{"name": name, "lacks": list(what)} for name, what in plan.unknown],
        "unknown_outlets": [{"name": name, "lacks": list(what)} for name, what in plan.unclear],
        "own_supply": list(plan.own),
        "no_supply": list(plan.without),
        "changes": [
            {
                "kind": str(each.kind),
                "units": list(each.units),
                "outlet": each.outlet,
                "against": [str(bar) for bar in each.bars],
                "ma": round(each.ma, 3),
            }
            for each in plan.changes
        ],
        "other_supplies": list(found.others),
        "with_changes": [_load_json(load) for load in plan.changed],
        "cautions": list(CAUTIONS),
    }


def _load_json(load: "Load") -> dict[str, Any]:
    return {
        "outlet": load.outlet.name,
        "gives": load.outlet.model_dump(mode="json", exclude={"name"}),
        "units": list(load.units),
        "volts": list(load.volts) if load.volts else None,
        "ma": round(load.ma, 3),
        "start_ma": round(load.peak_ma, 3),
        "needed_ma": round(load.needed_ma, 3),
    }
