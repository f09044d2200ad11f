"""From a library to the question that a choice asks: which scenes, how often, and what may meet each of their needs.

Every unit of the library may be carried, each that hears MIDI with a channel, and the stand-ins of all rigs count. What
a gig says of its own rig (units that are out or played by another) is about that rig: it has no part in choosing one.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

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
    idle = 0.0
    asked: dict[Asked, tuple[float, tuple[tuple[str, str], ...]]] = {}
    for gig in chosen_gigs(library, gigs).values():
        before: Asked | None = None
        for point in gig_points(library, gig):
            before = reader.asked(point, None if point.afresh else before)
            if not before.needs and not before.refusing:
                idle += 1.0
            weight, names = asked.get(before, (0.0, ()))
            asked[before] = weight + 1.0, tuple(dict.fromkeys((*names, (point.song_name, point.part.scene))))
    return Instance(
        units=reader.names,
        asks=tuple(_ask(each, *said) for each, said in asked.items() if each.needs or each.refusing),
        sections=(*(unit.sections_at_once for unit in library.units.values()), None),
        colour_share=library.settings.practice.colour_share,
        mean=mean,
        idle=idle,
    )


class Asked(NamedTuple):
    """What a scene asks: two that ask the same are one."""

    needs: tuple[Need, ...]
    used: tuple[tuple[int, int], ...]
    refusing: int
    leaves: frozenset[tuple[int, str]]
    named: int
    before: "Asked | None"


def _ask(asked: Asked, weight: float, names: tuple[tuple[str, str], ...]) -> Ask:
    before = _ask(asked.before, 0.0, ()) if asked.before else None
    return Ask(asked.needs, weight, asked.used, asked.refusing, names, asked.leaves, asked.named, before)


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
        self._known: dict[tuple[str, str, float | None], Asked] = {}

    def asked(self, point: Point, before: Asked | None) -> Asked:
        """Return what a scene asks where it is played; `before` is asked before it, and matters where it leaves."""
        scene, key = point.song.scenes[point.part.scene], (point.song_name, point.part.scene, point.tempo)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._asked(scene, point.tempo)
        return found._replace(before=before) if found.leaves and before else found._replace(leaves=frozenset())

    def _asked(self, scene: Scene, tempo: float | None) -> Asked:
        needs = [self._need(need, scene, tempo) for need in needs_of(scene.units, self._units)]
        needs += [self._trigger(text, scene) for text in scene.triggers]
        used, refusing, named = [], 0, 0
        leaves: set[tuple[int, str]] = set()
        for name, setting in scene.units.items():
            unit, number = self._units[name], self._index[name]
            sections = sum(text == "on" and is_section(unit, member) for member, text in setting.items())
            used += [(number, sections)] if sections else []
            refusing |= (not self._settable(name, setting, tempo)) << number
            named |= 1 << number
            leaves |= {(number, "")} if "leave" in setting else set()
            leaves |= {(number, member) for member, text in setting.items() if text == "leave"}
        return Asked(tuple(needs), tuple(used), refusing, frozenset(leaves), named if leaves else 0, None)

    def _need(self, need: Named, scene: Scene, tempo: float | None) -> Need:
        offers = tuple(
            self._offer(each, need, scene, tempo)
            for each in candidates(self._stage, need, scene.units[need.unit])
            if is_open(place_of(each), scene.units)
        )
        return Need(self._index[need.unit], is_colour(need, scene), offers, member=need.member)

    def _offer(self, stand_in: StandIn, need: Named, scene: Scene, tempo: float | None) -> Offer:
        carried = {stand_in.by: dict(scene.units.get(stand_in.by, {}))}
        apply(stand_in, scene.units[need.unit], self._stage, carried)
        place = self._places.setdefault(place_of(stand_in), len(self._places))
        section = stand_in.switch is not None and is_section(self._units[stand_in.by], stand_in.switch)
        works = self._settable(stand_in.by, carried[stand_in.by], tempo)
        return Offer(self._index[stand_in.by], place, section, stand_in.likeness, works, stand_in.switch is None)

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
