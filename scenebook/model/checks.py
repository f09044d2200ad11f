"""Cross-checks: what one part of a library says about another must be there and on its scale.

Each function yields one error for each fault, with the path from the aggregate to it, so that a reader of files can
name the line. Nothing here needs a rig to be compiled: whether a scene can be reached is for states/ and cueing/.
"""

from collections.abc import Iterator, Mapping

from scenebook.errors import BadValueError, LeaveError, ScenebookError, UnknownNameError
from scenebook.model.base import did_you_mean, listed
from scenebook.model.controllers import channel_mode_uses, shared_controllers
from scenebook.model.gigs import Gig
from scenebook.model.library import Library
from scenebook.model.objects import volts_range
from scenebook.model.patterns import MessagePattern
from scenebook.model.rigs import Rig, StandIn
from scenebook.model.songs import Form, Scene, Song
from scenebook.model.stage_checks import check_on_stage
from scenebook.model.units import RESERVED, Control, Switch, Unit
from scenebook.model.values import read_value

__all__ = ["check_gig", "check_library", "check_rig", "check_setting", "check_song", "check_unit", "check_value"]

Faults = Iterator[ScenebookError]
Path = tuple[str | int, ...]


def check_library(library: Library) -> Iterator[tuple[str, str, ScenebookError]]:
    """Yield (kind, name, error) for every fault of a library."""
    for name, unit in library.units.items():
        yield from (("unit", name, fault) for fault in check_unit(unit))
    for name, rig in library.rigs.items():
        yield from (("rig", name, fault) for fault in check_rig(rig, library.units))
    for name, song in library.songs.items():
        yield from (("song", name, fault) for fault in check_song(song, library.units))
    for name, gig in library.gigs.items():
        yield from (("gig", name, fault) for fault in check_gig(gig, library))


def check_unit(unit: Unit) -> Faults:
    """Yield the faults of one unit: names, slots, stored values, message bytes, controller numbers."""
    for kind in ("switches", "controls", "triggers"):
        for name in getattr(unit, kind):
            if name in RESERVED or "." in name:
                yield BadValueError(
                    f"{name!r} cannot be a member's name",
                    path=(kind, name),
                    remedy=f"Choose a name without a point, other than {', '.join(RESERVED)}",
                )
    for name in unit.controls:
        if name in unit.switches:
            yield BadValueError(f"{name!r} is a switch and a control", path=("controls", name))
    yield from _volts_faults(unit)
    yield from _outlet_faults(unit)
    yield from shared_controllers(unit)
    yield from _message_faults(unit)
    yield from _preset_faults(unit)


def check_value(unit: Unit, member: str, text: str, tempo: float | None, path: Path = ()) -> Faults:
    """Yield a fault if `text` is not a value of the unit's `member`."""
    thing: Switch | Control | None = unit.switches.get(member) or unit.controls.get(member)
    if thing is None:
        yield _unknown(f"no member is called {member!r}", member, [*unit.switches, *unit.controls], path)
    elif isinstance(thing, Switch):
        if not thing.momentary and text not in ("on", "off"):
            yield BadValueError(
                f"{member!r} is a switch, and {text!r} is no state of it", accepted="on, off, leave", path=path
            )
    else:
        try:
            read_value(text, thing.scale, tempo=tempo, choices=thing.choices)
            _check_range(thing, text, tempo)
        except BadValueError as error:
            yield error.at(f"control {member!r}", *path)


def check_setting(unit: Unit, setting: Mapping[str, str], tempo: float | None, path: Path = ()) -> Faults:
    """Yield the faults of what a scene or a home says of one unit."""
    if "leave" in setting and len(setting) > 1:
        yield LeaveError(
            "the unit is left as it is, and something of it is set too",
            path=path,
            remedy="Leave the unit, or leave single members of it by name",
        )
    preset = None
    if "preset" in setting:
        try:
            _, preset = unit.preset_at(setting["preset"])
        except ScenebookError as error:
            yield error.at("", *path, "preset")
    if "variant" in setting:
        if preset is None and "preset" not in setting:
            yield BadValueError("a variant is named without its preset", path=(*path, "variant"))
        elif preset is not None and setting["variant"] not in preset.variants:
            yield _unknown(
                f"preset {preset.slot} has no variant {setting['variant']!r}",
                setting["variant"],
                list(preset.variants),
                (*path, "variant"),
            )
    for member, text in setting.items():
        if member not in RESERVED and text != "leave":
            yield from check_value(unit, member, text, tempo, (*path, member))
        elif text == "leave" and member not in RESERVED and member not in unit.members:
            yield _unknown(f"no member is called {member!r}", member, list(unit.members), (*path, member))


def check_rig(rig: Rig, units: Mapping[str, Unit]) -> Faults:
    """Yield the faults of a rig: unknown units, loops and sends, home, stand-ins, leads, controller numbers."""
    for name in rig.carried:
        if name not in units:
            yield _unknown(f"no unit is called {name!r}", name, list(units), ("chain",))
    yield from _loop_faults(rig, units)
    yield from _supply_faults(rig, units)
    for name, setting in rig.home.items():
        if name not in rig.carried or name not in units:
            yield _unknown(f"home names {name!r}, which is not in this rig", name, list(rig.carried), ("home", name))
            continue
        yield from check_setting(units[name], setting, None, ("home", name))
        if "leave" in setting.values() or "leave" in setting:
            yield BadValueError("home cannot leave anything as it is", path=("home", name))
    yield from _stand_in_faults(rig, units)
    yield from check_on_stage(rig, units, check_setting)
    for index, lead in enumerate(rig.leads):
        for end in (lead.thru, lead.to):
            if end is not None and end not in rig.carried:
                yield _unknown(
                    f"a lead names {end!r}, which is not in this rig", end, list(rig.carried), ("leads", index)
                )


def check_song(song: Song, units: Mapping[str, Unit]) -> Faults:
    """Yield the faults of a song: form, units, members, values, colours and triggers of its scenes."""
    yield from _form_faults(song.played, song, ("form",))
    for name, scene in song.scenes.items():
        yield from _scene_faults(scene, song.tempo, units, ("scenes", name))


def check_gig(gig: Gig, library: Library) -> Faults:
    """Yield the faults of a gig: unknown rig, songs and units, forms that name no scene."""
    if gig.rig is not None and gig.rig not in library.rigs:
        yield _unknown(f"no rig is called {gig.rig!r}", gig.rig, list(library.rigs), ("rig",))
    places = [(("sets", s, "songs", i), e) for s, part in enumerate(gig.sets) for i, e in enumerate(part.songs)]
    for path, entry in [*places, *((("spares", i), e) for i, e in enumerate(gig.spares))]:
        if entry.song not in library.songs:
            yield _unknown(f"no song is called {entry.song!r}", entry.song, list(library.songs), (*path, "song"))
        elif entry.form is not None:
            yield from _form_faults(entry.form, library.songs[entry.song], (*path, "form"))
    if gig.house is not None and gig.house not in library.songs:
        yield _unknown(f"no song is called {gig.house!r}", gig.house, list(library.songs), ("house",))
    for name, path in [
        *((n, ("out",)) for n in gig.out),
        *((n, ("played_by", n)) for n in gig.played_by),
        *((by, ("played_by", n)) for n, by in gig.played_by.items()),
    ]:
        if name not in library.units:
            yield _unknown(f"no unit is called {name!r}", name, list(library.units), path)
    yield from _replacement_faults(gig)


def _replacement_faults(gig: Gig) -> Faults:
    """Yield a fault for each unit that is to play two others, or that is to play and is out."""
    playing: dict[str, str] = {}
    for name, by in gig.played_by.items():
        if by in gig.out:
            yield BadValueError(
                f"{name!r} is played by {by!r}, which is out",
                path=("played_by", name),
                remedy="Take one of the two back",
            )
        elif by in playing:
            yield BadValueError(
                f"{name!r} is played by {by!r}, which plays {playing[by]!r} already",
                path=("played_by", name),
                accepted="another unit for each",
            )
        playing.setdefault(by, name)


def _scene_faults(scene: Scene, tempo: float | None, units: Mapping[str, Unit], path: Path) -> Faults:
    for name, setting in scene.units.items():
        if name not in units:
            yield _unknown(f"no unit is called {name!r}", name, list(units), (*path, "units", name))
        else:
            yield from check_setting(units[name], setting, tempo, (*path, "units", name))
    for index, colour in enumerate(scene.colours):
        name, _, member = colour.rpartition(".") if colour not in scene.units else (colour, "", "")
        if colour in scene.triggers:
            continue
        if name not in scene.units or (member and member not in scene.units[name]):
            yield BadValueError(
                f"{colour!r} is a colour, but the scene does not name it",
                path=(*path, "colours", index),
                remedy="Name the unit, or unit.member, as the scene does",
            )
    for index, text in enumerate(scene.triggers):
        name, _, trigger = text.rpartition(".")
        if name not in units or trigger not in units[name].triggers:
            known = [f"{unit}.{each}" for unit, thing in units.items() for each in thing.triggers]
            yield _unknown(f"no trigger is called {text!r}", text, known, (*path, "triggers", index))
        elif text in scene.triggers[:index]:
            yield BadValueError(
                f"the trigger {text!r} is there twice, and fires once on entry",
                path=(*path, "triggers", index),
                remedy="Keep one of them",
            )


def _form_faults(form: Form, song: Song, path: Path) -> Faults:
    for index, entry in enumerate(form):
        if entry.scene not in song.scenes:
            yield _unknown(
                f"the form names {entry.scene!r}, which is no scene of the song",
                entry.scene,
                list(song.scenes),
                (*path, index),
            )
        if entry.bars is not None and entry.free > entry.bars:
            yield BadValueError(f"{entry.free:g} bars are free, of {entry.bars:g}", path=(*path, index, "free"))


def _check_range(control: Control, text: str, tempo: float | None) -> None:
    if control.message is None or control.range is None or control.choices:
        return
    value, (low, high) = read_value(text, control.scale, tempo=tempo), control.range
    if not min(low, high) - 1e-9 <= value <= max(low, high) + 1e-9:
        between = " to ".join(control.message.range or (f"{low:g}", f"{high:g}"))
        raise BadValueError(f"{text!r} is outside what its message can set", accepted=between)


def _message_faults(unit: Unit) -> Faults:
    yield from (error for by_chart, error in channel_mode_uses(unit) if not by_chart)
    written: list[tuple[Path, str | None]] = [
        (("switches", n, k), t)
        for n, s in unit.switches.items()
        if s.message
        for k, t in (("on_bytes", s.message.on_bytes), ("off_bytes", s.message.off_bytes))
    ]
    written += [(("switches", n, "bytes"), s.toggle.bytes) for n, s in unit.switches.items() if s.toggle]
    written += [(("triggers", n, "bytes"), t.bytes) for n, t in unit.triggers.items()]
    written += [
        (("presets", i, "variants", n, "bytes"), v.bytes)
        for i, p in enumerate(unit.presets)
        for n, v in p.variants.items()
    ]
    for path, text in written:
        if text is not None:
            try:
                MessagePattern.parse(text)
            except ValueError as error:
                yield BadValueError(str(error), path=path)


def _preset_faults(unit: Unit) -> Faults:
    taken: dict[str, int] = {}
    for index, preset in enumerate(unit.presets):
        if unit.programs is None:
            yield BadValueError(
                "the unit has presets, but nothing says how many programs it has",
                path=("presets", index),
                remedy="Give programs with their count",
            )
            return
        if preset.slot not in unit.programs.slots:
            labels = f"{unit.programs.label(0)} to {unit.programs.label(unit.programs.count - 1)}"
            yield BadValueError(
                f"slot {preset.slot!r} is out of range", accepted=labels, path=("presets", index, "slot")
            )
        if preset.slot in taken:
            yield BadValueError(f"slot {preset.slot!r} is described twice", path=("presets", index, "slot"))
        taken[preset.slot] = index
        stored: list[tuple[Path, dict[str, str]]] = [(("stores",), preset.stores)]
        stored += [(("variants", name, "stores"), v.stores) for name, v in preset.variants.items()]
        for path, stores in stored:
            for member, text in stores.items():
                yield from check_value(unit, member, text, None, ("presets", index, *path, member))


def _loop_faults(rig: Rig, units: Mapping[str, Unit]) -> Faults:
    held: set[str] = set()
    for kind, holders in (("loops", rig.loops), ("sends", rig.sends)):
        for holder, loops in holders.items():
            if holder not in units:
                yield _unknown(f"no unit is called {holder!r}", holder, list(units), (kind, holder))
                continue
            for switch, inside in loops.items():
                if switch not in units[holder].switches:
                    yield _unknown(
                        f"{holder!r} has no switch {switch!r}",
                        switch,
                        list(units[holder].switches),
                        (kind, holder, switch),
                    )
                elif units[holder].switches[switch].momentary:
                    yield BadValueError(
                        f"{switch!r} of {holder!r} acts only while it is held, so nothing can stand in its loop",
                        path=(kind, holder, switch),
                        accepted="a switch that is on or off",
                    )
                for name in inside:
                    if name not in rig.carried or name in held or name == holder:
                        yield BadValueError(
                            f"{name!r} cannot be in loop {switch!r}",
                            path=(kind, holder, switch),
                            accepted="units of the chain, each in one loop only",
                        )
                    held.add(name)


def _volts_faults(unit: Unit) -> Faults:
    """Yield a fault of volts that nobody can read: where they stand, a wrong supply may destroy the unit."""
    if unit.supply and not unit.supply.none and volts_range(unit.supply.volts) is None:
        yield BadValueError(
            f"{unit.supply.volts!r} is no voltage",
            path=("supply", "volts"),
            accepted="volts as on the plate, such as 9, 18 V or 9-18, or none",
            remedy="AC or DC stands in current; leave out a supply of which nothing is known",
        )


def _outlet_faults(unit: Unit) -> Faults:
    names = [outlet.name for outlet in unit.outlets]
    for index, name in enumerate(names):
        if name in names[:index]:
            yield BadValueError(f"outlet {name!r} is described twice", path=("outlets", index, "name"))


def _supply_faults(rig: Rig, units: Mapping[str, Unit]) -> Faults:
    if rig.supply is None:
        return
    if rig.supply not in units:
        yield _unknown(f"no unit is called {rig.supply!r}", rig.supply, list(units), ("supply",))
    elif not units[rig.supply].outlets:
        yield BadValueError(
            f"{rig.supply!r} feeds the rig, but it has no outlets",
            path=("supply",),
            remedy="Describe its outlets first, or name another unit",
        )


def _stand_in_faults(rig: Rig, units: Mapping[str, Unit]) -> Faults:
    for index, stand_in in enumerate(rig.stand_ins):
        path: Path = ("stand_ins", index)
        strange = [(name, key) for name, key in ((stand_in.part, "part"), (stand_in.by, "by")) if name not in units]
        for name, key in strange:
            yield _unknown(f"no unit is called {name!r}", name, list(units), (*path, key))
        if not strange and stand_in.by not in rig.carried:
            yield BadValueError(
                f"by names {stand_in.by!r}, which is not in this rig, to play the part of {stand_in.part!r}",
                path=(*path, "by"),
                accepted=listed(rig.carried),
                remedy=f"Put {stand_in.by!r} into the rig, or take this stand-in out",
            )
        elif not strange:
            yield from _stand_in_member_faults(stand_in, units, path)


def _stand_in_member_faults(stand_in: StandIn, units: Mapping[str, Unit], path: Path) -> Faults:
    """Yield what either half of a stand-in does not have: who is missing (part), or who plays the part (by)."""
    missing, carried = units[stand_in.part], units[stand_in.by]
    part, by = f"part {stand_in.part!r}, which is missing,", f"by {stand_in.by!r}, which plays the part,"
    for whose, unit, switch, key in (
        (part, missing, stand_in.part_switch, "part_switch"),
        (by, carried, stand_in.switch, "switch"),
    ):
        if switch is not None and switch not in unit.switches:
            yield _unknown(f"{whose} has no switch {switch!r}", switch, list(unit.switches), (*path, key))
    for unit, preset, key in ((missing, stand_in.part_preset, "part_preset"), (carried, stand_in.preset, "preset")):
        try:
            if preset is not None:
                unit.preset_at(preset)
        except ScenebookError as error:
            yield error.at("", *path, key)
    for control, other in stand_in.controls.items():
        for whose, unit, name in ((part, missing, control), (by, carried, other)):
            if name not in unit.controls:
                where = (*path, "controls", control)
                yield _unknown(f"{whose} has no control {name!r}", name, list(unit.controls), where)


def _unknown(found: str, name: str, known: list[str], path: Path) -> UnknownNameError:
    remedy = did_you_mean(name, known)
    return UnknownNameError(found, path=path, accepted="" if remedy else listed(known), remedy=remedy)
