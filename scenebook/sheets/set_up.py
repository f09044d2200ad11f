"""Make the set-up page: what is put where, how every knob stands, and what to take care of."""

from collections.abc import Mapping, Sequence

from scenebook.cueing.cues import Action, ByHand, Cue, CueList, UnitState
from scenebook.model import MAIN, Gig, Library, Placement, Rig, Unit
from scenebook.model.amounts import fixed, number_words
from scenebook.model.rigs import Lead
from scenebook.planning.leads import ASSUMED, midi_leads
from scenebook.sheets.view import Do, SetUp, Table
from scenebook.sheets.words import dos_of, preset_words, spoken, unit_of, value_words

__all__ = ["CHANNELS", "LOOPS", "SUPPLY", "looped_units", "set_up_of", "supply_words"]

CHANNELS, LOOPS = "Channels", "Loops"
SUPPLY = "Supply, by what the library notes (the plate decides)"

CAUTIONS = (
    "Supply: follow the plate on the unit for voltage, AC or DC, polarity and current, not this page. "
    "A wrong voltage or polarity can destroy a unit and start a fire.",
    "Mains: only sound leads, sockets with earth and a residual-current device. Work on mains is for licensed people, "
    "by the local code; ask the hall before you share a circuit.",
    "Lifting: two people for what is heavy or awkward; keep lanes and exits free of leads.",
    "Hearing: a unit that is switched in can be far louder than what was there. Begin with the level down, wear ear "
    "protection, and switch an amplifier off or turn it down before you plug.",
)


def set_up_of(library: Library, gig: Gig, rig: Rig, cue_list: CueList, short: Mapping[str, str]) -> SetUp:
    """Return the set-up page of a gig on the rig that travels."""
    home = cue_list.cues[0] if cue_list.cues else None
    carried = tuple(state.unit for state in home.states) if home else rig.carried
    tables = (
        _loops(rig, gig),
        _channels(rig, gig, carried),
        _home(library, home, looped_units(rig, gig)),
        _supplies(library, carried),
    )
    return SetUp(
        chain=chain_words(rig, gig),
        leads=leads_words(rig, gig),
        changes=_changes(gig),
        tables=tuple(table for table in tables if table.rows or table.closing),
        checks=_checks(library, home, carried, short) if home else (),
        notes=tuple(note for note in (gig.notes, rig.notes) if note),
        warnings=cue_list.warnings,
        cautions=CAUTIONS,
    )


def _checks(library: Library, home: Cue, carried: Sequence[str], short: Mapping[str, str]) -> tuple[Do, ...]:
    """Return what is done at home on nothing that is carried: the instrument taken up."""
    moves = [move for move in home.by_hand if move.unit not in carried]
    return dos_of(spoken(moves, library.units), cue=0, short=short)


def chain_words(rig: Rig, gig: Gig) -> str:
    """Return the chain as one line: "in → fuzz → [ delay | dry ] → out"."""
    links = []
    for link in rig.chain:
        if isinstance(link, str):
            links.append(_tonight(gig, link))
        else:
            paths = [" → ".join(_tonight(gig, name) for name in path) or "dry" for path in link.parallel]
            links.append(f"[ {' | '.join(paths)} ]")
    return " → ".join(["in", *(link for link in links if link), "out"])


def _tonight(gig: Gig, name: str) -> str:
    """Return what stands at a unit's place tonight."""
    if name in gig.played_by:
        return gig.played_by[name]
    return f"({name}: out)" if name in gig.out else name


def _changes(gig: Gig) -> tuple[str, ...]:
    out = [f"Out tonight: {name}" for name in gig.out if name not in gig.played_by]
    return (*out, *(f"{old} is played by {new}" for old, new in gig.played_by.items()))


def _loops(rig: Rig, gig: Gig) -> Table:
    rows = [
        (
            f"{_tonight(gig, holder)}, {switch}{kind}",
            ", then ".join(_tonight(gig, name) for name in inside) or "nothing",
        )
        for kind, holders in (("", rig.loops), (" (send and return)", rig.sends))
        for holder, switches in holders.items()
        for switch, inside in switches.items()
    ]
    return Table(LOOPS, ("switch", "in loop"), tuple(rows))


def looped_units(rig: Rig, gig: Gig) -> frozenset[str]:
    """Return the units that stand in a loop or a send tonight."""
    inside = [
        names for holders in (rig.loops, rig.sends) for switches in holders.values() for names in switches.values()
    ]
    return frozenset(gig.played_by.get(name, name) for names in inside for name in names)


def leads_words(rig: Rig, gig: Gig) -> str:
    """Return the MIDI leads as one line, each from where to where: as noted, then those that are taken for granted."""
    out = {name for name in gig.out if name not in gig.played_by}
    leads = midi_leads(rig, out)
    noted = "; ".join(_lead_words(lead, gig) for lead in leads if lead in rig.leads)
    assumed = "; ".join(_lead_words(lead, gig) for lead in leads if lead not in rig.leads)
    return "; ".join(filter(None, [noted, f"{ASSUMED}: {assumed}" if assumed else ""]))


def _lead_words(lead: Lead, gig: Gig) -> str:
    start = f"port {lead.port}" if lead.port else f"thru of {_tonight(gig, lead.thru or '')}"
    return f"{start} → {_tonight(gig, lead.to)}"


def _channels(rig: Rig, gig: Gig, carried: Sequence[str]) -> Table:
    places = {gig.played_by.get(name, name): rig.placement(name) for name in rig.carried}
    rows = [
        (name, place.port, str(place.channel), _listens_to(place))
        for name in carried
        if (place := places.get(name)) and place.port is not None
    ]
    return Table(CHANNELS, ("unit", "port", "channel", "listens to channels"), tuple(rows))


def _listens_to(place: Placement) -> str:
    if place.hears == "omni":
        return "all"
    return ", ".join(str(channel) for channel in sorted(place.channels))


def _home(library: Library, home: Cue | None, looped: frozenset[str]) -> Table:
    rows = [_home_row(library, state, home.by_hand, state.unit in looped) for state in home.states] if home else []
    title = "Home: how every switch and knob stands before the first song"
    return Table(title, ("unit", "set and check by hand", "by message or preset; free"), tuple(rows))


def _home_row(library: Library, state: UnitState, moves: Sequence[ByHand], looped: bool) -> tuple[str, str, str]:
    """Return a unit's row: what hands set there, then what comes by itself; free is what nobody asks for."""
    unit = unit_of(library.units, state.unit)
    own = [move for move in moves if move.unit == state.unit]
    tuning, done = library.settings.tuning, {move.member for move in own}
    by_hand = [_IN_LOOP if looped and _is_on(move) else _member(unit, move.member, move.after, tuning) for move in own]
    stored = next((preset for preset in unit.presets if preset.slot == state.preset), None)
    preset = preset_words(stored, state.variant) if stored else state.preset or ""
    recalled = any(move.action is Action.RECALL or move.member == "preset" for move in own)
    rest = [f"preset {preset}"] if preset and not recalled else []
    rest += [_member(unit, name, state.values[name], tuning) for name in unit.members if name in _rest(state, done)]
    free = [name for name in unit.members if name not in state.values]
    rest += [f"free: {', '.join(free)}"] if free else []
    return f"{'●' if state.sounds else '○'} {state.unit}", "; ".join(by_hand), "; ".join(rest)


_IN_LOOP = "own switch on; its loop decides"


def _is_on(move: ByHand) -> bool:
    return move.member in ("", MAIN) and move.after == "on"


def _rest(state: UnitState, done: set[str]) -> set[str]:
    return set(state.values) - done


def _member(unit: Unit, member: str, text: str, tuning: float) -> str:
    value = value_words(text, unit.controls.get(member), None, tuning)
    return value if member in ("", MAIN) else f"{member} {value}"


def _supplies(library: Library, carried: Sequence[str]) -> Table:
    units = {name: unit_of(library.units, name) for name in carried}
    rows = tuple(_supply(name, unit) for name, unit in units.items() if _is_noted(unit))
    blank = [name for name, unit in units.items() if not _is_noted(unit)]
    closing = f"Not noted: {', '.join(blank)}" if blank else ""
    return Table(SUPPLY, _SUPPLY if rows else (), rows, closing)


def _is_noted(unit: Unit) -> bool:
    return any(said is not None for said in (unit.supply, unit.boot_s, unit.weight_g))


_UNKNOWN = "unknown"
_SUPPLY = ("unit", "volts", "polarity", "mA", "plug", "ready after", "weight")


def _supply(name: str, unit: Unit) -> tuple[str, ...]:
    weight = "" if unit.weight_g is None else f"{fixed(unit.weight_g / 1000, 1)} kg"
    return (name, *supply_words(unit), weight)


def supply_words(unit: Unit) -> tuple[str, str, str, str, str]:
    """Return a unit's volts, polarity, mA, plug, and when it is ready.

    What is not known says so, since an empty cell beside mA would be read as none.
    """
    said = (_UNKNOWN, "", _UNKNOWN, "")
    if unit.supply and unit.supply.none:
        said = ("none", "", "none", "")
    elif unit.supply:
        supply = unit.supply
        polarity = supply.polarity or (_UNKNOWN if supply.current == "DC" else "")
        ma = _UNKNOWN if supply.ma is None else f"{number_words(supply.ma, 2)}"
        said = (f"{supply.volts} V {supply.current}", polarity, ma, supply.plug)
    return (*said, "" if unit.boot_s is None else f"{number_words(unit.boot_s)} s")
