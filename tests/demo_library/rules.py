"""Find where the demo library meets each rule of states (S1 to S11), as far as the model alone can tell.

Each function returns, for every ingredient that the rule speaks of, the places where it is found.
"""

from collections.abc import Callable, Iterator, Mapping

from scenebook.model import MAIN, Library, Rig, Scene, StandIn, Unit
from scenebook.model.values import Scale, uses_tempo
from tests.demo_library.walk import Said, needs, placed, rig_units, said, scenes, steps, way

__all__ = ["STATE_RULES", "Found"]

Found = Mapping[str, list[str]]
WORDS = ("preset", "variant", "leave")


def ways(library: Library) -> Found:
    """S1: every way is the first that applies somewhere, for a member that a scene really names at a gig."""
    found: dict[str, list[str]] = {
        name: [] for name in ("loop", "message", "toggling message", "foot", "hand", "contact", "pedal")
    }
    for step in steps(library):
        for name, setting in step.place.what.units.items():
            if name in step.rig.carried:
                for member in setting.keys() & library.units[name].members.keys():
                    found[way(step.rig, name, library.units[name], member)].append(f"{step}, {name} {member}")
    found["preset only"] = [
        f"{rig_name}, {name} {member}"
        for rig_name, rig, name, unit in placed(library)
        for member in unit.switches
        if member in unit.members and way(rig, name, unit, member) == "preset only" and member in unit.stored
    ]
    found["no channel, so recalled by foot"] = [
        f"{rig_name}, {name}"
        for rig_name, rig, name, unit in rig_units(library)
        if unit.programs and unit.programs.foot and rig.placement(name).channel is None
    ]
    return found


def home(library: Library) -> Found:
    """S2: home from home's words, from home's preset, by default off; and a control that nothing determines."""
    words: list[str] = []
    preset: list[str] = []
    default: list[str] = []
    free: list[str] = []
    for rig_name, rig, name, unit in rig_units(library):
        says = rig.home.get(name, {})
        stores = unit.preset_at(says["preset"])[1].stores if "preset" in says else {}
        for member in unit.members:
            at = f"{rig_name}, {name} {member}"
            if member in says:
                words.append(at)
            elif member in stores:
                preset.append(at)
            else:
                (default if member in unit.switches else free).append(at)
    return {"home's own words": words, "home's preset": preset, "off by default": default, "free": free}


def targets(library: Library) -> Found:
    """S3: scenes that name a preset, with a variant, with edits; members with an open preset; nothing of a unit."""
    found: dict[str, list[str]] = {
        "preset alone": [],
        "variant": [],
        "preset and edits": [],
        "members, preset open": [],
    }
    for each in said(library):
        members = [key for key in each.setting if key not in WORDS]
        if "variant" in each.setting:
            found["variant"].append(str(each))
        elif "preset" in each.setting:
            found["preset and edits" if members else "preset alone"].append(str(each))
        elif members and each.unit.presets:
            found["members, preset open"].append(str(each))
    found["nothing of a unit with a preset at home"] = [
        f"{step}, {name}"
        for step in steps(library)
        for name, says in step.rig.home.items()
        if "preset" in says and name not in step.place.what.units
    ]
    return found


def in_a_preset(library: Library) -> Found:
    """S4: a preset named twice in a row needs no second recall; another needs one; edits do not end it."""
    found: dict[str, list[str]] = {"same again": [], "another": [], "edited, then same again": []}
    for step in steps(library):
        for name, setting in step.place.what.units.items():
            was = step.before.what.units.get(name, {}) if step.before else {}
            if "preset" in setting and "preset" in was:
                same = setting["preset"] == was["preset"]
                found["same again" if same else "another"].append(f"{step}, {name}")
                if same and was.keys() - set(WORDS):
                    found["edited, then same again"].append(f"{step}, {name}")
    return found


def after_a_recall(library: Library) -> Found:
    """S5: a preset that stores less than another, `rest: off`, variants that store, a switch that only presets move."""
    partial, rest, variant, only = [], [], [], []
    for name, unit in library.units.items():
        for preset in unit.presets:
            at = f"{name} {preset.slot}"
            partial += [at] if unit.stored - preset.stores.keys() and preset.rest is None else []
            rest += [at] if preset.rest == "off" else []
            variant += [at for each in preset.variants.values() if each.stores]
        only += [f"{name} {m}" for m, s in unit.switches.items() if m in unit.stored and not (s.message or s.foot)]
    return {"unknown after a recall": partial, "rest: off": rest, "variants": variant, "only presets move it": only}


def leave(library: Library) -> Found:
    """S6: a unit, a switch and a control that are left; with a named preset; at a song's start, by a segue or not."""
    found: dict[str, list[str]] = {
        "a whole unit": [str(each) for each in said(library) if "leave" in each.setting],
        "a switch": [str(e) for e in said(library) if any(t == "leave" and m in e.unit.switches for m, t in _left(e))],
        "a control": [str(e) for e in said(library) if any(t == "leave" and m in e.unit.controls for m, t in _left(e))],
        "with a named preset": [str(each) for each in said(library) if "preset" in each.setting and any(_left(each))],
        "after a segue": [],
        "at a song's start without one": [],
    }
    for step in steps(library):
        leaves = any("leave" in (*setting, *setting.values()) for setting in step.place.what.units.values())
        if step.starts_song and leaves:
            found["after a segue" if step.by_segue else "at a song's start without one"].append(str(step))
    return found


def _left(each: Said) -> Iterator[tuple[str, str]]:
    return ((member, text) for member, text in each.setting.items() if member not in WORDS and text == "leave")


def needed(library: Library) -> Found:
    """S7: what is on or recalled is a need; off is none."""
    named = [f"{place}: {unit} {what}" for place in scenes(library) for unit, what in needs(library, place.what)]
    off = [f"{each}" for each in said(library) if "off" in each.setting.values()]
    return {"on or a recall": named, "off, no need": off}


def missing_needs(library: Library, rig: Rig, scene: Scene, out: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return the needs of units that the rig does not carry, or that are out."""
    return [(unit, what) for unit, what in needs(library, scene) if unit not in rig.carried or unit in out]


def fitting(library: Library, rig: Rig, need: tuple[str, str], scene: Scene) -> list[StandIn]:
    """Return the stand-ins of a rig that fit a need, whatever their order."""
    unit, what = need
    ours = [stand_in for stand_in in rig.stand_ins if stand_in.part == unit]
    wide = [s for s in ours if s.part_switch is None and s.part_preset is None]
    if what != "preset":
        return [s for s in ours if s.part_switch == what] + (wide if what == MAIN else [])
    slot = _slot(library.units[unit], scene.units[unit]["preset"])
    exact = [s for s in ours if s.part_preset and _slot(library.units[unit], s.part_preset) == slot]
    return exact + (wide if MAIN not in scene.units[unit] else [])


def _slot(unit: Unit, text: str) -> int:
    return unit.preset_at(text)[0]


def stand_ins(library: Library) -> Found:
    """S8: for a switch, a preset, a whole unit; two for one need; controls that carry over, and some that do not."""
    every = [(name, stand_in) for name, rig in library.rigs.items() for stand_in in rig.stand_ins]
    two, kept, lost = [], [], []
    for step in steps(library):
        for need in missing_needs(library, step.rig, step.place.what, step.gig.out):
            fits = fitting(library, step.rig, need, step.place.what)
            two += [f"{step}: {need}"] if len(fits) > 1 else []
            says = step.place.what.units[need[0]].keys() & library.units[need[0]].controls.keys()
            carried = {control for stand_in in fits for control in stand_in.controls}
            kept += [f"{step}: {need}"] if fits and says & carried else []
            lost += [f"{step}: {need}"] if fits and says - carried else []
    return {
        "for a switch": [f"{rig}: {s.part} {s.part_switch}" for rig, s in every if s.part_switch],
        "for a preset": [f"{rig}: {s.part} {s.part_preset}" for rig, s in every if s.part_preset],
        "for a whole unit": [f"{rig}: {s.part}" for rig, s in every if not s.part_switch and not s.part_preset],
        "two for one need": two,
        "a control that carries over": kept,
        "a control that does not": lost,
    }


def one_place(library: Library) -> Found:
    """S9: two needs of one place, the scene's own word for it, too many sections, a lack, a colour without."""
    found: dict[str, list[str]] = {
        "two needs, one place": [],
        "the scene's word wins": [],
        "more sections than at once": [],
        "a must with no stand-in": [],
        "a colour with no stand-in": [],
    }
    for step in steps(library):
        scene = step.place.what
        missing = missing_needs(library, step.rig, scene, step.gig.out)
        fits = [(need, fitting(library, step.rig, need, scene)) for need in missing]
        firsts = [(fit[0].by, fit[0].switch or "preset") for _, fit in fits if fit]
        if len(set(firsts)) < len(firsts):
            found["two needs, one place"].append(str(step))
        if any(switch in scene.units.get(by, {}) for by, switch in firsts):
            found["the scene's word wins"].append(str(step))
        if _crowded(library, set(firsts)):
            found["more sections than at once"].append(str(step))
        for need, fit in fits:
            if not fit:
                colour = need[0] in scene.colours or ".".join(need) in scene.colours
                found["a colour with no stand-in" if colour else "a must with no stand-in"].append(f"{step}: {need}")
    return found


def _crowded(library: Library, places: set[tuple[str, str]]) -> bool:
    asked: dict[str, int] = {}
    for by, switch in places:
        if switch in library.units[by].switches and library.units[by].switches[switch].section:
            asked[by] = asked.get(by, 0) + 1
    limits = {by: library.units[by].sections_at_once for by in asked}
    return any(limit is not None and asked[by] > limit for by, limit in limits.items())


def equality(library: Library) -> Found:
    """S10: a value on every scale, steps for messages, a tolerance for hands, note values and a song without tempo."""
    found: dict[str, list[str]] = {f"scale {scale}": [] for scale in Scale}
    found |= {"by message": [], "by hand": [], "by hand within a given tolerance": [], "a note value": []}
    for each in said(library):
        for member, text in each.setting.items():
            control = each.unit.controls.get(member)
            if control is None or text == "leave":
                continue
            found[f"scale {control.scale}"].append(f"{each} {member}")
            found["by message" if control.message else "by hand"].append(f"{each} {member}")
            if control.tolerance is not None and control.by_hand:
                found["by hand within a given tolerance"].append(f"{each} {member}")
            if uses_tempo(text):
                found["a note value"].append(f"{each} {member}")
    found["a song without tempo, and no note value in it"] = [
        name
        for name, song in library.songs.items()
        if song.tempo is None
        and not any(uses_tempo(t) for s in song.scenes.values() for u in s.units.values() for t in u.values())
    ]
    return found


def loops(library: Library) -> Found:
    """S11: a unit alone in a loop, a shared loop, a send; and a scene that says what a loop or a send does."""
    every = [
        (rig_name, holder, switch, inside)
        for rig_name, rig in library.rigs.items()
        for holder, switches in rig.loops.items()
        for switch, inside in switches.items()
    ]
    sends = {(holder, switch) for rig in library.rigs.values() for holder, each in rig.sends.items() for switch in each}
    switches = {(holder, switch) for _, holder, switch, _ in every}
    return {
        "alone in a loop": [f"{rig}, {switch}" for rig, _, switch, inside in every if len(inside) == 1],
        "a shared loop": [f"{rig}, {switch}" for rig, _, switch, inside in every if len(inside) > 1],
        "a send": [f"{holder} {switch}" for holder, switch in sends],
        "a scene opens a send": [str(e) for e in said(library) if any((e.name, m) in sends for m in e.setting)],
        "a scene's word on a loop": [str(e) for e in said(library) if any((e.name, m) in switches for m in e.setting)],
    }


STATE_RULES: dict[str, Callable[[Library], Found]] = {
    "S1": ways,
    "S2": home,
    "S3": targets,
    "S4": in_a_preset,
    "S5": after_a_recall,
    "S6": leave,
    "S7": needed,
    "S8": stand_ins,
    "S9": one_place,
    "S10": equality,
    "S11": loops,
}
