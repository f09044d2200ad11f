"""What hands and feet look at after a jump: how things must stand now, and for the cues that come. Pure."""

from collections.abc import Collection, Sequence

from scenebook.cueing.cues import Action, ByHand, Moment
from scenebook.live.places import Place
from scenebook.live.programme import Programme, Step

__all__ = ["after_jump", "is_same_work", "lamps", "otherwise"]


def after_jump(programme: Programme, place: Place, *, again: bool = False) -> tuple[ByHand, ...]:
    """Return what to look at in the cue at `place`, then how things must stand that were set before it for later cues.

    `again`: it was sent again, so what fires once on entry is left out.
    """
    row, number = programme.row(place)
    now = row[number].full.by_hand
    if again:
        now = tuple(move for move in now if move.action is not Action.FIRE)
    now = (*now, *_instrument(row, number))
    named = {(move.unit, move.member) for move in now}
    return (*now, *(move for move in _prepared(row, number) if (move.unit, move.member) not in named))


def lamps(step: Step, toggling: Collection[tuple[str, str]]) -> tuple[ByHand, ...]:
    """Return the switches of a cue that no message can promise, though a message flips them: (unit, member)."""
    return tuple(
        move for move in step.full.by_hand if move.action is Action.CHECK and (move.unit, move.member) in toggling
    )


def is_same_work(before: Step, after: Step) -> bool:
    """Whether hands have the same to do in a cue that was compiled anew, at it and for it."""
    return [_words(before.lean.by_hand), _words(before.full.by_hand)] == [
        _words(after.lean.by_hand),
        _words(after.full.by_hand),
    ]


def otherwise(before: Step, after: Step) -> tuple[ByHand, ...]:
    """Return what stands otherwise by hand in a cue that was compiled anew."""
    known = _words(before.full.by_hand)
    return tuple(
        move for move in after.full.by_hand if move.action is not Action.FIRE and _words((move,))[0] not in known
    )


def _words(moves: Sequence[ByHand]) -> list[tuple[str, ...]]:
    return [(move.action, move.unit, move.member, move.after) for move in moves]


def _instrument(row: Sequence[Step], number: int) -> tuple[ByHand, ...]:
    """Return which instrument is in the player's hands, where an earlier cue of the row asked to change it."""
    here = row[number].lean
    for step in row[number::-1]:
        for move in reversed(step.lean.by_hand):
            if move.action is Action.CHANGE and move.for_cue <= here.number:
                if move.for_cue == here.number:
                    return ()  # the full list says it
                return (ByHand(Action.CHECK, move.unit, move.member, "", move.after, Moment.CUE, here.number, 0, 0),)
    return ()


def _prepared(row: Sequence[Step], number: int) -> list[ByHand]:
    """Return how the members must stand that moves up to this cue bring about for later ones, the nearest cue's.

    Nobody knows how they stand now, so a press or "it was" would be wrong; they are looked at.
    """
    here = row[number].lean.number
    found: dict[tuple[str, str], ByHand] = {}
    for step in row[: number + 1]:
        for move in step.lean.by_hand:
            if move.for_cue > here and move.after and move.action is not Action.CHECK:
                found[move.unit, move.member] = move
    return [
        ByHand(Action.CHECK, move.unit, move.member, "", move.after, Moment.CUE, move.for_cue, 0, 0)
        for move in sorted(found.values(), key=lambda move: move.for_cue)
    ]
