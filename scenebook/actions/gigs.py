"""List and show gigs, put in a new one, order its songs, and say which units are out or played by another."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from scenebook.actions.making import check_is_new, containing, given, made
from scenebook.errors import BadValueError
from scenebook.model import Gig, GigSet, Library, SetEntry, find_name
from scenebook.model.base import listed, place_text
from scenebook.storage import open_library

__all__ = ["Ordered", "TakenOut", "add_gig", "list_gigs", "order_songs", "replace_unit", "show_gig", "take_out"]


class Ordered(NamedTuple):
    """A gig after its songs were put in order: where they are, which songs are in none of its lists any more.

    `before` are the entries that were in that place.
    """

    name: str
    gig: Gig
    place: str
    gone: tuple[str, ...]
    before: tuple[SetEntry, ...]


class TakenOut(NamedTuple):
    """A gig after units were taken out or brought back; `strangers` are units taken out that its rig has not."""

    name: str
    gig: Gig
    strangers: tuple[str, ...]


def list_gigs(path: Path, text: str = "") -> dict[str, Gig]:
    """Return the gigs in whose name, date, place, rig or notes a text occurs, by date."""
    with open_library(path, read_only=True) as store:
        gigs = store.all("gig")
    found = {
        name: gig
        for name, gig in gigs.items()
        if containing(text, name, str(gig.date or ""), gig.place, gig.rig or "", gig.notes)
    }
    return dict(sorted(found.items(), key=lambda item: (str(item[1].date or "9999"), item[0])))


def show_gig(path: Path, name: str) -> tuple[str, Gig, Library]:
    """Return a gig with its full name, and what it needs of the library.

    Raises:
        UnknownNameError: no gig of that name, or several.
    """
    with open_library(path, read_only=True) as store:
        full = store.find("gig", name)
        library = store.gig_slice(full)
        return full, library.gigs[full], library


def add_gig(
    path: Path, name: str, *, rig: str | None = None, house: str | None = None, **facts: Any
) -> tuple[str, Gig]:
    """Put a new gig, as yet without songs, into the library; `facts` are date, place, gap, notes.

    Raises:
        BadValueError: there is a gig of that name.
        UnknownNameError: no rig, or no song for the house sounds, of that name.
        FormatError: a value is not accepted.
    """
    with open_library(path) as store, store.change(f"gig add {name.strip()}") as change:
        check_is_new(store, "gig", name)
        found = store.find("rig", rig) if rig else None, store.find("song", house) if house else None
        gig = made(Gig, given(rig=found[0], house=found[1], **facts), place_text("gig", name.strip()))
        change.put_gig(name, gig)
    return name.strip(), gig


def order_songs(
    path: Path,
    name: str,
    songs: Sequence[str],
    *,
    part: str | None = None,
    spare: bool = False,
    segues: Sequence[str] = (),
    no_segues: Sequence[str] = (),
    interval: str = "",
) -> Ordered:
    """Put the songs of one set, or the spare songs, in order; other sets stay, and so does what the gig says of a song.

    `part` is the set, which is made if there is none of that name; a gig with one set needs none named. After each
    song of `segues` the next begins on its next bar; after one of `no_segues` it does so no more. `interval` is the
    pause after the set, such as "20 min".

    Raises:
        UnknownNameError: no gig or song of a name.
        BadValueError: the gig has several sets and none is named, or a segue follows a song that is not there.
        FormatError: the interval cannot be read.
    """
    with open_library(path) as store, store.change(f"gig order {name}") as change:
        full = store.find("gig", name)
        gig, known = store.gig(full), store.names("song")
        order = [find_name(song, known, "song") for song in songs]
        title = "" if spare else _set_name(gig, part, place_text("gig", full))
        before = _listed_now(gig, title)
        entries = _with_segues(_entries(gig, order, title), segues, no_segues)
        update = {"spares": entries} if spare else {"sets": _sets(gig, title, entries, interval)}
        new = _rebuilt(gig, update)
        change.put_gig(full, new)
    gone = tuple(song for song in gig.songs if song not in new.songs)
    return Ordered(full, new, "spare songs" if spare else title, gone, before)


def take_out(path: Path, name: str, units: Sequence[str], *, back: bool = False) -> TakenOut:
    """Say that units are not there at a gig, or with `back` that they are after all.

    A unit that the gig's rig has not may be out as well: another rig may be named later.

    Raises:
        UnknownNameError: no gig or unit of a name, or, with `back`, a unit that is not out.
    """
    with open_library(path) as store, store.change(f"gig out {name}") as change:
        full = store.find("gig", name)
        gig = store.gig(full)
        known = gig.out if back else store.names("unit")
        found = [find_name(unit, known, "unit that is out" if back else "unit") for unit in units]
        out = tuple(unit for unit in gig.out if unit not in found) if back else tuple(dict.fromkeys([*gig.out, *found]))
        gig = _rebuilt(gig, {"out": out})
        carried = store.rig(gig.rig).carried if gig.rig else found
        change.put_gig(full, gig)
    return TakenOut(full, gig, () if back else tuple(unit for unit in found if unit not in carried))


def replace_unit(path: Path, name: str, unit: str, by: str | None) -> tuple[str, Gig]:
    """Say that a unit is played by another at a gig, or, without `by`, that it plays its own part again.

    Raises:
        UnknownNameError: no gig or unit of a name, or a unit that is not replaced.
        BadValueError: the other unit is in the gig's rig already.
    """
    with open_library(path) as store, store.change(f"gig replace {name}") as change:
        full = store.find("gig", name)
        gig, known = store.gig(full), store.names("unit")
        played = dict(gig.played_by)
        if by is None:
            played.pop(find_name(unit, played, "unit that is replaced"))
        else:
            old, new = find_name(unit, known, "unit"), find_name(by, known, "unit")
            _check_replacement(store.rig(gig.rig).carried if gig.rig else (), old, new, place_text("gig", full))
            played[old] = new
        gig = _rebuilt(gig, {"played_by": played})
        change.put_gig(full, gig)
    return full, gig


def _check_replacement(carried: Sequence[str], old: str, new: str, where: str) -> None:
    if old == new:
        raise BadValueError(f"{old!r} cannot be played by itself", where=where, remedy="Take it back with --back")
    if new in carried:
        raise BadValueError(
            f"{old!r} cannot be played by {new!r}, which is in the rig already",
            where=where,
            remedy=f"Say that {old!r} is out, and give the rig a stand-in",
        )


def _rebuilt(gig: Gig, update: dict[str, Any]) -> Gig:
    """Return a gig with some fields changed, made anew so that nothing worked out from the old one stays."""
    values = {name: getattr(gig, name) for name in gig.model_fields_set}
    return Gig(**{**values, **update})


def _entries(gig: Gig, order: Sequence[str], title: str) -> list[SetEntry]:
    """Return the entries of a set (or the spares); a song that is there already keeps what the gig says of it.

    The second time that a song is played it keeps what is said of the second time; a song that comes from another part
    of the gig brings along what is said there.
    """
    own: dict[str, list[SetEntry]] = {}
    for entry in _listed_now(gig, title):
        own.setdefault(entry.song, []).append(entry)
    others = {entry.song: entry for entry in reversed([*gig.entries, *gig.spares])}
    return [own[song].pop(0) if own.get(song) else others.get(song, SetEntry(song=song)) for song in order]


def _listed_now(gig: Gig, title: str) -> tuple[SetEntry, ...]:
    """Return the entries of a set, or, with no title, the spare songs."""
    return gig.spares if not title else next((each.songs for each in gig.sets if each.name == title), ())


def _with_segues(entries: list[SetEntry], segues: Sequence[str], no_segues: Sequence[str]) -> tuple[SetEntry, ...]:
    songs = [entry.song for entry in entries]
    into, apart = ({find_name(song, songs, "song of this list") for song in each} for each in (segues, no_segues))
    changed = []
    for entry in entries:
        if entry.song in into:
            entry = entry.model_copy(update={"segue": True, "gap": None})
        elif entry.song in apart:
            entry = entry.model_copy(update={"segue": False})
        changed.append(entry)
    return tuple(changed)


def _set_name(gig: Gig, part: str | None, where: str) -> str:
    names = [each.name for each in gig.sets]
    if part is not None:
        return next((name for name in names if name.casefold() == part.strip().casefold()), part.strip())
    if len(names) > 1:
        raise BadValueError("the gig has several sets", where=where, accepted=listed(names), remedy="Name one: --set")
    return names[0] if names else "set 1"


def _sets(gig: Gig, title: str, entries: tuple[SetEntry, ...], interval: str) -> tuple[GigSet, ...]:
    said = given(songs=entries, interval=interval)
    if title not in [each.name for each in gig.sets]:
        return (*gig.sets, made(GigSet, {"name": title, **said}, place_text("set", title)))
    return tuple(
        made(GigSet, {"name": title, **given(interval=each.interval), **said}, place_text("set", title))
        if each.name == title
        else each
        for each in gig.sets
        if entries or each.name != title
    )
