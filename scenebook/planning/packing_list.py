"""What travels with a rig and what it weighs, how it is set up and in what time, and what to do when a unit dies.

Unknown weights and boot times are named, never taken as 0. Times and the usual limits of bags are common practice
(model/practice.py); how much one person should lift is worked out in lifting.py.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList
from scenebook.model import Gig, Library, Rig, Unit
from scenebook.model.amounts import counted, fixed, number_words
from scenebook.model.objects import volts_range
from scenebook.planning.leads import ASSUMED, links, midi_leads
from scenebook.planning.lifting import CASE, Lift, lifting_index, recommended_weight
from scenebook.planning.losses import Loss, Losses, LossKind
from scenebook.planning.outlets import Draw, watts
from scenebook.planning.power import Power, power
from scenebook.planning.signal_path import tangled
from scenebook.planning.supply_leads import not_fed, split_words, splits_of

__all__ = ["HEAVY_BAG_G", "Carry", "Dies", "Item", "PackingList", "StageNeeds", "Step", "carried_load", "home_cues"]
__all__ += ["is_fixed", "packing_list", "set_up_steps", "travelling"]

HEAVY_BAG_G = 32_000  # what most airports lift as one bag at all: a usual limit, common practice; ask the airline
_MAINS, _ENDS = 1, 2  # the supply's own mains lead; the leads from the instrument and to the amplifier or desk


class Item(NamedTuple):
    """One line of the packing list; `each_g` is None where nobody knows the weight, `taken` if nobody weighed it."""

    what: str
    pieces: int
    each_g: float | None
    taken: bool = False

    @property
    def grams(self) -> float | None:
        """What they weigh together."""
        return None if self.each_g is None else self.pieces * self.each_g


class Carry(NamedTuple):
    """Whether one person should lift it: the known load, and what it is held against; unknown weights come on top.

    `ratio` is the load as a multiple of the recommended weight for `lift`; `over` names the limits that are passed.
    """

    load_g: float
    unknown: tuple[str, ...]
    lift: Lift
    recommended_g: float
    ratio: float
    over: tuple[str, ...]
    weighed: bool  # whether the weight of anything but leads is known
    cabin_g: float  # the usual limit of a bag that may come into the cabin

    @property
    def alone(self) -> bool:
        """Whether one person may lift what is known of it, so lifted; never where nothing is known."""
        return self.weighed and not self.over


class Step(NamedTuple):
    """One step of the set-up: when it begins and what it takes, in s."""

    at_s: float
    takes_s: float
    what: str


class Dies(NamedTuple):
    """What to do when a unit dies: what it costs, and who plays its part as far as somebody does.

    `loop` is the switcher's loop in which it is alone: left off, no lead has to be joined.
    """

    loss: Loss
    stand_ins: tuple[str, ...]
    loop: str = ""


class StageNeeds(NamedTuple):
    """What a stage manager asks: mains leads with who needs them, lines with where from, the least floor in m².

    `no_size` names the units whose outline is not known, `watts` what is known to be taken from outlets.
    """

    drops: tuple[str, ...]
    watts: float
    no_current: tuple[str, ...]
    lines: tuple[tuple[str, int | None, bool], ...]  # unit; 1 mono, 2 stereo, None not noted; whether it is a DI
    floor_m2: float
    no_size: tuple[str, ...]
    set_up_s: float
    strike_s: float


@dataclass(frozen=True)
class PackingList:
    """A rig packed: what travels, its load, the steps of setting up, the stage's needs, and what every loss costs."""

    rig: str
    is_fixed: bool
    items: tuple[Item, ...]
    carry: Carry
    steps: tuple[Step, ...]
    awake: tuple[tuple[str, float], ...]  # each unit that boots, and how many s after the supply is on it is awake
    boot_unknown: tuple[str, ...]
    home_moves: int
    stage: StageNeeds
    dies: tuple[Dies, ...]
    power: Power
    no_supply_lead: tuple[str, ...] = ()  # each unit for which none is counted though it takes a supply, and why
    tangled: tuple[str, ...] = ()  # why the signal's leads cannot be plugged as the rig says

    @cached_property
    def known_g(self) -> float:
        """What all of known weight comes to."""
        return sum(item.grams or 0 for item in self.items)

    @cached_property
    def unknown(self) -> tuple[str, ...]:
        """What travels and has no known weight."""
        return tuple(item.what for item in self.items if item.each_g is None)


def packing_list(library: Library, rig: str, gigs: Sequence[str] | None = None) -> PackingList:
    """Return a rig packed; what a loss costs is counted over the named gigs, or all.

    Raises:
        ScenebookError: the rig's home cannot be set.
    """
    of_rig = library.rigs[rig]
    fed, fixed = power(library, rig), is_fixed(of_rig)
    items = tuple(_items(library, of_rig, fed))
    moves = _home_moves(home_cues(library, rig))
    return PackingList(
        rig=rig,
        is_fixed=fixed,
        items=items,
        carry=carried_load(library, items),
        steps=set_up_steps(library, rig),
        awake=_awake(library, of_rig),
        boot_unknown=tuple(name for name, unit in _units(library, of_rig).items() if _may_boot(unit)),
        home_moves=moves,
        stage=_stage(library, of_rig, fed, fixed=fixed),
        dies=_dies(library, rig, gigs, fed),
        power=fed,
        no_supply_lead=tuple(not_fed(fed)) if fed.loads else (),
        tangled=tangled(of_rig),
    )


def travelling(library: Library, rig: str) -> tuple[Item, ...]:
    """Return what travels with a rig: units, supply, frame, case and leads."""
    return tuple(_items(library, library.rigs[rig], power(library, rig)))


def set_up_steps(library: Library, rig: str) -> tuple[Step, ...]:
    """Return the steps from the case to the end of the line check, each with its time.

    Raises:
        ScenebookError: the rig's home cannot be set.
    """
    of_rig = library.rigs[rig]
    return tuple(_steps(library, of_rig, _home_moves(home_cues(library, rig)), fixed=is_fixed(of_rig)))


def home_cues(library: Library, rig: str) -> CueList:
    """Return the rig's home, compiled: a gig without songs, in which cue 0 is all there is."""
    return compile_gig(library.model_copy(update={"gigs": {rig: Gig(rig=rig)}}), rig)


def carried_load(library: Library, items: Sequence[Item], lift: Lift = CASE) -> Carry:
    """Return whether one person should lift all of it at once, held against the usual limits too."""
    practice = library.settings.practice
    load, unknown = sum(item.grams or 0 for item in items), tuple(i.what for i in items if i.each_g is None)
    weighed = any(item.each_g is not None and not item.taken for item in items)
    recommended = recommended_weight(lift) * 1000
    limits = (
        ("what is recommended for one person, so lifted", recommended),
        ("the usual limit for one pair of hands", practice.lift_g),
        ("the usual limit of a checked bag", practice.bag_g),
        ("the heaviest bag that is usually taken at all", HEAVY_BAG_G),
    )
    over = tuple(f"{what}, {fixed(grams / 1000, 1)} kg" for what, grams in limits if load > grams)
    return Carry(load, unknown, lift, recommended, lifting_index(load / 1000, lift), over, weighed, practice.cabin_g)


def is_fixed(rig: Rig) -> bool:
    """Return whether the units are taken to be fixed on a board: the rig says what its frame or case weighs."""
    return rig.frame_g is not None or rig.case_g is not None


def _units(library: Library, rig: Rig) -> dict[str, Unit]:
    names = dict.fromkeys([*rig.carried, *([rig.supply] if rig.supply else [])])
    return {name: library.units[name] for name in names}


def _items(library: Library, rig: Rig, plan: Power) -> Iterator[Item]:
    units, lead_g = _units(library, rig), library.settings.practice.lead_g
    for name, unit in units.items():
        yield Item(name, 1, unit.weight_g)
    yield Item("bare board or frame", 1, rig.frame_g)
    yield Item("case or bag", 1, rig.case_g)
    yield Item("signal leads, those to instrument and amplifier too", len(links(rig)) + _ENDS, lead_g, taken=True)
    yield from _supply_items(units, rig, plan, lead_g)
    midi = midi_leads(rig)
    if midi:
        some = sum(lead not in rig.leads for lead in midi)
        assumed = f", {some} of them {ASSUMED}" if some else ""
        assumed = assumed if rig.leads else ", taken for granted: port to the first, thru to the next"
        yield Item(f"MIDI leads{assumed}", len(midi), lead_g, taken=True)
    own = [name for name, unit in units.items() if unit.supply and unit.supply.own]
    for name in own:
        yield Item(f"mains supply of {name}", 1, None)


def _supply_items(units: Mapping[str, Unit], rig: Rig, plan: Power, lead_g: float) -> Iterator[Item]:
    """Yield the leads from the supply; a splitting lead weighs as much as the leads that it is in place of.

    Where no outlet is known, a lead is counted for each unit that takes a supply.
    """
    splits = splits_of(plan)
    takes = sum(_takes(unit) and name != rig.supply for name, unit in units.items())
    fed = sum(len(load.units) for load in plan.loads) if plan.loads else takes
    single = fed - sum(len(split.units) for split in splits)
    yield Item("supply leads, the mains lead too", single + _MAINS, lead_g, taken=True)
    for split in splits:
        what = f"splitting lead, {len(split.units)} supply leads in one, {split_words(split)}"
        yield Item(what, 1, len(split.units) * lead_g, taken=True)


def _takes(unit: Unit) -> bool:
    return unit.supply is None or not (unit.supply.none or unit.supply.own)


def _may_boot(unit: Unit) -> bool:
    """Whether it is not known when a unit is awake: it has programs or messages, and nothing is said of its boot."""
    digital = unit.programs is not None or any(switch.message or switch.toggle for switch in unit.switches.values())
    return digital and unit.boot_s is None


def _awake(library: Library, rig: Rig) -> tuple[tuple[str, float], ...]:
    boots = [(name, unit.boot_s) for name, unit in _units(library, rig).items() if unit.boot_s]
    return tuple(sorted(boots, key=lambda each: each[1]))


def _home_moves(cues: CueList) -> int:
    return len(cues.cues[0].by_hand) if cues.cues else 0


def _steps(library: Library, rig: Rig, moves: int, *, fixed: bool) -> Iterator[Step]:
    """Yield the steps: mains first, so that what boots does so while leads are plugged; the amplifier last."""
    practice = library.settings.practice
    to_sound = practice.board_set_up_s if fixed else practice.loose_set_up_s
    on = min(practice.lead_s, to_sound) if fixed else max(0.0, to_sound - practice.lead_s)
    if fixed:
        yield Step(0, on, "Board out of its case, mains lead in; amplifier off or turned down")
    else:
        placed = min(on, practice.unit_s * len(_units(library, rig)))
        yield Step(0, placed, "Units out of their bags and in their places")
        yield Step(placed, on - placed, "All leads in; amplifier off or turned down")
    yield Step(on, to_sound - on, "Supply on; leads to instrument and desk while the units wake")
    boots = _awake(library, rig)
    awake = on + boots[-1][1] if boots else on
    if awake > to_sound:
        yield Step(to_sound, awake - to_sound, f"Wait for the last unit, {boots[-1][0]}")
    at = max(to_sound, awake)
    yield Step(
        at, moves * practice.home_s, f"Home: {counted(moves, 'knob or switch', 'knobs and switches')} looked at and set"
    )
    at += moves * practice.home_s
    yield Step(at, practice.line_check_s, "Line check: level down, bare sound, then each thing that sounds")


def _stage(library: Library, rig: Rig, fed: Power, *, fixed: bool) -> StageNeeds:
    practice, units = library.settings.practice, _units(library, rig)
    own = [name for name, unit in units.items() if unit.supply and unit.supply.own]
    unsaid = ["a supply, not noted in the rig"] if any(map(_takes, units.values())) else []
    supply = [rig.supply] if rig.supply else unsaid
    sizes = [unit.size for unit in units.values() if unit.size]
    floor = sum((size.width + 2 * practice.plug_mm) * size.depth for size in sizes) / 1e6
    return StageNeeds(
        drops=(*supply, *own),
        watts=fed.watts if fed.loads else sum(map(_least_watts, fed.draws)),
        no_current=tuple(name for name, _ in fed.unknown),
        lines=tuple(_line(name, library.units[name]) for name in _last(rig)),
        floor_m2=floor,
        no_size=tuple(name for name, unit in units.items() if unit.size is None),
        set_up_s=practice.board_set_up_s if fixed else practice.loose_set_up_s,
        strike_s=practice.board_strike_s if fixed else practice.loose_strike_s,
    )


def _least_watts(draw: Draw) -> float:
    """Return the W that a unit takes at the lowest voltage that its plate names; 0 where that is not understood."""
    volts = volts_range(draw.supply.volts)
    return watts(volts[0], draw.ma) if volts else 0.0


def _line(name: str, unit: Unit) -> tuple[str, int | None, bool]:
    count = {"mono": 1, "stereo": 2, None: None}[unit.output]
    return name, count, "direct box" in name.casefold()


def _last(rig: Rig) -> tuple[str, ...]:
    """Return the units from which the signal leaves the rig."""
    if not rig.chain:
        return ()
    last = rig.chain[-1]
    return (last,) if isinstance(last, str) else tuple(path[-1] for path in last.parallel if path)


def _dies(library: Library, rig: str, gigs: Sequence[str] | None, plan: Power) -> tuple[Dies, ...]:
    losses = [loss for loss in Losses(library, rig, gigs).single(plan) if loss.kind is not LossKind.LEAD]
    of_rig = library.rigs[rig]
    return tuple(Dies(loss, _played_by(of_rig, loss), _own_loop(of_rig, loss.name)) for loss in losses)


def _own_loop(rig: Rig, unit: str) -> str:
    loops = [(holder, switch, inside) for holder, own in rig.loops.items() for switch, inside in own.items()]
    return next((f"{switch} of {holder}" for holder, switch, inside in loops if inside == (unit,)), "")


def _played_by(rig: Rig, loss: Loss) -> tuple[str, ...]:
    """Return who plays the part of what is gone, the likest first; what is gone itself plays nothing."""
    there = set(rig.carried) - set(loss.gone)
    found = [s for s in rig.stand_ins if s.part in loss.gone and s.by in there]
    words = []
    for each in sorted(found, key=lambda s: -s.likeness):
        part = each.part_switch or (f"preset {each.part_preset}" if each.part_preset else "")
        by = f"preset {each.preset}" if each.preset else "" if each.switch == "main" else each.switch or ""
        who = f"{each.part} {part}".strip() + f" by {each.by} {by}".rstrip()
        words.append(f"{who}, likeness {number_words(each.likeness, 2)}")
    return tuple(words)
