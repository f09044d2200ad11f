"""scenebook unit: list, show and add units."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, Text, group, library_at
from scenebook.cli.plain import columns, counted, names_words, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.units import UnitShown
    from scenebook.model import Outlet, Unit

__all__ = ["app"]

app = group("unit", "Units: each piece of gear that is switched or set.")
Several = list[str] | None


@app.command("list")
def list_command(text: Text = "", json: AsJson = False, library: LibraryPath = None) -> None:
    """List the units, with what they do and how they are worked.

    Example: scenebook unit list fuzz
    """
    from scenebook.actions.units import list_units

    units = list_units(library_at(library), text)
    if json:
        print_json([{"name": name, **_values(unit)} for name, unit in units.items()])
    else:
        print_lines(columns(_row(name, unit) for name, unit in units.items()) or ["There is no such unit."])


@app.command("show")
def show_command(
    unit: Annotated[str, typer.Argument(help="The unit.")], json: AsJson = False, library: LibraryPath = None
) -> None:
    """Show a unit: its members and how each is worked, its presets, and which songs and rigs use it.

    Example: scenebook unit show "octave down"
    """
    from scenebook.actions.units import show_unit

    found = show_unit(library_at(library), unit)
    if json:
        uses = {"scenes": [{"song": song, "scene": scene} for song, scene in found.scenes], "rigs": list(found.rigs)}
        print_json({"name": found.name, **_values(found.unit), "used_by": uses})
    else:
        print_lines(_shown(found))


@app.command("add")
def add_command(
    name: Annotated[str, typer.Argument(help="What the unit is called.")],
    role: Annotated[
        Several, typer.Option("--role", help="What it does: fuzz, delay, reverb ...; may be repeated.")
    ] = None,
    foot: Annotated[bool, typer.Option("--foot", help="Its main switch is worked by foot (so unless said).")] = False,
    hand: Annotated[bool, typer.Option("--hand", help="Its main switch is worked by hand.")] = False,
    always_on: Annotated[bool, typer.Option("--always-on", help="It has no main switch.")] = False,
    controller: Annotated[
        int | None, typer.Option("--controller", metavar="N", help="The controller of its main switch: 127 on, 0 off.")
    ] = None,
    knob: Annotated[
        Several,
        typer.Option("--knob", help="NAME:SCALE, or NAME:SCALE:CONTROLLER:LOW..HIGH, or NAME:room/hall for choices."),
    ] = None,
    pedal: Annotated[Several, typer.Option("--pedal", help="A control that a pedal sets, written as a knob.")] = None,
    switch: Annotated[
        Several,
        typer.Option(
            "--switch",
            help="Another switch: NAME (by foot), NAME:hand, NAME:CONTROLLER, NAME:foot:CONTROLLER, NAME:momentary.",
        ),
    ] = None,
    programs: Annotated[
        int | None, typer.Option("--programs", metavar="N", help="How many preset slots it has.")
    ] = None,
    first: Annotated[str, typer.Option("--first", help="What its display shows for the first slot: 0, 1, 1A ...")] = "",
    bank_of: Annotated[int | None, typer.Option("--bank-of", metavar="N", help="How many slots a bank has.")] = None,
    settle: Annotated[
        float | None, typer.Option("--settle", metavar="MS", help="ms from a recall until it obeys.")
    ] = None,
    silence: Annotated[float | None, typer.Option("--silence", metavar="MS", help="ms of silence on a recall.")] = None,
    preset: Annotated[
        Several,
        typer.Option("--preset", help="SLOT=NAME, or SLOT=NAME: MEMBER=VALUE, MEMBER=VALUE for what it stores."),
    ] = None,
    notes: Annotated[str, typer.Option("--notes", help="Anything else.")] = "",
    library: LibraryPath = None,
) -> None:
    """Put a new unit into the library. Only its name is needed; more may come by import of a file.

    The scales of knobs: clock, 0 to 10, percent, dB, Hz, ms, note value, pitch. A footswitch that hears a controller as
    well: --foot --controller 80. A switch that acts while it is held: --switch freeze:momentary.

    Example: scenebook unit add multi --always-on --switch chorus:74 --programs 128 --preset "12=dark: chorus=on"
    """
    from scenebook.actions.units import NewUnit, add_unit

    recall = {"count": programs, "first": first, "bank_of": bank_of, "settle_ms": settle, "silence_ms": silence}
    says = {"roles": role or (), "foot": foot, "hand": hand, "always_on": always_on, "controller": controller}
    lists = {"knobs": knob or (), "pedals": pedal or (), "switches": switch or (), "presets": preset or ()}
    made, unit = add_unit(library_at(library), NewUnit(name, **says, **lists, programs=recall, notes=notes))  # type: ignore[arg-type]
    print(f"Added {made!r}" + (f" ({', '.join(unit.roles)})." if unit.roles else "."))
    print_lines(_members(unit))
    if not (foot or hand or always_on or controller is not None):
        print("Its main switch is taken to be a footswitch, since nothing else was said.")


@app.command("preset")
def preset_command(
    unit: Annotated[str, typer.Argument(help="The unit.")],
    slot: Annotated[str, typer.Argument(metavar="SLOT[=NAME]", help="The slot as displayed, or the preset's name.")],
    members: Annotated[
        Several, typer.Argument(metavar="MEMBER=VALUE", help="What it stores; =home: it does not store that.")
    ] = None,
    rest_off: Annotated[
        bool, typer.Option("--rest-off", help="Every other switch that the unit's presets store is off in it.")
    ] = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say what a preset stores, so that a recall is known to set it. What was said before stays.

    Example: scenebook unit preset multi 12=dark chorus=on "depth=40 %"
    """
    from scenebook.actions.units import describe_preset
    from scenebook.cli.words import stored_words

    done = describe_preset(library_at(library), unit, slot, members or (), rest_off=rest_off)
    if json:
        print_json({"unit": done.name, "preset": done.preset.model_dump(mode="json", exclude_defaults=True)})
        return
    said = " ".join(filter(None, [done.preset.slot, done.preset.name]))
    print(f"{done.name}, preset {said}{' (new)' if done.made else ''}: {stored_words(done.preset, done.unit)}")


def _values(unit: "Unit") -> dict[str, Any]:
    return unit.model_dump(mode="json", exclude_defaults=True)


def _row(name: str, unit: "Unit") -> tuple[str, str, str]:
    count = counted(len(unit.presets), "preset") if unit.presets else ""
    only = next(iter(unit.switches), "")
    parts = [count, f"{len(unit.switches)} switches" if len(unit.switches) > 1 else f"switch {only}" if only else ""]
    parts += [counted(len(unit.controls), "control") if unit.controls else ""]
    return name, ", ".join(unit.roles), ", ".join(filter(None, parts))


def _members(unit: "Unit") -> "Iterator[str]":
    from scenebook.cli.words import control_words, programs_words, switch_words

    rows = [(name, switch_words(switch)) for name, switch in unit.switches.items()]
    rows += [(name, control_words(control)) for name, control in unit.controls.items()]
    rows += [("presets", programs_words(unit.programs))] if unit.programs else []
    yield from columns(rows, indent=2)


def _shown(found: "UnitShown") -> "Iterator[str]":
    from scenebook.cli.words import pitch_words, stored_words

    unit = found.unit
    yield f"{found.name}" + (f" ({', '.join(unit.roles)})" if unit.roles else "")
    yield from _members(unit)
    for preset in unit.presets:
        pitches = f"; {pitch_words(preset, found.tuning)}" if preset.pitches else ""
        yield f"  {preset.slot:<5} {preset.name}: {stored_words(preset, unit)}{pitches}"
    yield from (line for line in _object(unit))
    songs: dict[str, list[str]] = {}
    for song, scene in found.scenes:
        songs.setdefault(song, []).append(scene)
    yield "Songs that use it:" if songs else "No song uses it."
    yield from columns(((song, names_words(scenes)) for song, scenes in songs.items()), indent=2)
    yield f"Rigs: {names_words(found.rigs)}" if found.rigs else "It is in no rig."


def _object(unit: "Unit") -> "Iterator[str]":
    from scenebook.cli.stage_words import unit_stage_words

    facts = []
    if unit.size is not None:
        facts.append(
            " x ".join(f"{side:g}" for side in (unit.size.width, unit.size.depth, unit.size.height) if side) + " mm"
        )
    facts += [f"{unit.weight_g:g} g"] if unit.weight_g else []
    if unit.supply is not None and unit.supply.none:
        facts.append("no supply")
    elif unit.supply is not None:
        current = f", {unit.supply.ma:g} mA" if unit.supply.ma else ""
        facts.append(f"{unit.supply.volts} V {unit.supply.current} {unit.supply.polarity or ''}".strip() + current)
    if facts:
        yield f"  {'; '.join(facts)}"
    if said := unit_stage_words(unit):
        yield f"  {said}"
    yield from (f"  outlet {_outlet(outlet)}" for outlet in unit.outlets)
    if unit.outlets or (unit.supply is not None and not unit.supply.none):
        yield "  The plate on the unit decides which supply it takes, not this note."
    if unit.notes:
        yield f"  {unit.notes}"


def _outlet(outlet: "Outlet") -> str:
    gives = f"{outlet.name}: {outlet.volts} V {outlet.current} {outlet.polarity or ''}".strip()
    return (
        gives + (f", {outlet.ma:g} mA" if outlet.ma else ", mA not noted") + (", isolated" if outlet.isolated else "")
    )
