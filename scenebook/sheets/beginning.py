"""When to begin with what falls on a cue and takes more than one press: in so many of the free bars before it."""

import math

from scenebook.cueing.cues import Action, ByHand, Cue, Moment
from scenebook.model import Library, SetEntry
from scenebook.model.songs import bar_ms
from scenebook.sheets.words import BEGIN

__all__ = ["moments_of"]

_NOT_BEGUN = (Action.HOLD, Action.FIRE, Action.CHECK)  # held and fired things fall on the cue itself


def moments_of(
    library: Library, cue: Cue, before: Cue | None, entry: SetEntry, after: SetEntry | None
) -> dict[Moment, str]:
    """Return the moments of a cue that are said in other words than usual: when to begin, where there is time for it.

    `after` is the entry of the song before where that runs straight into this one. The time is that of rule C10: one
    press fits on the beat, the rest needs the free bars at the end of the part before.
    """
    inside = before is not None and cue.entry == before.entry and cue.song == before.song and before.form is not None
    played = entry if inside else after
    if before is None or played is None or not before.free or cue.late:
        return {}
    song = library.songs[played.song]
    bar = bar_ms(played.tempo if played.tempo is not None else song.tempo, song.metre)
    needed_us = _beyond_one_press([move for move in cue.by_hand if move.moment is Moment.CUE])
    if bar is None or needed_us <= 0:
        return {}
    bars = min(math.ceil(needed_us / (bar * 1000)), before.free)
    return {Moment.CUE: BEGIN.format(bars="bar" if bars == 1 else f"{bars:g} bars")}


def _beyond_one_press(moves: list[ByHand]) -> int:
    """Return how long moves take beyond the one press that fits on the beat, in microseconds."""
    own = [move for move in moves if move.action not in _NOT_BEGUN]
    presses = [move.us for move in own if move.action is Action.PRESS or _is_one_press(move)]
    return sum(move.us for move in own) - (presses[0] if presses else 0)


def _is_one_press(move: ByHand) -> bool:
    return move.action is Action.RECALL and move.presses == 1
