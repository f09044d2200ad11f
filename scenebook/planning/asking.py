"""From a library to the question that a choice asks: which scenes, how often, and what may meet each of their needs.

Every unit of the library may be carried, each that hears MIDI with a channel unless all is worked by hand, and the
stand-ins of all rigs count. What
a gig says of its own rig (units that are out or played by another) is about that rig: it has no part in choosing one.
"""

from collections.abc import Container, Iterable, Mapping, Sequence
from typing import NamedTuple

from scenebook.cueing.points import Point, gig_points
from scenebook.errors import ScenebookError
from scenebook.model import Library, Placement, Rig, Scene, StandIn, Unit
from scenebook.planning.homes import homes_of
from scenebook.planning.instance import Ask, Instance, Need, Offer, Own
from scenebook.planning.worth import all_stand_ins, chosen_gigs
from scenebook.states.sections import sections_of, sections_on
from scenebook.states.stage import Stage, stage_of
from scenebook.states.stand_ins import Need as Named
from scenebook.states.stand_ins import apply, candidates, is_colour, is_open, needs_of, place_of, plays
from scenebook.states.standing import Standings

__all__ = ["PORT", "hears_midi", "instance_of"]

PORT = "main"
_EVERYTHING = "everything"


def hears_midi(unit: Unit) -> bool:
    """Whether any message works a unit, so that it wants a channel."""
    programs = unit.programs is not None and unit.programs.program_change
    switches = any(switch.message or switch.toggle for switch in unit.switches.values())
    controls = any(control.message for control in unit.controls.values())
    variants = any(
        variant.controller is not None or variant.bytes is not None
        for preset in unit.presets
        for variant in preset.variants.values()
    )
    triggers = any(not trigger.foot for trigger in unit.triggers.values())
    return programs or switches or controls or variants or triggers


def instance_of(
    library: Library, gigs: Sequence[str] | None = None, *, mean: bool = False, by_hand: bool = False
) -> Instance:
    """Return the question of the named gigs, or of all; in a library without gigs each scene counts once.

    Scenes that ask the same of every set of units are one, with the sum of their weights. With `by_hand` no unit has a
    channel: what only messages work cannot be set.
    """
    reader = _Reader(library, by_hand=by_hand)
    idle = 0.0
    asked: dict[Asked, int] = {}
    weights: list[float] = []
    names: list[dict[tuple[str, str], None]] = []
    for gig in chosen_gigs(library, gigs).values():
        before: int | None = None
        for point in gig_points(library, gig):
            each = reader.asked(point, None if point.afresh else before)
            idle += not each.needs and not each.refusing
            before = asked.setdefault(each, len(asked))
            if before == len(weights):
                weights.append(0.0)
                names.append({})
            weights[before] += 1.0
            names[before][point.song_name, point.part.scene] = None
    asks = _asks(asked, weights, names)
    return Instance(
        units=reader.names,
        asks=tuple(ask for ask in asks if ask.needs or ask.refusing),
        sections=(*(unit.sections_at_once for unit in library.units.values()), None),
        colour_share=library.settings.practice.colour_share,
        mean=mean,
        idle=idle,
    )


class Asked(NamedTuple):
    """What a scene asks: two that ask the same are one. `before` is the number of what is asked before it."""

    needs: tuple[Need, ...]
    own: tuple[Own, ...]
    refusing: int
    leaves: frozenset[tuple[int, str]]
    named: int
    before: int | None


def _asks(asked: Iterable[Asked], weights: Sequence[float], names: Sequence[Iterable[tuple[str, str]]]) -> list[Ask]:
    """Return an ask for each, in the order in which they are first asked: what comes before is there already."""
    asks: list[Ask] = []
    for each, weight, said in zip(asked, weights, names, strict=True):
        before = None if each.before is None else asks[each.before]
        asks.append(Ask(each.needs, weight, each.own, each.refusing, tuple(said), each.leaves, each.named, before))
        assert asks[-1].units >= 0  # worked out now, so that a long chain is not walked down at once
    return asks


class _Reader:
    """Reads scenes as they stand on a rig that carries everything."""

    def __init__(self, library: Library, *, by_hand: bool) -> None:
        self._units: Mapping[str, Unit] = library.units
        self.names = (*library.units, "")  # the last is never carried: it meets what nothing in the library could
        self._index = {name: number for number, name in enumerate(library.units)}
        hearing = Placement(port=PORT, channel=1)
        deaf = {name for name, unit in library.units.items() if by_hand or not hears_midi(unit)}
        placed = {name: Placement() if name in deaf else hearing for name in library.units}
        rig = Rig(chain=tuple(library.units), units=placed, stand_ins=all_stand_ins(library))
        self._stage: Stage = stage_of(library.model_copy(update={"rigs": {_EVERYTHING: rig}}), _EVERYTHING)
        self._standings = Standings(library, self._stage)
        self._places: dict[tuple[str, str], int] = {}
        self._known: dict[tuple[str, str, float | None], Asked] = {}
        self._homes = homes_of(library, library.units)
        self._limited = [name for name, unit in library.units.items() if unit.sections_at_once is not None]

    def asked(self, point: Point, before: int | None) -> Asked:
        """Return what a scene asks where it is played; `before` is asked before it, and matters where it leaves."""
        scene, key = point.song.scenes[point.part.scene], (point.song_name, point.part.scene, point.tempo)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._asked(scene, point.tempo)
        if found.leaves and before is not None:
            return found._replace(before=before)
        return found._replace(leaves=frozenset())

    def _asked(self, scene: Scene, tempo: float | None) -> Asked:
        needs = [self._need(need, scene, tempo) for need in needs_of(scene.units, self._units)]
        needs += [self._trigger(text, scene) for text in scene.triggers]
        refusing, named = 0, 0
        leaves: set[tuple[int, str]] = set()
        for name, setting in scene.units.items():
            number = self._index[name]
            refusing |= (not self._settable(name, setting, tempo)) << number
            named |= 1 << number
            leaves |= {(number, "")} if "leave" in setting else set()
            leaves |= {(number, member) for member, text in setting.items() if text == "leave"}
        own = tuple(self._own(name, scene.units.get(name, {})) for name in self._limited)
        own = tuple(each for each in own if each.on or each.left or each.said)
        return Asked(tuple(needs), own, refusing, frozenset(leaves), named if leaves else 0, None)

    def _own(self, name: str, says: Mapping[str, str]) -> Own:
        left = ~0 if "leave" in says else self._bits(name, [member for member, text in says.items() if text == "leave"])
        return Own(self._index[name], self._on(name, says), left, self._bits(name, says))

    def _on(self, name: str, says: Mapping[str, str]) -> int:
        return self._bits(name, sections_on(self._units[name], self._homes.get(name, {}), says))

    def _bits(self, name: str, members: Container[str]) -> int:
        return sum(1 << n for n, section in enumerate(sections_of(self._units[name])) if section in members)

    def _need(self, need: Named, scene: Scene, tempo: float | None) -> Need:
        offers = tuple(
            self._offer(each, need, scene, tempo)
            for each in candidates(self._stage, need, scene.units[need.unit])
            if is_open(place_of(each), scene.units, self._stage)
        )
        return Need(self._index[need.unit], is_colour(need, scene), offers, member=need.member)

    def _offer(self, stand_in: StandIn, need: Named, scene: Scene, tempo: float | None) -> Offer:
        by, says = stand_in.by, scene.units.get(stand_in.by, {})
        carried = {by: dict(says)}
        apply(stand_in, scene.units[need.unit], self._stage, carried)
        place = self._places.setdefault(place_of(stand_in), len(self._places))
        works, preset, on = self._settable(by, carried[by], tempo), stand_in.switch is None, 0
        if by in self._limited:
            on = self._on(by, carried[by]) if preset else self._bits(by, plays(stand_in, says, self._stage))
        moves = preset and by in self._limited and on != self._on(by, says)
        return Offer(self._index[by], place, on, stand_in.likeness, works, preset, moves)

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
