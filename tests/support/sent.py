"""Lists as they are sent, written by hand: hex, a wait where there is one, and nothing else."""

from collections.abc import Sequence

from scenebook.model import Library
from scenebook.proof import SentCue, SentMessage
from tests.support.build import GIG

__all__ = ["PORT", "message", "sent_list"]

PORT = "front"


def message(said: str) -> SentMessage:
    """Read "B0 50 7F", with "+1500" in front for a wait in µs and "wet:" for another port than PORT."""
    port, _, rest = said.rpartition(":")
    words = rest.split()
    wait = int(words.pop(0)) if words[0].startswith("+") else 0
    return SentMessage(port or PORT, wait, bytes.fromhex("".join(words)))


def sent_list(library: Library, *cues: Sequence[str]) -> list[SentCue]:
    """Return a list for the library's gig: home, then each form entry of each song; cues that lack are empty."""
    gig = library.gigs[GIG]
    places: list[tuple[int | None, int | None, str | None]] = [(None, None, None)]
    for index, entry in enumerate(gig.entries):
        form = entry.form if entry.form is not None else library.songs[entry.song].played
        places += [(index, place, part.scene) for place, part in enumerate(form)]
    filled = [*cues, *([()] * (len(places) - len(cues)))]
    return [
        SentCue(number, *place, tuple(message(text) for text in texts))
        for number, (place, texts) in enumerate(zip(places, filled, strict=True))
    ]
