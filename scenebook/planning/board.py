"""Does a rig fit a board: plugs counted, footswitches a shoe's width apart, what is pressed most in front.

Pure: values in, values out. A unit without a size is named and left out, never guessed. That a board does not fit is
proved, for whole mm and the margins that are given. The rig's supply stands on the board like a unit, unless its notes
say that it is under the frame, or whoever asks says so.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.errors import BadValueError, ScenebookError, UnknownNameError
from scenebook.model import Library, Unit, find_name
from scenebook.model.base import listed, place_text
from scenebook.planning.leads import PatchLead, jack_on, links, midi_leads, midi_links, patch_leads, signal_order
from scenebook.planning.outlines import Outline, Placed, end_of, enters, outlines, piece_of, placed_at
from scenebook.planning.packing import EFFORT, Answer, Board, Wishes, least_board, packed
from scenebook.planning.power import power
from scenebook.planning.signal_path import tangled
from scenebook.planning.supply_leads import SupplyAt, SupplyLeads, is_said_under, supply_leads
from scenebook.planning.under_way import UnderWay, Watch
from scenebook.planning.wishes import LENGTH, Near
from scenebook.planning.work import foot_moves

__all__ = ["BoardPlan", "Presses", "plan_board", "presses_of", "read_board"]

SMALLEST, LARGEST = 50, 3000  # mm, of a board's side
_BOARD = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(?:mm)?", re.IGNORECASE)
STEP = 10  # mm, of a larger board that is looked for
PRESSED, UNPRESSED = 0.05, 0.01  # the least share of a unit that is pressed or rocked; that of one that could be
_FEEDING, _BESIDE_IT = 1, 1  # what a mm of a supply lead counts, and a mm between units of which no lead is known


class Presses(NamedTuple):
    """How often feet press each unit in some gigs: which gigs, and why any of them was not counted."""

    by_unit: dict[str, int]
    gigs: tuple[str, ...]
    not_counted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BoardPlan:
    """What came of it; lengths are whole mm, x from the left edge, y from the front edge."""

    rig: str
    board: Board
    fits: bool | None  # nothing where neither was shown in the time
    placed: tuple[Placed, ...]  # in chain order; empty unless it fits
    best: bool  # whether the arrangement is proved the best by what is liked
    no_size: tuple[str, ...]
    no_jacks: tuple[str, ...]  # no room for plugs could be counted
    beside: tuple[str, ...]
    larger: Board | None  # the least board in whole steps that would do, where this one does not
    larger_is_least: bool
    fits_without_supply: bool | None  # where it does not fit with the supply on the board
    leads: tuple[PatchLead, ...]
    off_board: tuple[str, ...]
    no_lead: tuple[str, ...]  # on the board, and no signal lead of the rig is known
    midi_assumed: bool  # the rig notes no MIDI lead, and those that are told are taken for granted
    supply: SupplyLeads  # where the supply is, what splits its outlets, and what it does not feed
    presses: Presses
    plug_mm: int
    gap_mm: int
    footswitch_mm: int
    tangled: tuple[str, ...] = ()  # why the signal's leads cannot be plugged as the rig says
    stopped: bool = False  # whether it was told to stop before all was looked at: this is the best so far


def read_board(text: str) -> Board:
    """Read the size of a board: "600x320", width along the front by depth, in mm.

    Raises:
        BadValueError: it is no size, or no board has it.
    """
    match = _BOARD.fullmatch(text.strip())
    accepted = f"WIDTHxDEPTH in mm, each from {SMALLEST} to {LARGEST}, such as 600x320"
    if match is None:
        raise BadValueError(f"{text!r} is no size of a board", accepted=accepted)
    # Rounded down: a board that is half a mm short of a whole one does not hold what needs the whole one.
    width, depth = (int(float(each)) for each in match.groups())
    if not (SMALLEST <= width <= LARGEST and SMALLEST <= depth <= LARGEST):
        raise BadValueError(f"no board is {text.strip()}", accepted=accepted)
    return Board(width, depth)


def plan_board(
    library: Library,
    rig: str,
    board: Board,
    *,
    gigs: Sequence[str] | None = None,
    beside: Sequence[str] = (),
    supply_at: SupplyAt | None = None,
    seconds: float = 5.0,
    effort: float = EFFORT,
    watch: Watch | None = None,
) -> BoardPlan:
    """Return whether a rig fits a board, and how, or the least larger board that would do.

    Args:
        library: the rig, its units, and the gigs whose presses count.
        rig: which rig; all that it carries goes on the board, its supply too.
        board: the room there is.
        gigs: those whose presses count; all of the library unless given.
        beside: units that stand beside the board.
        supply_at: where the supply is; unless given under the frame if its notes say so, else on the board.
        seconds: how long to look for an answer; four times as long for the least larger board.
        effort: how much to look for a better arrangement, about seconds.
        watch: told of progress; where it says to stop, the best so far is returned, and nothing placed before there is
            any arrangement.

    Raises:
        UnknownNameError: a unit that is to stand beside the board is not in the rig.
        BadValueError: the board is smaller than a unit; the error says which least board would do. Or no size is known.
        SceneError: a gig that is named cannot be played on the rig.
    """
    named, way = _beside(library, rig, beside), UnderWay(watch)
    presses = presses_of(library, rig, gigs, goes_on=way.goes_on)
    return _Planner(library, rig, board, named, presses, supply_at, way).plan(seconds, effort)


def presses_of(
    library: Library, rig: str, gigs: Sequence[str] | None = None, *, goes_on: Callable[[], bool] = lambda: True
) -> Presses:
    """Return how often feet press each unit; of the library's gigs, one that the rig cannot play is told, not counted.

    Where `goes_on` says no, those of the gigs so far.

    Raises:
        SceneError: a gig that is named cannot be played on the rig.
    """
    counts: dict[str, int] = {}
    counted, failed = [], []
    for gig in library.gigs if gigs is None else gigs:
        if not goes_on():
            break
        try:
            cues = compile_gig(library, gig, rig)
        except ScenebookError as error:
            if gigs is not None:
                raise
            failed.append(f"gig {gig!r}: {error}")
            continue
        counted.append(gig)
        places = {by: part for part, by in library.gigs[gig].played_by.items()}
        for move in foot_moves((move for cue in cues.cues for move in cue.by_hand), library.units):
            unit = places.get(move.unit, move.unit)  # who plays its part tonight stands in its place
            counts[unit] = counts.get(unit, 0) + move.presses
    return Presses(counts, tuple(counted), tuple(failed))


def _beside(library: Library, rig: str, names: Sequence[str]) -> tuple[str, ...]:
    of_rig = library.rigs[rig]
    carried = tuple(dict.fromkeys([*of_rig.carried, *([of_rig.supply] if of_rig.supply else [])]))
    found = []
    for name in names:
        try:
            found.append(find_name(name, carried, "unit of the rig"))
        except UnknownNameError as error:
            remedy = error.remedy or "Only what the rig carries can stand beside its board"
            raise UnknownNameError(
                error.found, where=place_text("rig", rig), accepted=listed(carried), remedy=remedy
            ) from None
    return tuple(dict.fromkeys(found))


class _Planner:
    """One rig on one board."""

    def __init__(
        self,
        library: Library,
        rig: str,
        board: Board,
        beside: tuple[str, ...],
        presses: Presses,
        supply_at: SupplyAt | None,
        way: UnderWay,
    ) -> None:
        self._library, self._name, self._board, self._way = library, rig, board, way
        self._rig, self._beside, self._presses = library.rigs[rig], beside, presses
        practice = library.settings.practice
        self._plug, self._gap = round(practice.plug_mm), round(practice.gap_mm)
        self._apart = round(practice.footswitch_mm)
        self._supply_at = self._where(supply_at)
        on_board = {name: library.units[name] for name in self._named_on_board()}
        self._no_size = tuple(name for name, unit in on_board.items() if unit.size is None)
        self._units = {name: unit for name, unit in on_board.items() if unit.size is not None}
        self._numbers = {name: number for number, name in enumerate(self._units)}
        self._pieces = [piece_of(unit, plug=self._plug, gap=self._gap) for unit in self._units.values()]
        self._power = power(library, rig)

    def plan(self, seconds: float, effort: float) -> BoardPlan:
        """Pack, and say what came of it."""
        self._check_any_size()
        self._check_each_enters(seconds)
        answer = packed(
            self._pieces,
            self._board,
            apart=self._apart,
            wishes=self._wishes(),
            seconds=seconds,
            effort=effort,
            way=self._way,
        )
        if answer.spots is None:
            return self._not_fitting(seconds, proved=answer.proved)
        placed = tuple(
            placed_at(number, name, unit, spot, plug=self._plug, presses=self._presses.by_unit.get(name, 0))
            for number, ((name, unit), spot) in enumerate(zip(self._units.items(), answer.spots, strict=True), 1)
        )
        return self._told(True, placed, best=answer.proved)

    def _where(self, asked: SupplyAt | None) -> SupplyAt | None:
        name = self._rig.supply
        if name is None:
            return None
        if name in self._beside:
            return SupplyAt.BESIDE
        said = SupplyAt.UNDER if is_said_under(self._library.units[name]) else SupplyAt.BOARD
        return asked or said

    def _named_on_board(self) -> list[str]:
        """Return what goes on the board: what the chain carries, and the supply last."""
        supply = self._rig.supply
        names = [name for name in self._rig.carried if name not in self._beside and name != supply]
        return [*names, supply] if supply and self._supply_at is SupplyAt.BOARD else names

    def _check_any_size(self) -> None:
        """Refuse a rig of which no size is known: that it fits would be true, and worth nothing."""
        if self._no_size and not self._units:
            raise BadValueError(
                f"of no unit that goes on the board is the size known: {', '.join(self._no_size)}",
                where=place_text("rig", self._name),
                remedy="Note what you measure: a line such as size: {width: 70, depth: 120} in each unit's file "
                "(scenebook library export, then import)",
            )

    def _check_each_enters(self, seconds: float) -> None:
        large = [(name, outlines(unit)[0]) for name, unit in self._units.items() if not enters(unit, self._board)]
        if not large:
            return
        each = ", ".join(f"{name!r}, {outline.width} × {outline.depth} mm" for name, outline in large)
        found = self._larger(seconds)
        if found.spots:
            far = "so far" if self._way.stopped else "in the time"
            least = "the least that holds all of the rig" if found.proved else f"the least found {far}"
            remedy = (
                f"{found.board.width} × {found.board.depth} mm would do: {least}, plugs counted, each side larger than "
                f"this by whole steps of {STEP} mm. Or let a unit stand beside the board (--beside)"
            )
        else:
            remedy = "Give a larger board, or let the unit stand beside it (--beside)"
        raise BadValueError(
            f"the board, {self._board.width} × {self._board.depth} mm, is smaller than the unit"
            f"{'s' * (len(large) > 1)} {each}",
            where=place_text("rig", self._name),
            remedy=remedy,
        )

    def _larger(self, seconds: float) -> Answer:
        return least_board(self._pieces, self._board, step=STEP, apart=self._apart, seconds=4 * seconds, way=self._way)

    def _not_fitting(self, seconds: float, *, proved: bool) -> BoardPlan:
        larger = self._larger(seconds)
        found = larger.board if larger.spots else None
        without = None
        if self._supply_at is SupplyAt.BOARD and self._pieces:
            rest = packed(self._pieces[:-1], self._board, apart=self._apart, seconds=seconds, way=self._way)
            without = rest.spots is not None if rest.proved else None
        return self._told(
            False if proved else None, (), larger=found, is_least=larger.proved, fits_without_supply=without
        )

    def _wishes(self) -> Wishes:
        counts = [self._presses.by_unit.get(name, 0) for name in self._units]
        total = sum(counts)
        front = [_drawn(unit, count, total) for unit, count in zip(self._units.values(), counts, strict=True)]
        order = [(self._numbers[one], self._numbers[other]) for one, other in signal_order(self._rig, self._units)]
        pressed = frozenset(at for at, count in enumerate(counts) if count)
        return Wishes(front, order, tuple(self._leads_wished()), pressed)

    def _leads_wished(self) -> Iterable[Near]:
        """Yield each lead of which both ends are on the board; a unit without any is liked near the one before it."""
        joined = set()
        for start, start_jack, stop, stop_jack in (*links(self._rig), *midi_links(self._rig)):
            if start in self._units and stop in self._units:
                joined |= {start, stop}
                yield self._near(start, start_jack, stop, stop_jack, LENGTH)
        yield from self._across_gaps()
        if self._rig.supply in self._units:
            for load in self._power.loads:
                for name in (each for each in load.units if each in self._units):
                    joined |= {name, self._rig.supply}
                    yield self._near(self._rig.supply, f"outlet {load.outlet.name}", name, "DC in", _FEEDING)
        names = list(self._units)
        for at, name in enumerate(names):
            if name not in joined and len(names) > 1:
                yield self._near(name, "in", names[at - 1 if at else 1], "out", _BESIDE_IT)

    def _across_gaps(self) -> Iterable[Near]:
        """Yield those that come together along the chain where what is between them stands beside the board."""
        leads = {(link.start, link.stop) for link in links(self._rig)}
        for one, other in signal_order(self._rig, self._units) if self._beside else ():
            if (one, other) not in leads:
                yield self._near(one, "out", other, "in", LENGTH)

    def _near(self, one: str, one_jack: str, other: str, other_jack: str, weight: int) -> Near:
        ends = []
        for name, jack in ((one, one_jack), (other, other_jack)):
            unit = self._units[name]

            def on(outline: Outline, unit: Unit = unit, jack: str = jack) -> tuple[int, int]:
                return jack_on(outline, unit, jack)

            ends.append(end_of(self._numbers[name], unit, on, plug=self._plug))
        return Near(ends[0], ends[1], weight)

    def _told(
        self,
        fits: bool | None,
        placed: tuple[Placed, ...],
        *,
        best: bool = False,
        larger: Board | None = None,
        is_least: bool = False,
        fits_without_supply: bool | None = None,
    ) -> BoardPlan:
        at = {each.unit: each for each in placed}
        patch, off_board = patch_leads(self._rig, self._units, at)
        feed = supply_leads(self._power, self._units, at, self._board, self._supply_at)
        led = {end for lead in links(self._rig) for end in (lead.start, lead.stop)}
        return BoardPlan(
            rig=self._name,
            board=self._board,
            fits=fits,
            placed=placed,
            best=best,
            no_size=self._no_size,
            no_jacks=_without_jacks(self._units),
            beside=self._beside,
            larger=larger,
            larger_is_least=is_least,
            fits_without_supply=fits_without_supply,
            leads=(*patch, *feed.leads),
            off_board=(*off_board, *feed.off_board) if placed else (),
            no_lead=tuple(name for name in self._units if name not in led and name != self._rig.supply),
            tangled=tangled(self._rig),
            midi_assumed=not self._rig.leads and any(True for _ in midi_leads(self._rig)),
            supply=feed,
            presses=self._presses,
            plug_mm=self._plug,
            gap_mm=self._gap,
            footswitch_mm=self._apart,
            stopped=self._way.stopped and not best,
        )


def _drawn(unit: Unit, presses: int, total: int) -> float:
    """Return the share with which a unit is drawn to the front; a foot on a pedal is no press, but it needs it near."""
    if presses:
        return max(presses / total, PRESSED)
    if any(control.pedal for control in unit.controls.values()):
        return PRESSED
    return UNPRESSED if outlines(unit)[0].feet else 0.0


def _without_jacks(units: dict[str, Unit]) -> tuple[str, ...]:
    return tuple(name for name, unit in units.items() if not unit.jacks)
