"""Does a rig fit a board: plugs counted, footswitches a shoe's width apart, what is pressed most in front.

Pure: values in, values out. A unit without a size is named and left out, never guessed. That a board does not fit is
proved, for whole mm and the margins that are given.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Action, CueList
from scenebook.errors import BadValueError, ScenebookError, UnknownNameError
from scenebook.model import Library, Unit, find_name
from scenebook.model.base import listed, place_text
from scenebook.planning.leads import PatchLead, links, patch_leads
from scenebook.planning.outlines import Placed, enters, outlines, piece_of, placed_at
from scenebook.planning.packing import EFFORT, Board, Wishes, least_board, packed

__all__ = ["BoardPlan", "Presses", "plan_board", "presses_of", "read_board"]

SMALLEST, LARGEST = 50, 3000  # mm, of a board's side
_BOARD = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(?:mm)?", re.IGNORECASE)
_BY_FOOT = (Action.PRESS, Action.HOLD, Action.FIRE)


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
    leads: tuple[PatchLead, ...]
    off_board: tuple[str, ...]
    no_lead: tuple[str, ...]  # on the board, and no lead of the rig is known
    presses: Presses
    plug_mm: int
    gap_mm: int
    footswitch_mm: int


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
    seconds: float = 5.0,
    effort: float = EFFORT,
) -> BoardPlan:
    """Return whether a rig fits a board, and how, or the least larger board that would do.

    Args:
        library: the rig, its units, and the gigs whose presses count.
        rig: which rig; all that it carries goes on the board.
        board: the room there is.
        gigs: those whose presses count; all of the library unless given.
        beside: units that stand beside the board.
        seconds: how long to look for an answer; four times as long for the least larger board.
        effort: how much to look for a better arrangement, about seconds.

    Raises:
        UnknownNameError: a unit that is to stand beside the board is not in the rig.
        BadValueError: the board is smaller than a unit.
        SceneError: a gig that is named cannot be played on the rig.
    """
    planner = _Planner(library, rig, board, _beside(library, rig, beside), presses_of(library, rig, gigs))
    return planner.plan(seconds, effort)


def presses_of(library: Library, rig: str, gigs: Sequence[str] | None = None) -> Presses:
    """Return how often feet press each unit; of the library's gigs, one that the rig cannot play is told, not counted.

    Raises:
        SceneError: a gig that is named cannot be played on the rig.
    """
    counts: dict[str, int] = {}
    counted, failed = [], []
    for gig in library.gigs if gigs is None else gigs:
        try:
            cues = compile_gig(library, gig, rig)
        except ScenebookError as error:
            if gigs is not None:
                raise
            failed.append(f"gig {gig!r}: {error}")
            continue
        counted.append(gig)
        places = {by: part for part, by in library.gigs[gig].played_by.items()}
        for name, presses in _pressed(library, cues):
            unit = places.get(name, name)  # who plays its part tonight stands in its place
            counts[unit] = counts.get(unit, 0) + presses
    return Presses(counts, tuple(counted), tuple(failed))


def _pressed(library: Library, cues: CueList) -> Iterable[tuple[str, int]]:
    for cue in cues.cues:
        for move in cue.by_hand:
            by_foot = move.action in _BY_FOOT
            if move.action is Action.RECALL and move.unit in library.units:
                programs = library.units[move.unit].programs
                by_foot = programs is not None and programs.foot
            if by_foot:
                yield move.unit, move.presses


def _beside(library: Library, rig: str, names: Sequence[str]) -> tuple[str, ...]:
    carried = library.rigs[rig].carried
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

    def __init__(self, library: Library, rig: str, board: Board, beside: tuple[str, ...], presses: Presses) -> None:
        self._library, self._name, self._board = library, rig, board
        self._rig, self._beside, self._presses = library.rigs[rig], beside, presses
        practice = library.settings.practice
        self._plug, self._gap = round(practice.plug_mm), round(practice.gap_mm)
        self._apart = round(practice.footswitch_mm)
        on_board = {name: library.units[name] for name in self._rig.carried if name not in beside}
        self._no_size = tuple(name for name, unit in on_board.items() if unit.size is None)
        self._units = {name: unit for name, unit in on_board.items() if unit.size is not None}
        self._pieces = [piece_of(unit, plug=self._plug, gap=self._gap) for unit in self._units.values()]
        self._check_each_enters()

    def plan(self, seconds: float, effort: float) -> BoardPlan:
        """Pack, and say what came of it."""
        wishes = self._wishes()
        answer = packed(self._pieces, self._board, apart=self._apart, wishes=wishes, seconds=seconds, effort=effort)
        if answer.spots is None:
            return self._not_fitting(seconds, proved=answer.proved)
        placed = tuple(
            placed_at(number, name, unit, spot, plug=self._plug, presses=self._presses.by_unit.get(name, 0))
            for number, ((name, unit), spot) in enumerate(zip(self._units.items(), answer.spots, strict=True), 1)
        )
        return self._told(True, placed, best=answer.proved)

    def _check_each_enters(self) -> None:
        for name, unit in self._units.items():
            if not enters(unit, self._board):
                outline = outlines(unit)[0]
                raise BadValueError(
                    f"the board, {self._board.width} × {self._board.depth} mm, is smaller than the unit {name!r}, "
                    f"{outline.width} × {outline.depth} mm",
                    where=place_text("rig", self._name),
                    remedy="Give a larger board, or let the unit stand beside it",
                )

    def _not_fitting(self, seconds: float, *, proved: bool) -> BoardPlan:
        if not proved:
            return self._told(None, ())
        larger = least_board(self._pieces, self._board, apart=self._apart, seconds=4 * seconds)
        return self._told(False, (), larger=larger.board if larger.spots else None, is_least=larger.proved)

    def _wishes(self) -> Wishes:
        names = list(self._units)
        counts = [self._presses.by_unit.get(name, 0) for name in names]
        total = sum(counts)
        joined = [link for link in links(self._rig) if link.start in self._units and link.stop in self._units]
        pairs = {link: (names.index(link.start), names.index(link.stop)) for link in joined}
        # Into a loop and out of it again is no way from right to left.
        order = [pair for link, pair in pairs.items() if not {link.start, link.stop} & set(self._rig.loops)]
        front = [count / total if total else 1 / len(names) for count in counts]
        return Wishes(front, order, tuple(dict.fromkeys(pairs.values())))

    def _told(
        self,
        fits: bool | None,
        placed: tuple[Placed, ...],
        *,
        best: bool = False,
        larger: Board | None = None,
        is_least: bool = False,
    ) -> BoardPlan:
        leads, off_board = patch_leads(self._rig, self._units, {each.unit: each for each in placed})
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
            leads=leads,
            off_board=off_board if placed else (),
            no_lead=tuple(name for name in self._units if name not in led),
            presses=self._presses,
            plug_mm=self._plug,
            gap_mm=self._gap,
            footswitch_mm=self._apart,
        )


def _without_jacks(units: dict[str, Unit]) -> tuple[str, ...]:
    return tuple(name for name, unit in units.items() if not unit.jacks)
