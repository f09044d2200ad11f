"""How the sheet says things: moves, values, bars and times in a player's words."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from scenebook.cueing.cues import Action, ByHand, Message, MessageKind, Moment
from scenebook.errors import BadValueError
from scenebook.model import MAIN, Control, Preset, Song, Unit
from scenebook.model.amounts import fixed
from scenebook.model.values import Scale, midi_number, note_hz, read_value, uses_tempo
from scenebook.sheets.view import Do, Shape

__all__ = [
    "BEGIN",
    "CARE",
    "INTERVAL",
    "ahead_first",
    "bars_words",
    "dos_of",
    "floor_words",
    "member_words",
    "message_words",
    "pitch_words",
    "preset_words",
    "said_of",
    "sent_of",
    "short_names",
    "spoken",
    "tempo_words",
    "unit_of",
    "value_words",
]

CARE = "▲"  # before whatever will not be as the scene wants it
INTERVAL = "In the interval before"
BEGIN = "At the cue, begin in the last {bars} before"
_HELD = (Action.HOLD, Action.FIRE)  # they fall on the cue itself and can't be begun before it
_BARE_HOUR = re.compile(r"\d{1,2}")
_SHAPES = {
    Action.RECALL: Shape.TO,
    Action.TURN: Shape.TO,
    Action.PEDAL: Shape.TO,
    Action.HOLD: Shape.HOLD,
    Action.FIRE: Shape.HOLD,
    Action.CHANGE: Shape.TO,
    Action.CHECK: Shape.CHECK,
}


def short_names(units: Iterable[str]) -> dict[str, str]:
    """Return for each unit the part of its name before the first comma, where no other unit begins alike.

    "fuzz, silicon" is "fuzz" as long as there is one fuzz: what is read at arm's length or from standing height.
    """
    names = list(dict.fromkeys(units))
    heads = [name.split(",")[0].strip() for name in names]
    return {
        name: head if head and heads.count(head) == 1 and (head == name or head not in names) else name
        for name, head in zip(names, heads, strict=True)
    }


def member_words(unit: str, member: str) -> str:
    """Return a member with its unit, as said aloud; the main switch is the unit itself."""
    return unit if member in ("", MAIN) else f"{unit} {member}".strip()


def said_of(unit: Unit, member: str, text: str) -> str:
    """Return a member's value as it is said: an hour of the clock that is written as a bare number is an hour."""
    control = unit.controls.get(member)
    if control is not None and control.scale is Scale.CLOCK and _BARE_HOUR.fullmatch(text):
        return f"{text} o'clock"
    return text


def spoken(moves: Iterable[ByHand], units: Mapping[str, Unit]) -> Iterator[ByHand]:
    """Yield moves with their values as they are said."""
    for move in moves:
        unit = unit_of(units, move.unit)
        before, after = (said_of(unit, move.member, text) for text in (move.before, move.after))
        yield move._replace(before=before, after=after)


def sent_of(
    messages: Iterable[Message], *, units: Mapping[str, Unit], short: Mapping[str, str]
) -> dict[str, tuple[str, ...]]:
    """Return what messages say, by unit in the order in which each is first sent to: {"delay": ("12", "mix 40 %")}."""
    said: dict[str, dict[str, None]] = {}
    for message in messages:  # Bank Select and Program Change are one thing
        words = message_words(unit_of(units, message.unit), message)
        said.setdefault(short.get(message.unit, message.unit), {})[words] = None
    return {unit: tuple(words) for unit, words in said.items()}


def dos_of(
    moves: Iterable[ByHand],
    *,
    cue: int,
    short: Mapping[str, str],
    moments: Mapping[Moment, str] | None = None,
) -> tuple[Do, ...]:
    """Return moves as the sheet says them, what is made ahead of the cue first and else in the order given.

    `moments` says a moment in other words than usual: the interval for the gap, when to begin for the cue. What is held
    or fired falls on the cue itself, so it comes last and has the usual words.
    """
    found: list[Do] = []
    checks: dict[tuple[str, str], int] = {}
    names = {**_MOMENTS, **(moments or {})}
    order = ahead_first(moves)
    if names[Moment.CUE] != _MOMENTS[Moment.CUE]:
        order.sort(key=lambda move: move.moment is Moment.CUE and move.action in _HELD)
    for move in order:
        do = _do(move, cue, short, _MOMENTS if move.action in _HELD else names)
        place = checks.get((move.unit, do.moment)) if move.action is Action.CHECK else None
        if place is not None:  # a unit's checks are one look
            found[place] = replace(found[place], words=f"{found[place].words}, {_checked(move)}")
            continue
        if move.action is Action.CHECK:
            checks[move.unit, do.moment] = len(found)
        found.append(do)
    return tuple(found)


def ahead_first(moves: Iterable[ByHand]) -> list[ByHand]:
    """Return moves with those before the others that are made ahead of the cue, and else in the order given."""
    order = list(_MOMENTS)
    return sorted(moves, key=lambda move: order.index(move.moment))


def floor_words(move: ByHand) -> str:
    """Return a move on a member without its unit, as short as it can be said: "gain 3 o'clock", "● low pass"."""
    times = f" ×{move.presses}" if move.presses > 1 else ""
    if move.action in _HELD:
        return move.member
    if move.action is Action.RECALL:
        return move.after + times
    if move.after in ("on", "off"):
        return f"{_shape(move)}\u00a0{move.member}{times}"
    return f"{move.member} {move.after}".strip() + times


def value_words(text: str, thing: object, tempo: float | None, tuning: float) -> str:
    """Return a value as written, and beside it what a note value or pitch computes to: "1/8. (380 ms)"."""
    if not isinstance(thing, Control):
        return text
    if thing.scale is Scale.CLOCK and _BARE_HOUR.fullmatch(text):
        return f"{text} o'clock"
    try:
        value = read_value(text, thing.scale, tempo=tempo, tuning=tuning, choices=thing.choices)
    except BadValueError:
        return text
    if thing.scale in (Scale.MILLISECONDS, Scale.NOTE_VALUE) and uses_tempo(text):
        return f"{text} ({fixed(value)} ms)"
    if thing.scale in (Scale.HERTZ, Scale.PITCH) and "hz" not in text.casefold():
        return f"{text} ({fixed(value, 1)} Hz)"
    return text


def preset_words(preset: Preset, variant: str | None = None) -> str:
    """Return a preset as its slot, its name and the variant: "1B wide, still"."""
    return " ".join(filter(None, [preset.slot, preset.name])) + (f", {variant}" if variant else "")


def pitch_words(preset: Preset, tuning: float) -> str:
    """Return the pitches of a preset with their Hz, lowest first."""
    pitches = sorted(preset.pitches, key=midi_number)
    return ", ".join(f"{pitch} ({fixed(note_hz(pitch, tuning), 1)} Hz)" for pitch in pitches)


def bars_words(bars: float | None, free: float) -> str:
    """Return the length of a form entry: "16 bars, last 2 free"."""
    if bars is None:
        return "bars not known"
    return f"{bars:g} bar{'' if bars == 1 else 's'}" + (f", last {free:g} free" if free else "")


def tempo_words(song: Song, tempo: float | None = None) -> str:
    """Return the tempo in quarter notes a minute, as a bare number; empty where it is not known."""
    value = tempo if tempo is not None else song.tempo
    return "" if value is None else f"{value:g}"


def unit_of(units: Mapping[str, Unit], name: str) -> Unit:
    """Return a unit, or one of which nothing is said."""
    return units.get(name) or Unit()


def message_words(unit: Unit, message: Message) -> str:
    """Return what a message does, without its unit: the preset, "on", "mix 40 %", or the trigger's name alone."""
    if message.kind in (MessageKind.RECALL, MessageKind.VARIANT) or message.value == message.member:
        return message.value
    value = said_of(unit, message.member, message.value)
    return f"{'' if message.member == MAIN else message.member} {value}".strip()


def _do(move: ByHand, cue: int, short: Mapping[str, str], moments: Mapping[Moment, str]) -> Do:
    unit = short.get(move.unit, move.unit)
    later = f"for cue {move.for_cue}" if move.for_cue != cue else ""
    return Do(_shape(move), _words(move, unit), _was(move), moments[move.moment], later)


def _was(move: ByHand) -> str:
    """Return how it stood; a switch that is to be on was off, and its mark says so."""
    return "" if (move.before, move.after) in (("on", "off"), ("off", "on")) else move.before


def _shape(move: ByHand) -> Shape:
    if move.action is not Action.CHECK and move.after in ("on", "off"):
        return Shape.ON if move.after == "on" else Shape.OFF
    return _SHAPES.get(move.action, Shape.TO)


def _words(move: ByHand, unit: str) -> str:
    thing = member_words(unit, move.member)
    times = f", {move.presses} presses" if move.presses > 1 else ""
    match move.action:
        case Action.PRESS:
            return f"press {thing}" + (f": {move.after}" if move.after else "") + times
        case Action.RECALL:
            return f"recall {move.after} on {unit}{times}"
        case Action.TURN if move.after in ("on", "off"):
            return f"switch {thing} by hand: {move.after}"
        case Action.TURN:
            return f"turn {thing} to {move.after}"
        case Action.PEDAL:
            return f"pedal {thing} to {move.after}"
        case Action.HOLD:
            return thing + (f": {move.after}" if move.after else "")
        case Action.FIRE:
            return f"press {thing} once" + (f": {move.after}" if move.after not in ("", move.member) else "")
        case Action.CHANGE:
            return f"take {move.after}"
        case Action.CHECK:
            return f"check {unit}: {_checked(move)}"


def _checked(move: ByHand) -> str:
    return move.after if move.member in ("", MAIN) else f"{move.member} {move.after}"


_MOMENTS = {
    Moment.BEFORE: "Before it begins",
    Moment.GAP: "In the gap before",
    Moment.FREE: "In the free bars before",
    Moment.CUE: "At the cue",
}
