"""scenebook rig reach, rig compare: what a rig reaches of the songs, and rigs side by side."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import print_json, print_lines

if TYPE_CHECKING:
    from scenebook.actions.planning_reach import RigReach
    from scenebook.planning.compare import RigFacts, Total
    from scenebook.planning.knobs import Knob
    from scenebook.planning.losses import Loss
    from scenebook.planning.reach import SceneReach, Share

__all__ = ["app"]

app = group("rig", "Which rig to carry.")
Gigs = Annotated[
    list[str] | None, typer.Option("--gig", metavar="GIG", help="Only this gig, or several; unless given, all.")
]
Mean = Annotated[bool, typer.Option("--mean", help="Count the mean of a scene's musts and not the worst.")]


@app.command("reach")
def reach_command(
    rig: Annotated[str, typer.Argument(help="The rig.")],
    gig: Gigs = None,
    mean: Mean = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say what a rig reaches of the songs: each scene whole, by a stand-in, without a colour or lacking a must.

    Then the units that would add most and give least, knobs wanted in two places, and what every single loss costs. A
    scene is worth how often it is played times its worst-met must, less a fifth for each colour that it is without,
    and nothing when a must lacks.

    Example: scenebook rig reach "hall board" --gig "Pell Quay"
    """
    from scenebook.actions.planning_reach import rig_reach
    from scenebook.cli.reach_words import reach_lines

    found = rig_reach(library_at(library), rig, gig or (), mean=mean)
    if json:
        print_json(_reach_json(found))
    else:
        print_lines(reach_lines(found))


@app.command("compare")
def compare_command(
    rigs: Annotated[list[str], typer.Argument(help="The rigs, side by side in this order.")],
    gig: Gigs = None,
    mean: Mean = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Put rigs side by side: units, price of what is not owned, weight, current, area, reach, presses, set-up time.

    What nobody knows of a unit is named and never counted as 0. A rig that cannot be set or cannot play a gig that was
    named is named with the reason, the others are compared, and the exit code is 1.

    Example: scenebook rig compare "hall board" "fly board"
    """
    from scenebook.actions.planning_reach import compare_rigs
    from scenebook.cli.compare_words import compare_lines

    facts, failed = compare_rigs(library_at(library), rigs, gig or (), mean=mean)
    if json:
        print_json([*(_facts_json(each) for each in facts), *({"rig": each.rig, "why": each.why} for each in failed)])
    else:
        print_lines(compare_lines(facts, failed))
    raise typer.Exit(1 if failed else 0)


def _reach_json(found: "RigReach") -> dict[str, Any]:
    reach = found.reach
    return {
        "rig": reach.rig,
        "gigs": list(reach.gigs),
        "worth": _number(reach.worth),
        "whole": reach.whole,
        "share": _number(reach.share),
        "by_gig": [_share_json(each) for each in reach.by_gig],
        "by_song": [_share_json(each) for each in reach.by_song],
        "scenes": [_scene_json(each) for each in (*reach.scenes, *reach.apart)],
        "left_out": [{"gig": gig, "why": why} for gig, why in reach.left_out],
        "cannot_be_wired": list(found.tangled),
        "uncompiled": [{"gig": gig, "why": why} for gig, why in found.uncompiled],
        "would_add": [{"unit": each.unit, "worth": _number(each.worth)} for each in found.additions],
        "gives": [{"unit": each.unit, "worth": _number(each.worth)} for each in found.removals],
        "presets_by_sections": [{**each._asdict(), "switches": list(each.switches)} for each in found.by_sections],
        "knobs": [_knob_json(each) for each in found.knobs],
        "losses": [_loss_json(each) for each in found.losses],
    }


def _share_json(share: "Share") -> dict[str, Any]:
    return {"name": share.name, "worth": _number(share.worth), "whole": share.whole, "lost": _number(share.lost)}


def _scene_json(each: "SceneReach") -> dict[str, Any]:
    reached = each.reached
    return {
        "gig": each.gig,
        "song": each.song,
        "scene": each.scene,
        "times": each.weight,
        "outcome": str(reached.outcome),
        "value": _number(reached.value),
        "worth": _number(each.worth),
        "lacks": list(reached.met.lacks),
        "without": list(reached.met.without),
        "stand_ins": list(reached.met.stand_ins),
        "refused": reached.refused,
    }


def _knob_json(knob: "Knob") -> dict[str, Any]:
    named = {"gig": knob.gig, "unit": knob.unit, "control": knob.control, "scale": str(knob.scale)}
    return {
        **named,
        "tolerance": _number(knob.tolerance),
        "times": knob.times,
        "while_silent": knob.silent,
        "in_gap": knob.in_gap,
        "wanted": [{**each._asdict(), "value": _number(each.value)} for each in knob.wanted],
        "compromise": None if knob.compromise is None else _number(knob.compromise),
        "off": _number(knob.off),
        "second": knob.second,
        "second_is_carried": knob.second_is_carried,
    }


def _loss_json(loss: "Loss") -> dict[str, Any]:
    return {
        "kind": str(loss.kind),
        "name": loss.name,
        "from": loss.start,
        "assumed": loss.assumed,
        "gone": list(loss.gone),
        "deaf": list(loss.deaf),
        "lost": _number(loss.lost),
        "cues_by_hand": loss.by_hand,
        "more_presses_inside_songs": loss.feet,
        "scenes": [
            {
                "song": each.song,
                "scene": each.scene,
                "times": each.weight,
                "was": str(each.before),
                "becomes": str(each.after),
                "lost": _number(each.lost),
            }
            for each in loss.scenes
        ],
        "join": [
            {"lines": str(join.lines), "from": join.before, "to": join.after, "assumed": join.assumed}
            for join in loss.joins
        ],
    }


def _facts_json(facts: "RigFacts") -> dict[str, Any]:
    return {
        "rig": facts.rig,
        "units": list(facts.units),
        "carried": facts.load,
        "price": _total_json(facts.price),
        "weight_g": _total_json(facts.weight_g),
        "current_ma": _total_json(facts.current_ma),
        "area_mm2": _total_json(facts.area_mm2),
        "reach": _number(facts.share),
        "gigs": [each._asdict() for each in facts.gigs],
        "left_out": [{"gig": gig, "why": why} for gig, why in facts.left_out],
        "set_up_s": _number(facts.set_up_s),
        "fixed": facts.is_fixed,
        "hear_midi": list(facts.hear_midi),
    }


def _total_json(total: "Total") -> dict[str, Any]:
    return {"sum": _number(total.sum), "unknown": list(total.unknown)}


def _number(value: float) -> float:
    """Return a number without the dust of adding tenths."""
    return round(value, 6)
