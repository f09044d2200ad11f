"""What is different tonight, and the library as it stands with it: songs and rigs themselves stay as they are."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar, cast

from scenebook.live.places import Part, Place
from scenebook.model import Gig, GigSet, Library, Placement, Rig, SetEntry
from scenebook.model.base import Frozen
from scenebook.model.songs import Form

__all__ = ["FASTEST", "SLOWEST", "Tonight", "applied", "gig_tonight", "kept_entries", "played_form", "rebuilt"]
__all__ += ["tonight_of"]

SLOWEST: Final = 20  # quarter notes a minute, as the model has them
FASTEST: Final = 400
_Model = TypeVar("_Model", bound=Frozen)


@dataclass(frozen=True)
class Tonight:
    """Units that are out, played by another or deaf to MIDI; keys and tempos of songs by place; what is cut of forms.

    The places of keys and tempos have form 0.
    """

    out: frozenset[str] = frozenset()
    played_by: Mapping[str, str] = field(default_factory=dict)
    deaf: frozenset[str] = frozenset()
    keys: Mapping[Place, str] = field(default_factory=dict)
    tempos: Mapping[Place, float] = field(default_factory=dict)
    cut: frozenset[Place] = frozenset()


def tonight_of(gig: Gig) -> Tonight:
    """Return how an evening begins: as the gig itself says."""
    return Tonight(out=frozenset(gig.out), played_by=dict(gig.played_by))


def applied(library: Library, gig: str, rig: str, tonight: Tonight, *, stays: Collection[str] = frozenset()) -> Library:
    """Return the library as it stands tonight; the one given stays as it is.

    `stays` are units of the rig that nothing can work now: they count as out.
    """
    evening = gig_tonight(library, gig, tonight, stays)
    board = _without_midi(library.rigs[rig], tonight.deaf)
    return rebuilt(library, gigs={**library.gigs, gig: evening}, rigs={**library.rigs, rig: board})


def gig_tonight(library: Library, gig: str, tonight: Tonight, stays: Collection[str] = frozenset()) -> Gig:
    """Return the gig with what is different tonight written into it."""
    evening = library.gigs[gig]
    out = [*(name for name in evening.out if name in tonight.out), *sorted(tonight.out - set(evening.out))]
    sets: list[GigSet] = []
    for part in evening.sets:
        first = sum(len(each.songs) for each in sets)
        songs = [_entry(library, each, Part.SET, first + n, tonight) for n, each in enumerate(part.songs)]
        sets.append(rebuilt(part, songs=tuple(songs)))
    spares = [_entry(library, each, Part.SPARE, number, tonight) for number, each in enumerate(evening.spares)]
    return rebuilt(
        evening,
        out=(*out, *sorted(set(stays) - tonight.out)),
        played_by={old: new for old, new in tonight.played_by.items() if old not in stays},
        sets=tuple(sets),
        spares=tuple(spares),
    )


def played_form(library: Library, entry: SetEntry) -> Form:
    """Return the form in which a song is played at a gig, before anything is cut."""
    return entry.form or library.songs[entry.song].played


def kept_entries(form: Form, part: Part, number: int, tonight: Tonight) -> tuple[int, ...]:
    """Return which entries of a song's form are played tonight; all of them where a cut would leave nothing."""
    kept = tuple(index for index in range(len(form)) if Place(part, number, index) not in tonight.cut)
    return kept or tuple(range(len(form)))


def rebuilt(model: _Model, **update: Any) -> _Model:
    """Return a model with other fields. Unlike a copy, it works its cached properties out anew."""
    fields = {name: getattr(model, name) for name in type(model).model_fields}
    return cast(_Model, type(model).model_construct(**{**fields, **update}))


def _entry(library: Library, entry: SetEntry, part: Part, number: int, tonight: Tonight) -> SetEntry:
    place, form = Place(part, number, 0), played_form(library, entry)
    kept = kept_entries(form, part, number, tonight)
    update: dict[str, Any] = {}
    if place in tonight.keys:
        update["key"] = tonight.keys[place]
    if place in tonight.tempos:
        update["tempo"] = tonight.tempos[place]
    if len(kept) < len(form):
        update["form"] = tuple(form[index] for index in kept)
    return rebuilt(entry, **update) if update else entry


def _without_midi(rig: Rig, deaf: frozenset[str]) -> Rig:
    if not deaf & rig.units.keys():
        return rig
    return rebuilt(rig, units={name: Placement() if name in deaf else each for name, each in rig.units.items()})
