"""A planned board in words: the verdict, the parts list, the cut list, and what to know of them; and as JSON."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from scenebook.planning.board import BoardPlan
from scenebook.planning.leads import SLACK_MM, End
from scenebook.planning.outlines import FOOTSWITCH_INSET, Placed
from scenebook.planning.power import CAUTIONS
from scenebook.planning.supply_leads import UNDER_MM, SupplyAt, split_words

__all__ = ["CUT_HEAD", "MIDI_ASSUMED", "PARTS_HEAD", "board_json", "cut_rows", "cut_total", "parts_rows", "remarks"]
__all__ += ["STOPPED", "turned_words", "verdict"]

STOPPED = "Stopped early: the arrangement is the best so far, and a better one may be left."

MIDI_ASSUMED = (
    "MIDI leads are not noted in the rig, so taken for granted: from each port to the first unit along the chain that "
    "hears it, then from thru to the next. Where a unit has no thru, note yours as lines leads of the rig's file."
)
PARTS_HEAD = ("no.", "unit", "width × depth", "from left", "from front", "stands", "jacks face", "presses")
CUT_HEAD = ("lead", "from", "to", "way", "cut")


def verdict(plan: BoardPlan) -> str:
    """Return in one sentence whether the rig fits."""
    size = f"{plan.board.width} × {plan.board.depth} mm"
    if plan.fits is None:
        when = "until it was stopped" if plan.stopped else "in the time given"
        known = f"Not known: {when} {plan.rig!r} was neither fitted on {size} nor proved not to fit."
        return " ".join([known, _larger(plan)])
    if plan.fits:
        arranged = "proved the best by what is liked" if plan.best else f"the best {_found(plan)}"
        if plan.no_size:
            left = f"{', '.join(plan.no_size)}: size not known, so not counted"
            return f"What is known of {plan.rig!r} fits on {size} ({left}); the arrangement is {arranged}."
        return f"{plan.rig!r} fits on {size}; the arrangement is {arranged}."
    without = "With its supply under the frame or beside the board it would fit." if plan.fits_without_supply else ""
    return " ".join(filter(None, [f"{plan.rig!r} does not fit on {size}: proved.", _larger(plan), without]))


def _found(plan: BoardPlan) -> str:
    return "so far" if plan.stopped else "found in the time"


def _larger(plan: BoardPlan) -> str:
    if plan.larger is None:
        return (
            "Stopped early: no larger board is found yet." if plan.stopped else "No larger board was found in the time."
        )
    least = "proved the least" if plan.larger_is_least else f"the least {_found(plan)}"
    more = [
        f"{add} mm {what}"
        for add, what in (
            (plan.larger.width - plan.board.width, "wider"),
            (plan.larger.depth - plan.board.depth, "deeper"),
        )
        if add
    ]
    how = f" ({' and '.join(more)})" if more else ""
    smaller = " Stopped early: a smaller one may do." if plan.stopped and not plan.larger_is_least else ""
    return f"{plan.larger.width} × {plan.larger.depth} mm would do{how}, {least} in steps of 10 mm.{smaller}"


def parts_rows(plan: BoardPlan) -> list[tuple[str, ...]]:
    """Return the parts list, a row for each unit, under PARTS_HEAD; lengths in mm."""
    return [
        (
            str(each.number),
            each.unit,
            f"{each.outline.width} × {each.outline.depth}",
            str(each.x),
            str(each.y),
            turned_words(each),
            ", ".join(side for side in ("left", "front", "right", "top") if side in each.outline.jacks) or "not known",
            str(each.presses),
        )
        for each in plan.placed
    ]


def turned_words(placed: Placed) -> str:
    """Return how a unit stands."""
    return {0: "straight", 90: "turned right", 270: "turned left"}[placed.outline.turned]


def cut_rows(plan: BoardPlan) -> list[tuple[str, ...]]:
    """Return the cut list, a row for each lead, under CUT_HEAD."""
    numbers = {each.unit: each.number for each in plan.placed}
    return [
        (
            lead.kind,
            _end_words(lead.start, numbers),
            ", ".join(filter(None, [_end_words(lead.stop, numbers), lead.note])),
            f"{lead.way_mm} mm",
            f"{lead.cut_mm // 10} cm",
        )
        for lead in plan.leads
    ]


def _end_words(end: End, numbers: dict[str, int]) -> str:
    side = f" ({end.side})" if end.side else ""
    number = f"{numbers[end.unit]} " if end.unit in numbers else ""
    return f"{number}{end.unit}: {end.jack}{side}"


def cut_total(plan: BoardPlan) -> str:
    """Return how many leads of each length are to be cut: "signal: 2 × 25 cm, 1 × 40 cm"."""
    said = []
    for kind in dict.fromkeys(lead.kind for lead in plan.leads):
        counts = Counter(lead.cut_mm // 10 for lead in plan.leads if lead.kind == kind)
        said.append(f"{kind}: " + ", ".join(f"{count} × {length} cm" for length, count in sorted(counts.items())))
    if plan.leads and plan.supply.splits:
        said.append("of these joined as splitting leads: " + ", ".join(map(split_words, plan.supply.splits)))
    return "; ".join(said)


def remarks(plan: BoardPlan) -> list[str]:
    """Return what else there is to know: who is missing and why, what is taken for granted."""
    said = [
        STOPPED if plan.stopped and plan.placed else "",
        *(f"{each} Until then no lead is cut for a jack that two would have to go into." for each in plan.tangled),
        _named("Size not known, so not on the board and not counted", plan.no_size),
        _named("Jacks not known, so no room for plugs is counted", plan.no_jacks),
        _named("Beside the board", plan.beside),
        _named("On the board, but no signal lead of the rig is known", plan.no_lead),
        _named("Leads that leave the board, not cut here", plan.off_board),
        MIDI_ASSUMED if plan.midi_assumed and plan.placed else "",
        *_supply(plan),
        *(f"Presses not counted: {each}" for each in plan.presses.not_counted),
    ]
    if plan.placed:
        gigs = ", ".join(plan.presses.gigs) or "no gig"
        said.append(f"Presses are those of {gigs}; what is pressed most is liked in front, a pedal that is rocked too.")
    return [each for each in said if each] + _practice(plan)


def _supply(plan: BoardPlan) -> list[str]:
    """Return where the supply is taken to be, how its outlets are split, and which unit has no lead from it."""
    feed = plan.supply
    where = {
        SupplyAt.BOARD: f"{feed.supply!r} stands on the board: its notes do not say that it is under the frame",
        SupplyAt.UNDER: f"{feed.supply!r} is under the frame and takes no room on it; taken to be under its middle",
        SupplyAt.BESIDE: f"{feed.supply!r} is beside the board",
        None: "The rig names none, so none is on the board and no supply lead is cut",
    }
    splitting = [
        f"{split_words(each)} (a daisy chain or a Y; rig power says whether all may share)" for each in feed.splits
    ]
    return [
        f"Supply: {where[feed.at]}.",
        _named("Splitting leads", splitting),
        _named("No supply lead is cut", feed.not_fed),
    ]


def _practice(plan: BoardPlan) -> list[str]:
    said = (
        f"Common practice, no source: {plan.plug_mm} mm for a plug on each side with a jack, {plan.gap_mm} mm between "
        f"units, footswitch centres of two units at least {plan.footswitch_mm} mm apart and {FOOTSWITCH_INSET} mm from "
        "the front edge of their unit, evenly spaced along it, since no library says where they are; a unit is turned "
        "only where no jack then faces the front, one that feet press only where it does not fit otherwise, "
        "and a pedal never."
    )
    if not plan.leads:
        return [said]
    fed = [CAUTIONS[0]] if any(lead.kind in ("DC", "AC") for lead in plan.leads) else []
    cut = (
        f"A lead's way is counted along the board's edges from jack to jack, plus {SLACK_MM} mm, rounded up to 5 cm. "
        "Inputs are taken on the right and outputs on the left, in the middle of the unit's own side, however it is "
        "turned; supply leads at the back where a unit has a jack there; from under the frame up "
        f"{UNDER_MM} mm more: look at each unit first. Each leg of a splitting lead is counted from its outlet."
    )
    return [said, cut, *fed]


def _named(what: str, names: Sequence[str]) -> str:
    return f"{what}: {'; '.join(names)}." if names else ""


def board_json(plan: BoardPlan) -> dict[str, Any]:
    """Return a planned board as JSON; lengths in mm, x from the left edge, y from the front edge."""
    larger = plan.larger and {"width": plan.larger.width, "depth": plan.larger.depth, "least": plan.larger_is_least}
    return {
        "rig": plan.rig,
        "board": {"width": plan.board.width, "depth": plan.board.depth},
        "fits": plan.fits,
        "best": plan.best,
        "stopped": plan.stopped,
        "larger": larger,
        "fits_without_supply": plan.fits_without_supply,
        "units": [_placed_json(each) for each in plan.placed],
        "leads": [
            {
                "kind": lead.kind,
                "from": lead.start._asdict(),
                "to": lead.stop._asdict(),
                "way": lead.way_mm,
                "cut": lead.cut_mm,
                "note": lead.note,
            }
            for lead in plan.leads
        ],
        "off_board": list(plan.off_board),
        "cannot_be_wired": list(plan.tangled),
        "midi_leads_assumed": plan.midi_assumed,
        "no_size": list(plan.no_size),
        "no_jacks": list(plan.no_jacks),
        "no_lead": list(plan.no_lead),
        "beside": list(plan.beside),
        "supply": {
            "unit": plan.supply.supply,
            "at": plan.supply.at,
            "splitting_leads": [{"outlet": each.outlet, "units": list(each.units)} for each in plan.supply.splits],
            "not_fed": list(plan.supply.not_fed),
        },
        "gigs": list(plan.presses.gigs),
        "not_counted": list(plan.presses.not_counted),
        "practice": {"plug": plan.plug_mm, "gap": plan.gap_mm, "footswitch": plan.footswitch_mm},
    }


def _placed_json(each: Placed) -> dict[str, Any]:
    return {
        "number": each.number,
        "unit": each.unit,
        "x": each.x,
        "y": each.y,
        "width": each.outline.width,
        "depth": each.outline.depth,
        "turned": each.outline.turned,
        "jacks": sorted(each.outline.jacks),
        "footswitches": [list(point) for point in each.footswitches],
        "presses": each.presses,
    }
