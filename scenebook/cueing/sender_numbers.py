"""Number the lists of a sender: in the order of the set, a song starts a bank where there is room. Pure arithmetic."""

from collections.abc import Callable, Sequence

__all__ = ["numbers"]


def numbers(sizes: Sequence[int], count: int, bank: int | None) -> tuple[int, ...] | None:
    """Return a number from 0 for each list of each song, in order; nothing where `count` lists are too few.

    Each song starts a bank; where that takes too many, songs share banks and none goes on into the next that one would
    hold; where that does too, each follows the one before.

    Args:
        sizes: how many lists each song needs first.
        count: how many lists there are.
        bank: how many of them are in one bank; None where they are in a row.
    """
    starts: list[Callable[[int, int], int]] = [lambda at, size: at]
    if bank is not None:
        whole = bank
        starts = [
            lambda at, size: _next_bank(at, whole),
            lambda at, size: at if at % whole + size <= whole else _next_bank(at, whole),
            *starts,
        ]
    for start in starts:
        found: list[int] = []
        for size in sizes:
            first = start(found[-1] + 1 if found else 0, size)
            found += range(first, first + size)
        if not found or found[-1] < count:
            return tuple(found)
    return None


def _next_bank(at: int, bank: int) -> int:
    return -(-at // bank) * bank
