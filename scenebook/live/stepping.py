"""Where a running gig stands, and where each step leads from there. Pure: places in, a place or a sentence out."""

from dataclasses import dataclass

from scenebook.live.places import HOME, Place
from scenebook.live.snapshot import Learned
from scenebook.live.tonight import Tonight

__all__ = ["Standing"]


@dataclass(frozen=True)
class Standing:
    """All of a running gig that has to outlast it: where it stands, what is different tonight, what was learned.

    `left` is the place in the sets that a spare song, a house sound or the safe state was called from; `back` is where
    the safe state was called from, whatever that was. Without `tonight`, tonight is as the gig says.
    """

    place: Place = HOME
    left: Place | None = None
    back: Place | None = None
    tonight: Tonight | None = None
    learned: tuple[Learned, ...] = ()
