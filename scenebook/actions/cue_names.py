"""Find the cue that a player names: by its number, a house sound's scene, a spare song, or song and scene. Pure."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from scenebook.cueing.cues import Cue, CueList
from scenebook.errors import UnknownNameError
from scenebook.model.base import did_you_mean, listed, place_text

__all__ = ["HOUSE", "SPARE", "NamedCue", "find_cue"]

SPARE, HOUSE = "spare song", "house sound"
_SEE_THEM = "See them with: scenebook compile"


class NamedCue(NamedTuple):
    """A cue, and of what it is one: SPARE, HOUSE, or "" for the sets."""

    part: str
    cue: Cue


def find_cue(cue_list: CueList, text: str) -> NamedCue:
    """Return the cue that `text` names; of a scene that is played more than once it is the first.

    A number as the list has it, or "home"; the scene of a house sound; a spare song (its first cue); "song/scene" for
    any song of the gig. A beginning that fits one of them alone will do, and capitals do not count.

    Raises:
        UnknownNameError: there is no such cue, or several; it says what is accepted.
    """
    wanted = text.strip().casefold()
    numbered = {"home": cue_list.cues[0], **{str(cue.number): cue for cue in cue_list.cues}}
    if wanted in numbered:
        return NamedCue("", numbered[wanted])
    for hits in _by_closeness(cue_list, wanted) if wanted else ():
        if len(hits) == 1:
            return next(iter(hits.values()))
        if hits:
            raise UnknownNameError(
                f"cue {text!r} could be more than one",
                where=place_text("gig", cue_list.gig),
                accepted=listed(hits),
                remedy="Write more of the name",
            )
    raise _unknown(cue_list, text)


def _by_closeness(cue_list: CueList, wanted: str) -> Iterator[dict[str, NamedCue]]:
    """Yield what a text fits, the nearest fit first: short names, then song and scene; whole, then beginnings."""
    short, whole = _short(cue_list), _whole(cue_list)
    labels = {f"{song}/{scene}": found for (song, scene), found in whole.items()}
    for names in (short, labels):
        yield {name: found for name, found in names.items() if name.casefold() == wanted}
        if names is short:
            yield {name: found for name, found in names.items() if name.casefold().startswith(wanted)}
    songs = {song for song, _ in whole if wanted.startswith(f"{song.casefold()}/")}
    begun = {key: found for key, found in whole.items() if _begins(wanted, *key)}
    yield {f"{song}/{scene}": found for (song, scene), found in begun.items() if not songs or song in songs}


def _begins(wanted: str, song: str, scene: str) -> bool:
    """Tell whether a text is a song's beginning, a stroke, and its scene's beginning; names may have strokes."""
    return any(
        song.casefold().startswith(wanted[:place].strip()) and scene.casefold().startswith(wanted[place + 1 :].strip())
        for place, sign in enumerate(wanted)
        if sign == "/"
    )


def _short(cue_list: CueList) -> dict[str, NamedCue]:
    """Return what is called by one name: the house sounds, then the spare songs by their first cues."""
    found: dict[str, NamedCue] = {}
    for cue in cue_list.house.cues if cue_list.house else ():
        found.setdefault(cue.scene, NamedCue(HOUSE, cue))
    for spare in cue_list.spares:
        if spare.cues:
            found.setdefault(spare.song, NamedCue(SPARE, spare.cues[0]))
    return found


def _whole(cue_list: CueList) -> Mapping[tuple[str, str], NamedCue]:
    """Return the first cue of each song and scene: of the sets, of the spare songs, of the house sounds."""
    parts = [("", cue_list.cues[1:]), *((SPARE, spare.cues) for spare in cue_list.spares)]
    parts += [(HOUSE, cue_list.house.cues)] if cue_list.house else []
    found: dict[tuple[str, str], NamedCue] = {}
    for part, cues in parts:
        for cue in cues:
            found.setdefault((cue.song, cue.scene), NamedCue(part, cue))
    return found


def _unknown(cue_list: CueList, text: str) -> UnknownNameError:
    short = _short(cue_list)
    house = [name for name, found in short.items() if found.part == HOUSE]
    spares = [name for name, found in short.items() if found.part == SPARE]
    ways = [f"0 (home) to {len(cue_list.cues) - 1}"]
    ways += [f"a house sound ({listed(house)})"] if house else []
    ways += [f"a spare song ({listed(spares)})"] if spares else []
    near = did_you_mean(text, [*short, *(f"{song}/{scene}" for song, scene in _whole(cue_list))])
    return UnknownNameError(
        f"there is no cue {text!r}",
        where=place_text("gig", cue_list.gig),
        accepted="; ".join([*ways, "or SONG/SCENE"]),
        remedy=near or _SEE_THEM,
    )
