"""From a library to the question that a choice asks: which scenes, how often, and what may meet each of their needs.

Every unit of the library may be carried, each that hears MIDI with a channel, and the stand-ins of all rigs count. What a
gig says of its own rig (units that are out or played by another) is about that rig: it has no part in choosing one. What
a scene leaves counts as left from home.
"""

from collections import Counter
from collections.abc import Mapping, Sequence

from scenebook.cueing.points import Point, gig_points
from scenebook.errors import ScenebookError
from scenebook.model import Library, Placement, Rig, Scene, StandIn, Unit
from scenebook.planning.instance import Ask, Instance, Need, Offer
from scenebook.planning.worth import all_stand_ins, chosen_gigs
from scenebook.states.stage import Stage, stage_of
from scenebook.states.stand_ins import Need as Named
from scenebook.states.stand_ins import apply, candidates, is_colour, is_open, is_section, needs_of, place_of
from scenebook.states.standing import Standings

__all__ = ["PORT", "hears_midi", "instance_of"]

PORT = "main"
_EVERYTHING = "everything"


def hears_midi(unit: Unit) -> bool:
    """Whether any message works a unit, so that it wants a channel."""
    programs = unit.programs is not None and unit.programs.program_change
    switches = any(switch.message or switch.toggle for switch in unit.switches.values())
    controls = any(control.message for control in unit.controls.values())
    return programs or switches or controls or any(not trigger.foot for trigger in unit.triggers.values())


def instance_of(library: Library, gigs: Sequence[str] | None = None, *, mean: bool = False) -> Instance:
    """Return the question of the named gigs, or of all; in a library without gigs each scene counts once.

    Scenes that ask the same of every set of units are one, with the sum of their weights.
    """
    reader = _Reader(library)
    points: dict[tuple[str, str, float | None], Point] = {}
    times: Counter[tuple[str, str, float | None]] = Counter()
    for gig in chosen_gigs(library, gigs).values():
        for point in gig_points(library, gig):
            key = point.song_name, point.part.scene, point.tempo
            points[key] = point
            times[key] += 1
    merged: dict[tuple[object, ...], tuple[float, tuple[tuple[str, str], ...]]] = {}
    idle = 0.0
    for key, point in points.items():
        asked = reader.asked(point.song.scenes[point.part.scene], point.tempo)
        if not asked[0] and not asked[2]:
            idle += times[key]
        else:
            weight, names = merged.get(asked, (0.0, ()))
            merged[asked] = weight + times[key], (*names, key[:2])
    return Instance(
        units=reader.names,
        asks=tuple(Ask(*asked[:1], weight, *asked[1:], names) for asked, (weight, names) in merged.items()),  # type: ignore[arg-type, misc]
        sections=tuple(library.units[name].sections_at_once for name in library.units) + (None,),
        colour_share=library.settings.practice.colour_share,
        mean=mean,
        idle=idle,
    )


class _Reader:
    """Reads scenes as they stand on a rig that carries everything."""

    def __init__(self, library: Library) -> None:
        self._units: Mapping[str, Unit] = library.units
        self.names = (*library.units, "")  # the last is never carried: it meets what nothing in the library could
        self._index = {name: number for number, name in enumerate(library.units)}
        hearing = Placement(port=PORT, channel=1)
        placed = {name: hearing if hears_midi(unit) else Placement() for name, unit in library.units.items()}
        rig = Rig(chain=tuple(library.units), units=placed, stand_ins=all_stand_ins(library))
        self._stage: Stage = stage_of(library.model_copy(update={"rigs": {_EVERYTHING: rig}}), _EVERYTHING)
        self._standings = Standings(library, self._stage)
        self._places: dict[tuple[str, str], int] = {}

    def asked(self, scene: Scene, tempo: float | None) -> tuple[tuple[Need, ...], tuple[tuple[int, int], ...], int]:
        """Return the needs of a scene, the sections that its own words use, and the units that cannot be set so."""
        needs = [self._need(need, scene, tempo) for need in needs_of(scene.units, self._units)]
        needs += [self._trigger(text, scene) for text in scene.triggers]
        used, refusing = [], 0
        for name, setting in scene.units.items():
            unit, number = self._units[name], self._index[name]
            sections = sum(text == "on" and is_section(unit, member) for member, text in setting.items())
            used += [(number, sections)] if sections else []
            refusing |= (not self._settable(name, setting, tempo)) << number
        return tuple(needs), tuple(used), refusing

    def _need(self, need: Named, scene: Scene, tempo: float | None) -> Need:
        offers = tuple(
            self._offer(each, need, scene, tempo)
            for each in candidates(self._stage, need, scene.units[need.unit])
            if is_open(place_of(each), scene.units)
        )
        return Need(self._index[need.unit], is_colour(need, scene), offers)

    def _offer(self, stand_in: StandIn, need: Named, scene: Scene, tempo: float | None) -> Offer:
        carried = {stand_in.by: dict(scene.units.get(stand_in.by, {}))}
        apply(stand_in, scene.units[need.unit], self._stage, carried)
        place = self._places.setdefault(place_of(stand_in), len(self._places))
        section = stand_in.switch is not None and is_section(self._units[stand_in.by], stand_in.switch)
        works = self._settable(stand_in.by, carried[stand_in.by], tempo)
        return Offer(self._index[stand_in.by], place, section, stand_in.likeness, works)

    def _trigger(self, text: str, scene: Scene) -> Need:
        unit, _, name = text.partition(".")
        known = unit in self._units and name in self._units[unit].triggers
        colour = text in scene.colours or unit in scene.colours
        return Need(self._index[unit] if known else len(self._index), colour, (), trigger=True)

    def _settable(self, name: str, setting: Mapping[str, str], tempo: float | None) -> bool:
        try:
            self._standings.units[self._index[name]].of(setting, tempo, None)
        except ScenebookError:
            return False
        return True
