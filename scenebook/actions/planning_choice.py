"""The best rig within limits, and reach against one limit, asked of a library; a new rig is stored at the end."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from scenebook.actions.files import write_file
from scenebook.actions.making import check_is_new
from scenebook.errors import BadValueError, OutputError
from scenebook.model.amounts import counted, number_words
from scenebook.planning.choice import Progress
from scenebook.planning.curve import Curve, reach_curve
from scenebook.planning.limits import limit_on, read_limits
from scenebook.planning.packing_list import Item, travelling
from scenebook.planning.picking import NEW, Chosen, Gain, Question, best_rig, gains, question
from scenebook.planning.power import Power, other_supplies
from scenebook.planning.supplying import supply_for
from scenebook.storage import open_library

__all__ = ["CURVE_ENDINGS", "Choosing", "Wanted", "check_curve_file", "choose_rig", "rig_curve", "write_curve"]

Watch = Callable[[Progress], bool]
CURVE_ENDINGS = (".png", ".svg")
LONGEST_S = 24 * 3600
POINTS = range(2, 61)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a player wants of a rig: names may be shortened, limits are texts such as "weight=9kg"."""

    gigs: Sequence[str] = ()
    limits: Sequence[str] = ()
    must: Sequence[str] = ()
    never: Sequence[str] = ()
    mean: bool = False
    seconds: float = 60.0
    by_hand: bool = False  # no computer or sender: no unit hears MIDI


class Choosing(NamedTuple):
    """The best rig, what one more step of each limit would give, and how the owned supply feeds it that goes with it.

    `fed` is None where the library has no owned supply; where it leaves units unfed, `others` are supplies of the
    library that would feed all, the lightest first. `carried` is all that travels with it, supply and leads too, where
    weight is limited.
    """

    chosen: Chosen
    gains: tuple[Gain, ...]
    fed: Power | None
    carried: tuple[Item, ...] = ()
    others: tuple[str, ...] = ()
    stopped: bool = False  # somebody ended the work before all was looked at


def choose_rig(path: Path, wanted: Wanted, *, name: str | None = None, watch: Watch | None = None) -> Choosing:
    """Return the best rig and what one more step of each limit would give; with a `name` the rig is stored under it.

    A stored rig gets the owned supply that feeds most of it, the lightest of those, so that packing counts it.
    `watch` is told of progress and says whether to go on; where it says no, the best so far is returned and stored.

    Raises:
        BadValueError: a limit cannot be read or kept, a time makes no sense, or there is a rig of that name.
        UnknownNameError: no gig or unit of a name.
    """
    _check_seconds(wanted.seconds)
    if name is not None:
        with open_library(path, read_only=True) as store:
            check_is_new(store, "rig", name)
    stopped, told = _stoppable(watch)
    asked = _question(path, wanted)
    chosen = best_rig(asked, seconds=wanted.seconds, watch=told)
    gained = () if stopped else tuple(gains(asked, chosen, seconds=wanted.seconds, watch=told))
    fed = supply_for(asked.library, chosen.rig)
    chosen = replace(chosen, rig=chosen.rig.model_copy(update={"supply": fed.supply if fed else None}))
    if name is not None:
        with open_library(path) as store, store.change(f"rig choose {name.strip()}") as change:
            check_is_new(store, "rig", name)
            change.put_rig(name.strip(), chosen.rig)
    return Choosing(chosen, gained, fed, _carried(asked, chosen), _others(asked, chosen, fed), stopped=bool(stopped))


def _others(asked: Question, chosen: Chosen, fed: Power | None) -> tuple[str, ...]:
    """Return the supplies of the library that would feed a rig, where the one that is owned does not."""
    if fed is None or fed.feeds_all:
        return ()
    there = asked.library.model_copy(update={"rigs": {**asked.library.rigs, NEW: chosen.rig}})
    return other_supplies(there, NEW, fed.supply)


def _carried(asked: Question, chosen: Chosen) -> tuple[Item, ...]:
    """Return all that travels with a rig, where its weight is limited: a limit counts the units alone."""
    if not any(limit.name == "weight" for limit in asked.limits):
        return ()
    rigs = {**asked.library.rigs, NEW: chosen.rig}
    return travelling(asked.library.model_copy(update={"rigs": rigs}), NEW)


def rig_curve(
    path: Path, wanted: Wanted, *, against: str = "weight", points: int = 10, watch: Watch | None = None
) -> Curve:
    """Return the steps at which the best rig reaches more as one limit rises, up to where more of it gives nothing.

    Where `watch` says to stop, what was found is returned.

    Raises:
        BadValueError: an unknown property, a limit that cannot be read or kept, a number without sense.
        UnknownNameError: no gig or unit of a name.
    """
    _check_seconds(wanted.seconds)
    if points not in POINTS:
        raise BadValueError(
            f"{counted(points, 'point')} {'is' if points == 1 else 'are'} no curve",
            accepted=f"{POINTS[0]} to {POINTS[-1]}",
        )
    asked = _question(path, wanted)
    limit = limit_on(against.strip().casefold(), asked.library.units)
    return reach_curve(asked, limit, points=points, seconds=wanted.seconds, watch=watch)


def check_curve_file(out: Path) -> Path:
    """Return the file that a plot is to go to, before any work is done for it.

    Raises:
        OutputError: its ending is neither .png nor .svg.
    """
    if out.suffix.lower() not in CURVE_ENDINGS:
        found = f"no plot can be written as {out.suffix or 'a file without an ending'}"
        raise OutputError(found, where=str(out), accepted=", ".join(CURVE_ENDINGS))
    return out


def write_curve(curve: Curve, out: Path) -> Path:
    """Write the plot of a curve as PNG or SVG by the ending of the file, and return its path.

    Raises:
        OutputError: another ending, or the file cannot be written.
    """
    from scenebook.sheets.curve import curve_png, curve_svg

    draw = curve_svg if check_curve_file(out).suffix.lower() == ".svg" else curve_png
    return write_file(out, draw(curve))


def _stoppable(watch: Watch | None) -> tuple[list[bool], Watch]:
    """Return a list that is not empty once `watch` has said to stop, and what to tell of progress."""
    stopped: list[bool] = []

    def told(far: Progress) -> bool:
        if not stopped and watch is not None and not watch(far):
            stopped.append(True)
        return not stopped

    return stopped, told


def _question(path: Path, wanted: Wanted) -> Question:
    with open_library(path, read_only=True) as store:
        gigs = list(dict.fromkeys(store.find("gig", gig) for gig in wanted.gigs))
        must = [store.find("unit", unit) for unit in wanted.must]
        never = [store.find("unit", unit) for unit in wanted.never]
        library = store.library()
    limits = read_limits(wanted.limits, library.units)
    return question(
        library, gigs or None, limits=limits, must=must, never=never, mean=wanted.mean, by_hand=wanted.by_hand
    )


def _check_seconds(seconds: float) -> None:
    if not 0 < seconds <= LONGEST_S:
        raise BadValueError(
            f"{seconds:g} s is no time to look", accepted=f"more than 0 s, up to {number_words(LONGEST_S)} s"
        )
