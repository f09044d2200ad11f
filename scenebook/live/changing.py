"""What changes tonight when a player says so, or in one sentence why it does not. Pure."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from scenebook.errors import BadValueError
from scenebook.live.acts import Act, Verb
from scenebook.live.places import Part, Place
from scenebook.live.tonight import FASTEST, SLOWEST, Tonight, kept_entries, played_form
from scenebook.model import Gig, Library, Rig, SetEntry, find_name
from scenebook.planning.joins import MidiLines

__all__ = ["CHANGES", "changed"]

_LONGEST_KEY = 200


@dataclass(frozen=True)
class _Asked:
    library: Library
    gig: Gig
    rig: Rig
    tonight: Tonight
    act: Act

    def unit(self) -> str:
        """Return the rig's own name of the unit that is meant; what plays it tonight is meant by its name as well."""
        replaced = {new: old for old, new in self.tonight.played_by.items() if old in self.rig.carried}
        name = find_name(self.act.unit, [*self.rig.carried, *replaced], "unit")
        return replaced.get(name, name)

    def entry(self) -> tuple[Place, SetEntry]:
        """Return the place of the song that is meant, form 0, and its entry in the gig."""
        place = self.act.place
        if place is None or place.part not in (Part.SET, Part.SPARE):
            raise BadValueError("only a song of the sets or a spare song can be changed for tonight")
        entries = self.gig.entries if place.part is Part.SET else self.gig.spares
        if not 0 <= place.entry < len(entries):
            raise BadValueError("the gig has no such song", accepted=f"song 1 to {len(entries)}" if entries else "")
        return Place(place.part, place.entry, 0), entries[place.entry]


def changed(library: Library, gig: str, rig: str, tonight: Tonight, act: Act) -> Tonight:
    """Return tonight as it is after an act of CHANGES.

    Raises:
        ScenebookError: it cannot be done, as it says: no such unit or song, it is so already, a tempo out of range.
    """
    return _WAYS[act.verb](_Asked(library, library.gigs[gig], library.rigs[rig], tonight, act))


def _out(asked: _Asked) -> Tonight:
    name, tonight = asked.unit(), asked.tonight
    if name in tonight.out and name not in tonight.played_by:
        raise BadValueError(f"{name!r} is out already")
    return replace(tonight, out=tonight.out | {name}, played_by=_without(tonight.played_by, name))


def _in(asked: _Asked) -> Tonight:
    name, tonight = asked.unit(), asked.tonight
    if name not in tonight.out and name not in tonight.played_by:
        raise BadValueError(f"{name!r} is neither out nor played by another")
    return replace(tonight, out=tonight.out - {name}, played_by=_without(tonight.played_by, name))


def _played_by(asked: _Asked) -> Tonight:
    name, tonight = asked.unit(), asked.tonight
    other = find_name(asked.act.other, asked.library.units, "unit")
    if other in asked.rig.carried:
        remedy = f"Say that {name!r} is out: what stands in for it on this rig then plays its part"
        raise BadValueError(f"{other!r} is in the rig itself", remedy=remedy)
    taken = next((old for old, new in tonight.played_by.items() if new == other), None)
    if taken is not None:
        raise BadValueError(f"{other!r} plays {taken!r} already")
    return replace(tonight, out=tonight.out - {name}, played_by={**tonight.played_by, name: other})


def _deaf(asked: _Asked) -> Tonight:
    name, tonight = asked.unit(), asked.tonight
    hearing = {each for each in _from_here(asked.rig, name) if asked.rig.placement(each).port is not None}
    if not hearing:
        raise BadValueError(f"{name!r} hears no MIDI on this rig, nor does anything behind it")
    if hearing <= tonight.deaf:
        raise BadValueError(f"{name!r} is deaf already")
    return replace(tonight, deaf=tonight.deaf | hearing)


def _hears(asked: _Asked) -> Tonight:
    name, tonight = asked.unit(), asked.tonight
    back = tonight.deaf.intersection(_from_here(asked.rig, name))
    if not back:
        raise BadValueError(f"{name!r} is not deaf")
    return replace(tonight, deaf=tonight.deaf - back)


def _key(asked: _Asked) -> Tonight:
    (place, _), tonight, text = asked.entry(), asked.tonight, " ".join(asked.act.text.split())
    if len(text) > _LONGEST_KEY:
        raise BadValueError(f"a key of {len(text)} characters", accepted=f"up to {_LONGEST_KEY}")
    if not text and place not in tonight.keys:
        raise BadValueError("the song has no key of its own tonight")
    keys = {each: key for each, key in tonight.keys.items() if each != place}
    return replace(tonight, keys={**keys, place: text} if text else keys)


def _tempo(asked: _Asked) -> Tonight:
    (place, _), tonight, text = asked.entry(), asked.tonight, asked.act.text.strip()
    if not text and place not in tonight.tempos:
        raise BadValueError("the song has no tempo of its own tonight")
    tempos = {each: tempo for each, tempo in tonight.tempos.items() if each != place}
    return replace(tonight, tempos={**tempos, place: _quarters(text)} if text else tempos)


def _quarters(text: str) -> float:
    try:
        tempo = float(text.replace(",", "."))
    except ValueError:
        tempo = 0.0
    if not SLOWEST <= tempo <= FASTEST:  # so is what is no number at all
        raise BadValueError(f"{text!r} is no tempo", accepted=f"{SLOWEST} to {FASTEST} quarter notes a minute")
    return tempo


def _cut(asked: _Asked) -> Tonight:
    place, tonight, kept = _part(asked), asked.tonight, _kept(asked)
    if place.form not in kept:
        raise BadValueError("that part of the song is cut already")
    if kept == (place.form,):
        raise BadValueError("nothing of the song would be left", remedy="Go to the next song instead")
    return replace(tonight, cut=tonight.cut | {place})


def _keep(asked: _Asked) -> Tonight:
    place, tonight = _part(asked), asked.tonight
    if place not in tonight.cut:
        raise BadValueError("that part of the song is not cut")
    return replace(tonight, cut=tonight.cut - {place})


def _part(asked: _Asked) -> Place:
    """Return the place of the part of a song that is meant."""
    (song, entry), form = asked.entry(), asked.act.place.form if asked.act.place else 0
    count = len(played_form(asked.library, entry))
    if not 0 <= form < count:
        raise BadValueError(f"{entry.song!r} has no such part", accepted=f"part 1 to {count}" if count else "")
    return song._replace(form=form)


def _kept(asked: _Asked) -> tuple[int, ...]:
    song, entry = asked.entry()
    return kept_entries(played_form(asked.library, entry), song.part, song.entry, asked.tonight)


def _from_here(rig: Rig, name: str) -> tuple[str, ...]:
    return (name, *MidiLines(rig).behind(name))


def _without(played_by: Mapping[str, str], name: str) -> dict[str, str]:
    return {old: new for old, new in played_by.items() if old != name}


_WAYS: Mapping[Verb, Callable[[_Asked], Tonight]] = {
    Verb.OUT: _out,
    Verb.IN: _in,
    Verb.PLAYED_BY: _played_by,
    Verb.DEAF: _deaf,
    Verb.HEARS: _hears,
    Verb.KEY: _key,
    Verb.TEMPO: _tempo,
    Verb.CUT: _cut,
    Verb.KEEP: _keep,
}
CHANGES = frozenset(_WAYS)
"""The verbs that change what holds tonight."""
