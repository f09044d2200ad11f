"""What the tech's page says of the set: a running order with every song's facts, and where it stands. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass

from scenebook.live.places import Part, Place
from scenebook.live.snapshot import Snapshot
from scenebook.sheets.floor import gap_after
from scenebook.web.known import Known, set_words

__all__ = ["OrderLine", "OrderSet", "running_order"]


@dataclass(frozen=True, slots=True)
class OrderLine:
    """A song: its number, name, facts, how many parts it has and what follows; `asks_care` counts lacks and lates."""

    number: str
    name: str
    facts: str
    parts: str
    then: str
    asks_care: str
    is_now: bool
    is_next: bool


@dataclass(frozen=True, slots=True)
class OrderSet:
    """A set, or the spare songs."""

    title: str
    lines: tuple[OrderLine, ...]


def running_order(snapshot: Snapshot) -> tuple[OrderSet, ...]:
    """Return the sets in order, then the spare songs."""
    known = Known.of(snapshot)
    found, first = [], 0
    for part in known.gig.sets:
        places = [Place(Part.SET, first + number, 0) for number in range(len(part.songs))]
        found.append(OrderSet(set_words(part.name), tuple(_lines(known, places, snapshot))))
        first += len(part.songs)
    spares = [Place(Part.SPARE, number, 0) for number in range(len(known.gig.spares))]
    if spares:
        found.append(OrderSet("spare songs", tuple(_lines(known, spares, snapshot))))
    return tuple(found)


def _lines(known: Known, places: list[Place], snapshot: Snapshot) -> Iterator[OrderLine]:
    for place in places:
        played = sum((each.part, each.entry) == (place.part, place.entry) for each in known.programme.by_place)
        yield OrderLine(
            number=known.number(place),
            name=known.title(place),
            facts=" · ".join(known.facts(place)),
            parts=f"{played} part{'' if played == 1 else 's'}",
            then=gap_after(known.gig, place.entry).partition(", then ")[0] if place.part is Part.SET else "",
            asks_care=_care(known, place),
            is_now=_same(snapshot.step.place, place),
            is_next=snapshot.ahead is not None
            and _same(snapshot.ahead.place, place)
            and not _same(snapshot.step.place, place),
        )


def _same(one: Place, other: Place) -> bool:
    return (one.part, one.entry) == (other.part, other.entry)


def _care(known: Known, place: Place) -> str:
    """Say what of a song will not be as it should: things that its scenes lack, cues that are late."""
    cues = [step.lean for at, step in known.programme.by_place.items() if _same(at, place)]
    lacks = dict.fromkeys(thing for cue in cues for thing in cue.lacks)
    late = sum(cue.late.startswith("late by") for cue in cues)
    said = [f"lacks {'; '.join(lacks)}"] if lacks else []
    said += [f"{late} cue{'' if late == 1 else 's'} late"] if late else []
    return ", ".join(said)
