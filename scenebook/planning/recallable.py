"""Which sounds compiling can recall from slots that are stored for it: those of scenes that leave a unit's preset open.

A scene that names a preset, or that home's preset decides, recalls that one whatever else is stored. Of the others an
open recall (rule C2) takes only those that determine all that the unit's presets store, and leave nothing of it.
"""

from collections import Counter
from collections.abc import Iterator, Sequence

from scenebook.model import Library, Setting, Unit
from scenebook.planning.sounds import Part, Run, Sounds, sounds_of

__all__ = ["named_slots", "recallable"]


def recallable(library: Library, rig: str, gigs: Sequence[str] | None = None) -> Sounds:
    """Return what a rig's units must sound like, with every part marked for which no new slot would be recalled.

    Of a unit of whose presets nothing is known it is decided here what they are to store: what most scenes determine.

    Raises:
        ScenebookError: a gig that was named has a replacement that cannot be made on this rig.
    """
    found = sounds_of(library, rig, gigs)
    blank = {name: unit for name, unit in found.units.items() if not unit.stored}
    stored = {name: _worth_storing(found, name, _harmless(library, name, unit)) for name, unit in blank.items()}
    if stored:
        found = sounds_of(library, rig, gigs, stored)
    by_unit = {
        unit: {song: [_marked(run, found.stored[unit]) for run in runs] for song, runs in songs.items()}
        for unit, songs in found.by_unit.items()
    }
    return found._replace(by_unit=by_unit)


def named_slots(library: Library, name: str, unit: Unit) -> frozenset[int]:
    """Return the slots, from 0, that anything in a library names: what is in them is not to be stored over."""
    settings = [setting["preset"] for setting in _settings(library, name) if "preset" in setting]
    played = [each for rig in library.rigs.values() for each in rig.stand_ins]
    settings += [each.preset for each in played if each.by == name and each.preset is not None]
    settings += [each.part_preset for each in played if each.part == name and each.part_preset is not None]
    return frozenset(unit.preset_at(text)[0] for text in settings)


def _settings(library: Library, name: str) -> Iterator[Setting]:
    """Yield all that scenes say of a unit, and how rigs stand at home and where it is safe."""
    scenes = (scene.units for song in library.songs.values() for scene in song.scenes.values())
    stands = (each for rig in library.rigs.values() for each in (rig.home, rig.safe))
    yield from (said[name] for said in (*scenes, *stands) if name in said)


def _harmless(library: Library, name: str, unit: Unit) -> frozenset[str]:
    """Return the members that may be stored without harm to what recalls a preset of which nothing is known.

    After such a recall nobody knows how they stand (rule S5), so that only what messages work can be set again.
    """
    replaces = any(name in gig.played_by.values() for gig in library.gigs.values())
    if not replaces and not named_slots(library, name, unit):
        return frozenset(unit.members)
    if any(rig.placement(name).channel is None for rig in library.rigs.values() if name in rig.carried):
        return frozenset()
    return frozenset(member for member, thing in unit.members.items() if thing.message)


def _worth_storing(found: Sounds, name: str, allowed: frozenset[str]) -> frozenset[str]:
    """Return the members with which recalls set most, in all that is played: fewer of them may suit more scenes."""
    parts = (part for runs in found.by_unit[name].values() for run in runs for part in run.parts if part.sound)
    determined = Counter(part.open_to & found.stored[name] & allowed for part in parts if part.open_to is not None)
    del determined[frozenset()]
    if not determined:
        return frozenset()

    def set_by_recalls(members: frozenset[str]) -> int:
        return len(members) * sum(times for each, times in determined.items() if members <= each)

    return max((*determined, frozenset.intersection(*determined)), key=set_by_recalls)


def _marked(run: Run, stored: frozenset[str]) -> Run:
    return run._replace(parts=tuple(part._replace(fixed=not _is_open(part, stored)) for part in run.parts))


def _is_open(part: Part, stored: frozenset[str]) -> bool:
    return bool(stored) and part.open_to is not None and stored <= part.open_to
