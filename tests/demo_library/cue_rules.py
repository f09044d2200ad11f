"""Find where the demo library has what each rule of cueing (C1 to C10) and of the proof (P1 to P4) speaks of.

Whether the rule then holds is for the compiler's and the proof's own tests. Each function returns, for every
ingredient, the places where it is found.
"""

from collections.abc import Callable, Iterator

from scenebook.model import MAIN, Library, Placement, Role, Unit
from scenebook.model.messages import MessagePattern
from scenebook.model.protocol import SYSEX_START
from scenebook.model.songs import seconds
from tests.demo_library.rules import Found
from tests.demo_library.walk import Step, placed, rig_units, steps, way

__all__ = ["CUE_RULES", "PROOF_RULES"]

INSTANT = 0.0


def cost(library: Library) -> Found:
    """C1: recalls that are heard as a hole and some that are not, moves by hand, and program changes."""
    hole: list[str] = []
    none: list[str] = []
    hand: list[str] = []
    for step, name, unit in named_presets(library):
        assert unit.programs is not None
        (hole if unit.programs.hole_ms else none).append(f"{step}, {name}")
    for step in steps(library):
        hand += [f"{step}, {name} {member}" for name, member in by_hand(library, step)]
    return {"a recall heard as a hole": hole, "a recall that is none": none, "moves by hand and foot": hand}


def named_presets(library: Library) -> Iterator[tuple[Step, str, Unit]]:
    """Yield the scenes at gigs that name a preset of a unit that the rig carries."""
    for step in steps(library):
        for name, setting in step.place.what.units.items():
            if "preset" in setting and name in step.rig.carried:
                yield step, name, library.units[name]


def by_hand(library: Library, step: Step) -> Iterator[tuple[str, str]]:
    """Yield (unit, member) for what a scene says of members that hands and feet work on its rig."""
    for name, setting in step.place.what.units.items():
        unit = library.units[name]
        for member in setting.keys() & unit.members.keys() if name in step.rig.carried else ():
            if way(step.rig, name, unit, member) in ("foot", "hand", "contact", "pedal"):
                yield name, member


def path(library: Library) -> Found:
    """C2: presets that are open between two that are named, so that there is something to choose; variants."""
    found: dict[str, list[str]] = {"open between two named": [], "a variant reached": []}
    last: dict[tuple[str, str], list[bool]] = {}
    for step in steps(library):
        for name in step.rig.carried:
            if not library.units[name].presets:
                continue
            setting = step.place.what.units.get(name, {})
            kinds = last.setdefault((step.gig.place, name), [])
            kinds.append("preset" in setting)
            if "variant" in setting:
                found["a variant reached"].append(f"{step}, {name}")
            if kinds[-1] and kinds[:-1][-1:] != [True] and any(kinds[:-1]) and setting:
                found["open between two named"].append(f"{step}, {name}")
    return found


def bank_select(library: Library) -> Found:
    """C3: Bank Select by MSB, by LSB and by both; and a preset beyond the first bank that a gig recalls."""
    found: dict[str, list[str]] = {
        kind: [f"{rig}, {name}" for rig, _, name, unit in placed(library) if _bank_kind(unit) == kind]
        for kind in ("msb", "lsb", "both", "none")
    }
    found["beyond the first bank"] = [
        f"{step}, {name}"
        for step, name, unit in named_presets(library)
        if unit.programs and unit.preset_at(step.place.what.units[name]["preset"])[0] > 127
    ]
    return found


def _bank_kind(unit: Unit) -> str:
    return unit.programs.bank_select.value if unit.programs else ""


def full(library: Library) -> Found:
    """C4: a unit that ignores its current program, one that toggles, a looper, a left unit, free controls."""
    return {
        "ignores its current program": [
            f"{rig}, {name}" for rig, _, name, u in placed(library) if u.programs and u.programs.repeat == "ignored"
        ],
        "toggles": [
            f"{rig_name}, {name} {switch}"
            for rig_name, rig, name, unit in placed(library)
            for switch in unit.switches.keys() & unit.members.keys()
            if way(rig, name, unit, switch) == "toggling message"
        ],
        "a looper": [f"{rig}, {name}" for rig, _, name, unit in rig_units(library) if Role.LOOPER in unit.roles],
        "a left unit": [
            f"{step}, {name}"
            for step in steps(library)
            for name, setting in step.place.what.units.items()
            if "leave" in setting and name in step.rig.carried
        ],
        "positions to check": [f"{rig}" for rig, r in library.rigs.items() if _hand_positions(library, r.home)],
    }


def _hand_positions(library: Library, home: dict[str, dict[str, str]]) -> bool:
    return any(
        m in library.units[n].controls and library.units[n].controls[m].by_hand for n, s in home.items() for m in s
    )


def before_the_first_song(library: Library) -> Found:
    """C5: every rig has a home, some of it recalled, some of it set by hand."""
    return {
        f"{name}: {what}": [unit for unit, says in rig.home.items() if ("preset" in says) == (what == "recalled")]
        for name, rig in library.rigs.items()
        for what in ("recalled", "set")
    }


def order(library: Library) -> Found:
    """C6: one port with a recall and another unit's messages, with two recalls, and messages after a recall."""
    found: dict[str, list[str]] = {"a recall and another unit": [], "two recalls": [], "messages after a recall": []}
    for step in steps(library):
        ports: dict[str | None, list[bool]] = {}
        for name, setting in step.place.what.units.items():
            port = step.rig.placement(name).port
            if port is not None and setting != _before(step, name):
                ports.setdefault(port, []).append("preset" in setting)
                if "preset" in setting and setting.keys() - {"preset", "variant"}:
                    found["messages after a recall"].append(f"{step}, {name}")
        for recalls in ports.values():
            found["a recall and another unit"] += [str(step)] if any(recalls) and not all(recalls) else []
            found["two recalls"] += [str(step)] if sum(recalls) > 1 else []
    return found


def _before(step: Step, name: str) -> dict[str, str]:
    return dict(step.before.what.units.get(name, {})) if step.before else {}


def time(library: Library) -> Found:
    """C7: a rig with two ports and its clocks; units that take long to settle and some that are quick."""
    settle = [(f"{r}, {n}", u.programs.settle_ms) for r, _, n, u in placed(library) if u.programs]
    return {
        "two ports": [name for name, rig in library.rigs.items() if len(rig.ports) > 1],
        "slow to settle": [where for where, ms in settle if ms is not None and ms >= 200],
        "quick to settle": [where for where, ms in settle if ms is not None and ms < 100],
    }


def triggers(library: Library) -> Found:
    """C8: triggers by note, controller and foot at a gig, and by any bytes; one on re-entering a scene."""
    found: dict[str, list[str]] = {"note": [], "controller": [], "foot": [], "not carried": []}
    for step in steps(library):
        for text in step.place.what.triggers:
            name, _, trigger = text.partition(".")
            what = library.units[name].triggers[trigger]
            kind = "note" if what.note is not None else "controller" if what.controller is not None else "foot"
            found[kind if name in step.rig.carried else "not carried"].append(f"{step}: {text}")
    found["bytes"] = [f"{n}.{t}" for n, u in library.units.items() for t, what in u.triggers.items() if what.bytes]
    return found


def hands_and_feet(library: Library) -> Found:
    """C9: a knob to turn on a unit that was silent before, free bars, a recall by foot in banks, an instrument."""
    found: dict[str, list[str]] = {
        "a knob on a unit silent before": [],
        "free bars before a move": [],
        "a pedal to set": [],
        "an instrument to change within a song": [],
        "an instrument to change between songs": [],
    }
    played = ""
    for step in steps(library):
        moved = list(by_hand(library, step))
        found["free bars before a move"] += [str(step)] if moved and step.free else []
        found["a pedal to set"] += [str(s) for s in [step] if ("volume pedal", "level") in moved]
        found["a knob on a unit silent before"] += [
            f"{step}, {name} {member}" for name, member in moved if _silent_before(library, step, name, member)
        ]
        now = str(step.place.what.instrument or step.song.instrument)
        if played not in ("", now):
            within = "between songs" if step.starts_song else "within a song"
            found[f"an instrument to change {within}"].append(str(step))
        played = now
    found["a recall by foot, banks to walk"] = [
        f"{rig_name}, {name}"
        for rig_name, rig, name, unit in rig_units(library)
        if unit.programs and unit.programs.bank_of and rig.placement(name).channel is None
    ]
    return found


def _silent_before(library: Library, step: Step, name: str, member: str) -> bool:
    setting, unit = step.place.what.units[name], library.units[name]
    if member not in unit.controls or setting.get(MAIN) != "on" or step.before is None:
        return False
    return MAIN not in _before(step, name) and setting[member] != step.rig.home.get(name, {}).get(member)


def late(library: Library) -> Found:
    """C10: a gap too short for a change of instrument, turns with no free bars, bars and tempo that nobody knows."""
    found: dict[str, list[str]] = {
        "a gap too short": [],
        "a turn on the beat": [],
        "one press on the beat": [],
        "bars not known": [],
        "tempo not known": [name for name, song in library.songs.items() if song.tempo is None],
    }
    played, gap = "", INSTANT
    for step in steps(library):
        now = str(step.place.what.instrument or step.song.instrument)
        if step.starts_song and played not in ("", now) and gap * 1000 < library.settings.instrument_ms:
            found["a gap too short"].append(str(step))
        if not step.starts_song and not step.free:
            kinds = [m in library.units[n].switches for n, m in by_hand(library, step)]
            found["one press on the beat"] += [str(step)] if kinds == [True] else []
            found["a turn on the beat"] += [str(step)] if False in kinds else []
            found["bars not known"] += [str(step)] if step.bars is None else []
        played, gap = now, seconds(step.entry.gap or step.gig.gap or "0")
    return found


def wire(library: Library) -> Found:
    """P1: gigs whose rigs have ports, one with several; one with none at all."""
    ports = {gig: library.rigs[g.rig].ports for gig, g in library.gigs.items() if g.rig}
    return {
        "several ports": [gig for gig, names in ports.items() if len(names) > 1],
        "one port": [gig for gig, names in ports.items() if len(names) == 1],
        "no port": [gig for gig, names in ports.items() if not names],
    }


def receivers(library: Library) -> Found:
    """P2: every kind of message on a unit that hears some, and units that hear more than their own."""
    messages = [
        (f"{r}, {n} {m}", s.message) for r, _, n, u in placed(library) for m, s in u.switches.items() if s.message
    ]
    written = [(w, MessagePattern.parse(m.on_bytes).messages) for w, m in messages if m.on_bytes]
    heard = [(rig_name, rig.placement(name), name) for rig_name, rig, name, _ in placed(library)]
    return {
        "a controller with its two values": [w for w, m in messages if m.controller is not None and m.on is not None],
        "a controller alone": [w for w, m in messages if m.controller is not None and m.on is None],
        "a note": [w for w, m in messages if m.note is not None],
        "an exclusive message": [w for w, parts in written if parts[0][0] == SYSEX_START],
        "a press and a release": [w for w, parts in written if len(parts) > 1],
        "hears all channels": [f"{rig}, {name}" for rig, place, name in heard if place.hears == "omni"],
        "hears several channels": [f"{rig}, {name}" for rig, p, name in heard if isinstance(p.hears, tuple)],
        "shares a channel": [f"{rig}, {name}" for rig, p, name in heard if _shares(heard, rig, p)],
        "a channel mode number by the chart": [
            f"{rig}, {n} {m}"
            for rig, _, n, u in placed(library)
            for m, s in u.switches.items()
            if s.toggle and s.toggle.by_chart
        ],
    }


def _shares(heard: list[tuple[str, Placement, str]], rig: str, place: Placement) -> bool:
    same = [name for r, p, name in heard if (r, p.port, p.channel) == (rig, place.port, place.channel)]
    return len(same) > 1


def compared(library: Library) -> Found:
    """P3: what is proved, what hands do, what is free, and triggers to count."""
    hears = [(step, name) for step in steps(library) for name in step.place.what.units if step.rig.placement(name).port]
    return {
        "proved": [f"{step}, {name}" for step, name in hears],
        "not proved, by hand": [f"{step}, {n} {m}" for step in steps(library) for n, m in by_hand(library, step)],
        "free where messages are heard": [
            f"{rig_name}, {name} {member}"
            for rig_name, rig, name, unit in placed(library)
            for member in unit.controls
            if member not in rig.home.get(name, {}) and member not in unit.stored
        ],
        "triggers": [f"{step}" for step in steps(library) if step.place.what.triggers],
    }


def changed_in_transit(library: Library) -> Found:
    """P4: waits that could be cut short, and messages enough to change or drop, at every gig that has messages."""
    found: dict[str, list[str]] = {}
    for step, name, unit in named_presets(library):
        if step.rig.placement(name).port and unit.programs and unit.programs.settle_ms:
            found.setdefault(f"waits at {step.gig.place}", []).append(f"{step}, {name}")
    for step in steps(library):
        messages = [n for n in step.place.what.units if step.rig.placement(n).port]
        found.setdefault("messages to change", []).extend(f"{step}, {name}" for name in messages)
    return found


CUE_RULES: dict[str, Callable[[Library], Found]] = {
    "C1": cost,
    "C2": path,
    "C3": bank_select,
    "C4": full,
    "C5": before_the_first_song,
    "C6": order,
    "C7": time,
    "C8": triggers,
    "C9": hands_and_feet,
    "C10": late,
}
PROOF_RULES: dict[str, Callable[[Library], Found]] = {
    "P1": wire,
    "P2": receivers,
    "P3": compared,
    "P4": changed_in_transit,
}
