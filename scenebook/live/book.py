"""What a running gig writes down: each thing as it happens; a disk that takes nothing becomes a notice and no more."""

from collections.abc import Iterable, Sequence
from typing import Final

from scenebook.cueing.cues import Message
from scenebook.live import records
from scenebook.live.clock import Clock
from scenebook.live.facing import Journal
from scenebook.live.outputs import Output
from scenebook.live.plans import Record

__all__ = ["Book"]

_MOST_NOTICED: Final = 200  # different faults of one evening that are written down


class Book:
    """The journal, and the faults that the player has to be told of, by what they are about."""

    def __init__(self, journal: Journal, clock: Clock) -> None:
        """Begin with no faults."""
        self.faults: dict[str, str] = {}
        self._journal, self._clock = journal, clock
        self._noticed: set[str] = set()

    def write(self, written: Iterable[Record]) -> None:
        """Write records; where that fails, the gig goes on."""
        try:
            for record in written:
                self._journal.write(record)
                self.faults.pop("journal", None)
        except Exception as error:
            self.faults["journal"] = (
                f"The log of this gig cannot be written, so a restart would not know of it: {error}"
            )

    def port(self, output: Output, now: int, lost: Sequence[Message] = ()) -> None:
        """Write down what has gone out on a port by `now` (microseconds on the gig's clock), and what never will."""
        wall = self._clock.wall()
        if output.gone:
            begun = wall - (now - output.gone[0][0]) / 1_000_000
            self.write([records.sent(output.port, [each.data for _, each in output.gone], begun)])
            output.gone.clear()
        if lost:
            self.write([records.dropped(output.port, [each.data for each in lost], wall)])

    def trouble(self, error: Exception, about: str) -> None:
        """Turn what should not have happened into a notice; the gig goes on. What comes again is written down once."""
        words = f"Something went wrong, and the gig goes on: {type(error).__name__}: {error}"
        self.faults[about] = words
        if words not in self._noticed and len(self._noticed) < _MOST_NOTICED:
            self._noticed.add(words)
            self.write([records.noticed(words, about, self._clock.wall())])

    def close(self) -> None:
        """Write that the run has ended by itself; after a crash this lacks."""
        self.write([records.closed("closed", self._clock.wall())])
