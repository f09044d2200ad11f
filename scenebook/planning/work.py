"""What hands and feet do between neighbouring songs of a gig, in the order in which it is played; the worst first."""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from scenebook.cueing.compile import Compiler, compile_gig
from scenebook.cueing.cues import Action, ByHand, Cue, Moment
from scenebook.cueing.points import Point, gig_points
from scenebook.model import Gig, Library, Unit

__all__ = ["BetweenSongs", "Count", "Work", "foot_moves", "foot_presses", "gig_work", "pressed"]

_BY_FOOT = (Action.PRESS, Action.FIRE, Action.HOLD)


class Count(NamedTuple):
    """Presses of a foot at a gig or at several: inside songs, and between them."""

    inside: int
    between: int


class BetweenSongs(NamedTuple):
    """What is done by hand between two neighbouring songs: in the gap, or at the next one's first cue.

    `time_us` is the time before that cue: infinite, a length, or None where nobody knows. `entry` counts the songs of
    all sets from 0 and is that of the song which follows; `cue` is its first.
    """

    before: str
    after: str
    entry: int
    cue: int
    moves: tuple[ByHand, ...]
    time_us: float | None
    late: str  # as the cue says it, "" in time
    presses: int  # how often a foot presses

    @property
    def us(self) -> int:
        """How long the moves take together, in microseconds."""
        return sum(move.us for move in self.moves)

    @property
    def on_the_beat(self) -> int:
        """The microseconds of it that fall on the beat itself, so that they make nothing late: one press (C10)."""
        return next((move.us for move in self.moves if move.us and _may_fall_on_the_beat(move)), 0)


@dataclass(frozen=True)
class Work:
    """The work between all neighbouring songs of a gig; `changes` stand worst first."""

    gig: str
    rig: str
    changes: tuple[BetweenSongs, ...]

    @cached_property
    def us(self) -> int:
        """All of it, in microseconds."""
        return sum(change.us for change in self.changes)


def gig_work(library: Library, gig: str, rig: str | None = None) -> Work:
    """Return the work by hand between neighbouring songs in the gig's order, from its compiled cues.

    The worst come first: what is late, then what takes longest, then in order.

    Raises:
        ScenebookError: the gig cannot be compiled on the rig.
    """
    cues = compile_gig(library, gig, rig)
    points = gig_points(library, library.gigs[gig])
    songs = [entry.song for entry in library.gigs[gig].entries]
    changes = [
        _between(songs[point.entry - 1], point, cue, library.units)
        for point, cue in zip(points, cues.cues[1:], strict=True)
        if point.form == 0 and point.entry > 0
    ]
    return Work(gig, cues.rig, tuple(sorted(changes, key=lambda each: (-_missing(each), -each.us, each.entry))))


def pressed(library: Library, gig: Gig, rig: str) -> Count:
    """Return how often a foot presses at a gig on a rig; what is pressed where a song begins is between songs.

    Raises:
        ScenebookError: a scene cannot be set on the rig.
    """
    points = gig_points(library, gig)
    cues = Compiler(library, gig, rig).cues(points, full=False)
    inside = between = 0
    for point, cue in zip(points, cues[1:], strict=True):
        presses = foot_presses(cue.by_hand, library.units)
        inside, between = (inside, between + presses) if point.afresh else (inside + presses, between)
    return Count(inside, between)


def foot_moves(moves: Iterable[ByHand], units: Mapping[str, Unit]) -> Iterator[ByHand]:
    """Yield what a foot does: switches, triggers, what is held, and recalls of units whose programs a foot works.

    Where hands recall a unit's presets (its programs say so), no foot presses for that.
    """
    return (move for move in moves if move.action in _BY_FOOT or _is_recall_by_foot(move, units))


def foot_presses(moves: Iterable[ByHand], units: Mapping[str, Unit]) -> int:
    """Return how often a foot presses for some moves."""
    return sum(move.presses for move in foot_moves(moves, units))


def _is_recall_by_foot(move: ByHand, units: Mapping[str, Unit]) -> bool:
    if move.action is not Action.RECALL or move.unit not in units:
        return False
    programs = units[move.unit].programs
    return programs is not None and programs.foot


def _may_fall_on_the_beat(move: ByHand) -> bool:
    """Whether a move is one press that is made at the cue, and not a hold or a walk of several."""
    is_press = move.action in (Action.PRESS, Action.FIRE) or (move.action is Action.RECALL and move.presses == 1)
    return is_press and move.moment is Moment.CUE


def _between(before: str, point: Point, cue: Cue, units: Mapping[str, Unit]) -> BetweenSongs:
    moves = tuple(move for move in cue.by_hand if move.action is not Action.CHECK)
    presses = foot_presses(moves, units)
    return BetweenSongs(before, point.song_name, point.entry, cue.number, moves, point.time_us, cue.late, presses)


def _missing(change: BetweenSongs) -> float:
    """Return the microseconds that lack; where the time is not known, too little to come before what is known."""
    if not change.late:
        return 0.0
    return max(1.0, change.us - change.time_us) if change.time_us is not None and change.time_us < math.inf else 1.0
