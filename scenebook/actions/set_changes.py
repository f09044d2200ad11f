"""Follow a set that was changed between two runs of one evening: places name songs by number, and numbers have moved.

A run writes down which songs it plays in which forms. The next one holds that against the gig as it is by then, and
takes each place to where its song is now; what has no place any more is let go of, and said. Pure.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from scenebook.live.places import HOME, Part, Place
from scenebook.live.stepping import Standing
from scenebook.live.tonight import Tonight, played_form
from scenebook.model import Library, SetEntry

__all__ = ["SET", "moved", "set_record"]

SET = "set"  # the kind of the record
Record = Mapping[str, Any]
_PARTS = {Part.SET: "set", Part.SPARE: "spares"}


def set_record(library: Library, gig: str, at: float) -> dict[str, Any]:
    """Return the record of the songs of a gig, each with the scenes of its form."""
    evening = library.gigs[gig]
    said = {"set": _songs(library, evening.entries), "spares": _songs(library, evening.spares)}
    return {"kind": SET, "at": at, **said}


def moved(standing: Standing, records: Iterable[Record], library: Library, gig: str) -> tuple[Standing, bool]:
    """Return where an evening stands in the gig as it is now, and whether that is another than the records knew."""
    then = next((record for record in reversed([*records]) if record.get("kind") == SET), None)
    now = set_record(library, gig, 0)
    if then is None or all(_plain(then.get(key)) == now[key] for key in _PARTS.values()):
        return standing, False
    places = _Moves({part: (_plain(then.get(key)), now[key]) for part, key in _PARTS.items()})
    left, back = standing.left, standing.back
    there = replace(
        standing,
        place=places.of(standing.place) or HOME,
        left=None if left is None else places.of(left) or HOME,
        back=None if back is None else places.of(back) or HOME,
        tonight=_tonight(standing.tonight, places),
    )
    return (replace(there, walk=None) if there.walk is not None else there), True


class _Moves:
    """Where each song, and each part of its form, is now."""

    def __init__(self, lists: Mapping[Part, tuple[Sequence[Any], Sequence[Any]]]) -> None:
        self._lists = lists
        self._now = {part: _mapped(then, now) for part, (then, now) in lists.items()}

    def of(self, place: Place) -> Place | None:
        """Return a place as it is now: of a form that is another, its first part; None where the song is gone."""
        if place.part not in self._lists or place.entry < 0:
            return place
        entry = self._now[place.part].get(place.entry)
        if entry is None:
            return None
        return Place(place.part, entry, place.form if self.is_same_form(place) else 0)

    def is_same_form(self, place: Place) -> bool:
        """Whether the song's form is what it was."""
        then, now = self._lists[place.part]
        return bool(then[place.entry][1] == now[self._now[place.part][place.entry]][1])


def _mapped(then: Sequence[Any], now: Sequence[Any]) -> dict[int, int]:
    """Return where each entry is now; the second time that a song is played stays the second."""
    known = {key: number for number, key in enumerate(_numbered(now))}
    return {number: known[key] for number, key in enumerate(_numbered(then)) if key in known}


def _numbered(songs: Sequence[Any]) -> list[tuple[str, int]]:
    seen: Counter[str] = Counter()
    found = []
    for name, _ in songs:
        found.append((name, seen[name]))
        seen[name] += 1
    return found


def _tonight(tonight: Tonight | None, places: _Moves) -> Tonight | None:
    if tonight is None:
        return None
    return replace(
        tonight,
        keys={there: key for place, key in tonight.keys.items() if (there := places.of(place)) is not None},
        tempos={there: tempo for place, tempo in tonight.tempos.items() if (there := places.of(place)) is not None},
        cut=frozenset(
            there for place in tonight.cut if (there := places.of(place)) is not None and places.is_same_form(place)
        ),
    )


def _songs(library: Library, entries: Sequence[SetEntry]) -> list[list[Any]]:
    return [[entry.song, [part.scene for part in played_form(library, entry)]] for entry in entries]


def _plain(said: Any) -> list[list[Any]]:
    """Return what a record says of songs, or nothing where that cannot be read."""
    if not isinstance(said, list):
        return []
    return [each for each in said if isinstance(each, list) and len(each) == 2 and isinstance(each[0], str)]
