"""Say units, rigs and settings in plain words, as several commands print them."""

from collections.abc import Iterable, Mapping

from scenebook.model import MAIN, Control, Instrument, Placement, Preset, Rig, Switch, Unit
from scenebook.model.amounts import counted, fixed
from scenebook.model.units import Programs
from scenebook.model.values import note_hz

__all__ = ["control_words", "midi_words", "pitch_words", "programs_words", "setting_words", "switch_words"]
__all__ += ["chain_rows", "instrument_words", "stored_words"]


def setting_words(setting: Mapping[str, str]) -> str:
    """Return what a scene, a home or a preset says of one unit, in one line."""
    if "leave" in setting:
        return "leave the unit as it is"
    words = {"preset": "preset {}", "variant": "variant {}", MAIN: "{}"}
    return ", ".join(words.get(member, member + " {}").format(text) for member, text in setting.items()) or "as at home"


def switch_words(switch: Switch) -> str:
    """Return the ways in which a switch is worked, the first that applies first."""
    message = switch.message
    ways = []
    if message is not None:
        values = f" (on {message.on}, off {message.off})" if message.on is not None else ""
        number = f"controller {message.controller}{values}" if message.controller is not None else ""
        note = f"note {message.note}" if message.note is not None else ""
        ways.append(f"message: {number or note or 'bytes'}")
    ways += ["toggling message"] if switch.toggle else []
    ways += [way for way, has in (("foot", switch.foot), ("hand", switch.hand)) if has]
    ways += [f"contact at {switch.contact}"] if switch.contact else []
    said = ", ".join(ways) or "by its presets alone"
    section = f"; section: {switch.section}" if switch.section else ""
    return f"held: {said}{section}" if switch.momentary else said + section


def control_words(control: Control) -> str:
    """Return a control's scale and the ways in which it is worked."""
    scale = "/".join(control.choices) if control.choices else str(control.scale)
    ways = []
    if control.message is not None:
        span = f", {control.message.range[0]} to {control.message.range[1]}" if control.message.range else ""
        ways.append(f"message: controller {control.message.controller}{span}")
    ways += [way for way, has in (("hand", control.by_hand), ("pedal", control.pedal)) if has]
    return f"{scale}; {', '.join(ways) or 'by its presets alone'}"


def programs_words(programs: Programs) -> str:
    """Return how a unit recalls its presets."""
    last = programs.label(programs.count - 1)
    ways = [("program change", programs.program_change), ("foot", programs.foot), ("hand", programs.hand)]
    said = [
        f"{counted(programs.count, 'slot')}, {programs.label(0)} to {last}",
        ", ".join(way for way, has in ways if has),
    ]
    said += [f"bank select {programs.bank_select}"] if programs.bank_select != "none" else []
    settle = "not known" if programs.settle_ms is None else f"{programs.settle_ms:g} ms"
    said += [f"settles in {settle}"] + ([f"silent for {programs.silence_ms:g} ms"] if programs.silence_ms else [])
    return "; ".join(said)


def pitch_words(preset: Preset, tuning: float) -> str:
    """Return the pitches of a preset, each with its Hz."""
    return ", ".join(f"{pitch} ({fixed(note_hz(pitch, tuning), 1)} Hz)" for pitch in preset.pitches)


def stored_words(preset: Preset, unit: Unit) -> str:
    """Return what a recall sets."""
    said = [setting_words(preset.stores)] if preset.stores else []
    said += ["every other stored switch off"] if preset.rest else []
    said += [f"variants {', '.join(preset.variants)}"] if preset.variants else []
    return "; ".join(said) or "nothing said of what it stores"


def midi_words(placement: Placement) -> str:
    """Return where a unit hears its messages; empty where it hears none."""
    if placement.port is None:
        return ""
    hears = placement.hears
    also = "" if hears is None else ", hears all" if hears == "omni" else f", hears {', '.join(map(str, hears))}"
    return f"port {placement.port}, channel {placement.channel}{also}"


def chain_rows(rig: Rig) -> list[tuple[str, str, str]]:
    """Return the chain of a rig as rows: its drawing, where the unit hears messages, the loop that it is in."""
    rows: list[tuple[str, str, str]] = []
    seen: set[str] = set()
    for link in rig.chain:
        if isinstance(link, str):
            rows.append(_row(rig, "│ ", link, seen))
            continue
        rows.append(("├─ side by side", "", ""))
        for number, path in enumerate(link.parallel, 1):
            rows += [_row(rig, f"│  path {number}: ", name, seen) for name in path]
            rows += [] if path else [(f"│  path {number}: the dry signal", "", "")]
        rows.append(("├─ together again", "", ""))
    return [("in", "", ""), *rows, ("out", "", "")]


def _row(rig: Rig, mark: str, name: str, seen: set[str]) -> tuple[str, str, str]:
    if name in seen:
        return f"{mark}{name}", "", "its return"
    seen.add(name)
    sends = [f"send {switch!r} to {_listed(inside)}" for switch, inside in rig.sends.get(name, {}).items()]
    return f"{mark}{name}", midi_words(rig.placement(name)), "; ".join([*_loops(rig, name), *sends])


def _loops(rig: Rig, name: str) -> list[str]:
    found = []
    for kind, holders in (("loop", rig.loops), ("send and return", rig.sends)):
        for holder, switches in holders.items():
            for switch, inside in switches.items():
                if name in inside:
                    shared = ", shared" if len(inside) > 1 else ""
                    found.append(f"in {kind}: {holder}, {switch}{shared}")
    return found


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names)


def instrument_words(instrument: Instrument | None) -> str:
    """Return what is played, or nothing."""
    return str(instrument) if instrument else ""
