"""The evening as it is called: every cue, lean and full, with its place, compiled from what holds tonight."""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from scenebook.cueing.cues import Cue
from scenebook.live.places import HOME, Part, Place

__all__ = ["Programme", "Step"]


class Step(NamedTuple):
    """One cue with its place, as it goes out between neighbours and as it goes out after anything else."""

    place: Place
    lean: Cue
    full: Cue


@dataclass(frozen=True)
class Programme:
    """All that can be called. `steps` are home and the sets in order; spare songs and house sounds are apart."""

    gig: str
    rig: str
    steps: tuple[Step, ...]
    spares: tuple[tuple[Step, ...], ...]
    house: tuple[Step, ...]
    safe: Step
    warnings: tuple[str, ...] = ()

    @cached_property
    def by_place(self) -> dict[Place, Step]:
        """Every step by its place."""
        rest = (*self.house, self.safe, *(step for spare in self.spares for step in spare))
        return {step.place: step for step in (*self.steps, *rest)}

    @cached_property
    def _order(self) -> dict[Place, int]:
        return {step.place: number for number, step in enumerate(self.steps)}

    def neighbour(self, place: Place, by: int) -> Step | None:
        """Return the step that lies so many steps on (or back) within the sets, the spare song or the house sounds."""
        row, number = self._row(place)
        return row[number + by] if 0 <= number + by < len(row) else None

    def _row(self, place: Place) -> tuple[tuple[Step, ...], int]:
        if place.part is Part.SET:
            return self.steps, self._order[place]
        if place.part is Part.SPARE:
            row = self.spares[place.entry]
            return row, next(number for number, step in enumerate(row) if step.place == place)
        return (self.by_place[place],), 0

    @property
    def home(self) -> Step:
        """Cue 0."""
        return self.by_place[HOME]
