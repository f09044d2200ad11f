"""What a proof takes in and gives back: the list as sent, and what was found. Plain values, no behaviour."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

__all__ = ["CueFailure", "Proof", "SentCue", "SentMessage"]


class SentMessage(NamedTuple):
    """One message as sent: its port, µs of waiting before its first byte, and its bytes.

    The wait begins after the last byte of the message before it on that port (or at the cue), so it is what is
    waited beyond the time that bytes take.
    """

    port: str
    wait_us: int
    data: bytes


class SentCue(NamedTuple):
    """All messages of one cue, in the order in which they were sent.

    `entry` is the index of the song among the gig's entries, `form` the index in the form that is played there. Cue 0,
    home, has neither.
    """

    number: int
    entry: int | None
    form: int | None
    scene: str | None
    messages: tuple[SentMessage, ...]


class CueFailure(NamedTuple):
    """One thing that is not as its scene asks: the cue, its song and scene, the unit or port, and what it is.

    `what` is one plain sentence. What concerns the whole list has the number -1 and the place "list".
    """

    number: int
    song: str | None
    scene: str | None
    place: str
    what: str


@dataclass(frozen=True)
class Proof:
    """What came of holding the receivers' state against the scenes.

    `cues` were compared, with `members` single comparisons; `messages` were sent and `bytes` came back. `not_proved`
    names for each unit what hands and feet work, and what no message can promise.
    """

    cues: int
    failures: tuple[CueFailure, ...]
    messages: int
    bytes: int
    members: int
    not_proved: Mapping[str, tuple[str, ...]]
    warnings: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """True if nothing failed."""
        return not self.failures
