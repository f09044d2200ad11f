"""Which sounds of one song share a slot of a unit: one as the preset, the others as its variants.

Every way is tried, and one that can no longer be the best is left at once.
"""

from collections import Counter
from collections.abc import Callable, Sequence

from scenebook.planning.sounds import Sound

__all__ = ["MayShare", "best_groups", "hosts_of"]

MayShare = Callable[[Sequence[Sound]], bool]


def best_groups(
    sounds: Sequence[Sound], steps: Counter[tuple[Sound, Sound]], *, bank: int | None, may_share: MayShare
) -> list[list[Sound]]:
    """Return sounds in groups, one a slot: no more slots than a bank has, then fewest holes, then fewest variants.

    `steps` counts the recalls from one sound to another that would be heard; `may_share` says whether some sounds can
    share a slot, and allows of any that it allows each part.
    """
    return _Grouping(sounds, steps, bank or len(sounds), may_share).best


def hosts_of(sounds: Sequence[Sound]) -> dict[Sound, Sound]:
    """Return for each sound the one that serves it: itself, or another of the song that says no less."""
    hosts: dict[Sound, Sound] = {}
    for sound in sorted(dict.fromkeys(sounds), key=lambda each: (-len(each.values), each.preset is None)):
        kept = [host for host in hosts.values() if host.holds(sound)]
        hosts[sound] = kept[0] if kept else sound
    return hosts


class _Grouping:
    def __init__(
        self, sounds: Sequence[Sound], steps: Counter[tuple[Sound, Sound]], bank: int, may_share: MayShare
    ) -> None:
        self._sounds, self._steps, self._bank, self._may_share = sounds, steps, bank, may_share
        self.best: list[list[Sound]] = [[sound] for sound in sounds]
        self._least = self._cost(self.best)
        self._try(0, [])

    def _try(self, number: int, groups: list[list[Sound]]) -> None:
        if self._cost(groups) >= self._least:
            return
        if number == len(self._sounds):
            self.best, self._least = [list(group) for group in groups], self._cost(groups)
            return
        sound = self._sounds[number]
        for group in groups:
            if self._may_share([*group, sound]):
                group.append(sound)
                self._try(number + 1, groups)
                group.pop()
        self._try(number + 1, [*groups, [sound]])

    def _cost(self, groups: Sequence[Sequence[Sound]]) -> tuple[int, int, int]:
        at = {sound: number for number, group in enumerate(groups) for sound in group}
        holes = sum(n for (a, b), n in self._steps.items() if a in at and b in at and at[a] != at[b])
        return max(0, len(groups) - self._bank), holes, len(at) - len(groups)
