"""Where songs' slots go in a unit: a song starts a bank, and slots that are taken stay as they are.

Pure arithmetic on slot numbers from 0. A unit that counts without banks has one long bank.
"""

from collections.abc import Iterator, Sequence
from enum import StrEnum

from scenebook.model import Programs

__all__ = ["Thrift", "banks_of", "placed"]


class Thrift(StrEnum):
    """How slots are spent, from the freest to the most sparing."""

    BANKS = "each song starts a bank"
    PACKED = "songs share banks, and none changes bank inside"
    SHARED = "songs share banks, and those with the same sounds share slots"
    FEWEST = "the same sound is stored once"


def placed(
    sizes: Sequence[int], programs: Programs, taken: frozenset[int], thrift: Thrift
) -> list[tuple[int, ...] | None]:
    """Return the slots of each song (or sound), in order; None for one that finds no room.

    Later songs have later slots; only where slots are shared the first room is taken, and what a bank cannot hold of a
    song goes where there is room.
    """
    used, start = set(taken), 0
    found: list[tuple[int, ...] | None] = []
    back = thrift in (Thrift.SHARED, Thrift.FEWEST)
    for size in sizes:
        slots: tuple[int, ...] = ()
        for piece in _pieces(size, programs.bank_of) if back else [size]:
            room = next(_rooms(piece, programs, used, 0 if back else start, thrift), None)
            if room is None:
                used.difference_update(slots)
                found.append(None)
                break
            used.update(room)
            slots += room
        else:
            start = slots[-1] + 1 if slots else start
            found.append(slots)
    return found


def banks_of(slots: Sequence[int], programs: Programs) -> set[int]:
    """Return the banks that slots are in; a unit without banks has one."""
    return {slot // programs.bank_of if programs.bank_of else 0 for slot in slots}


def _pieces(size: int, bank: int | None) -> list[int]:
    """Return a size as full banks and a rest."""
    if bank is None:
        return [size]
    return [bank] * (size // bank) + ([size % bank] if size % bank else [])


def _rooms(size: int, programs: Programs, used: set[int], start: int, thrift: Thrift) -> Iterator[tuple[int, ...]]:
    """Yield rooms for so many slots, the first one first."""
    bank = programs.bank_of
    if bank is None:
        free = [slot for slot in range(start, programs.count) if slot not in used][:size]
        if len(free) == size:
            yield tuple(free)
        return
    for first in range(start, programs.count - size + 1):
        slots = range(first, first + size)
        starts = first % bank == 0
        if thrift is Thrift.BANKS:
            whole = range(first, min(programs.count, first + -(-size // bank) * bank))
            fits = starts and used.isdisjoint(whole)
        else:
            fits = (starts or first % bank + size <= bank) and used.isdisjoint(slots)
        if fits:
            yield tuple(slots)
