"""A line check that a gig walks through: its places in order, where it was begun, and what is told of it. Pure."""

from dataclasses import dataclass
from typing import NamedTuple

from scenebook.live.places import Place
from scenebook.planning.line_check import Check, Thing

__all__ = ["Checking", "Walk"]


class Walk(NamedTuple):
    """The places of a line check, and how the gig stood when it was begun; `at` is -1 before the first of them."""

    places: tuple[Place, ...]
    began: Place
    left: Place | None = None
    back: Place | None = None
    at: int = -1

    @property
    def following(self) -> Place:
        """Where the next step leads: on, or after the last place to where the check was begun."""
        return self.places[self.at + 1] if self.at + 1 < len(self.places) else self.began


@dataclass(frozen=True, slots=True)
class Checking:
    """The line check as a face shows it: every cue with what it is the first to touch; `at` as in `Walk`.

    `untouched` is what no cue of the gig touches; `loudness` says how it is known which scene is the loudest.
    """

    at: int
    checks: tuple[Check, ...]
    untouched: tuple[Thing, ...] = ()
    loudness: str = ""

    @property
    def here(self) -> Check | None:
        """What stands; nothing before the first."""
        return self.checks[self.at] if self.at >= 0 else None

    @property
    def ahead(self) -> Check | None:
        """What comes next, with the caution that has to be said before it; nothing after the last."""
        return self.checks[self.at + 1] if self.at + 1 < len(self.checks) else None
