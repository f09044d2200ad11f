"""Another receiver, to hold the first one against (P4): tables and dictionaries, no classes, none of its code.

A unit becomes one table with a row for every message that it can hear, all 128 values of a controller written out.
Bytes are cut into messages by a table too: how many data bytes follow each status. State is a plain dictionary. From
the model come only the words of the unit and what a stored value stands for.
"""

import math
from collections.abc import Iterable, Iterator
from typing import Any

from scenebook.model import Placement, Unit
from scenebook.model.values import read_value, step_of

__all__ = ["messages_of", "settled_state", "state_after", "table_of"]

State = dict[str, Any]
Row = tuple[Any, ...]
Table = dict[str, Any]
Stream = Iterable[tuple[int, bytes]]

BYTE = 320
HOLD = 100_000
DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
SYSTEM_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0}
REAL_TIME = (0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF)


# --- from bytes to messages ---------------------------------------------------------------------------------------


def messages_of(stream: Stream) -> list[tuple[int, int, bytes]]:
    """Return (start, end, whole message) for chunks of bytes with the time at which each chunk starts."""
    return list(_cut((start + BYTE * place, byte) for start, chunk in stream for place, byte in enumerate(chunk)))


def _cut(timed: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int, bytes]]:
    status, data, begun, last = 0, b"", -1, 0
    for time, byte in timed:
        if byte >= 0xF8:
            if byte in REAL_TIME:
                yield time, time + BYTE, bytes([byte])
            continue
        if byte >= 0x80:
            if status == 0xF0:
                yield begun, (time if byte == 0xF7 else last) + BYTE, b"\xf0" + data + b"\xf7"
            status, data, begun = (0 if byte in (0xF4, 0xF5, 0xF7) else byte), b"", time
            if status == 0xF6:
                yield time, time + BYTE, b"\xf6"
                status = 0
        elif status:
            begun = time if begun < 0 else begun
            data += bytes([byte])
        last = time
        wanted = SYSTEM_BYTES.get(status, DATA_BYTES.get(status >> 4, -1))
        if status and data and len(data) == wanted:
            yield begun, time + BYTE, bytes([status]) + data
            status, data, begun = (status if status < 0xF0 else 0), b"", -1


# --- from a unit to its table -------------------------------------------------------------------------------------


def table_of(unit: Unit) -> Table:
    """Return what each message does: rows by message, with the channel taken off and with the channel on."""
    said = unit.model_dump()
    table: Table = {"any": {}, "own": {}, "lists": [], "programs": said["programs"], "stored": unit.stored}
    slots = unit.programs.slots if unit.programs else {}
    table["presets"] = {slots[preset["slot"]]: _preset(unit, preset) for preset in said["presets"]}
    table["switches"] = set(said["switches"])
    for name, switch in said["switches"].items():
        _add_switch(table, name, switch)
    for name, control in said["controls"].items():
        if control["message"]:
            for value in range(128):
                _add(table, bytes([0xB0, control["message"]["controller"], value]), ("set", name, value))
    for name, trigger in said["triggers"].items():
        _add_way(table, trigger, ("fire", name), ("release",))
    for preset in said["presets"]:
        for name, variant in preset["variants"].items():
            _add_way(table, {"note": None, **variant}, ("variant", slots[preset["slot"]], name), ())
    _add_programs(table, said["programs"])
    return table


def _preset(unit: Unit, preset: dict[str, Any]) -> dict[Any, Any]:
    layers = {None: preset["stores"]} | {name: variant["stores"] for name, variant in preset["variants"].items()}
    return {"rest": preset["rest"]} | {
        ("stores", key): {member: _number(unit, member, text) for member, text in stores.items()}
        for key, stores in layers.items()
    }


def _number(unit: Unit, member: str, text: str) -> Any:
    if member not in unit.controls:
        return text
    control = unit.controls[member]
    value = read_value(text, control.scale, choices=control.choices)
    if control.choices:
        names = [choice.casefold() for choice in control.choices]
        choice = control.choices[names.index(text.strip().casefold())]
        return control.message.values[choice] if control.message else int(value)
    step = step_of(value, *control.range) if control.range else None
    return value if step is None else step


def _add(table: Table, message: bytes, row: Row, *, own: bool = False) -> None:
    table["own" if own else "any"].setdefault(message, []).append(row)


def _add_switch(table: Table, name: str, switch: dict[str, Any]) -> None:
    rows: list[Row] = [("set", name, "on"), ("set", name, "off"), ("flip", name)]
    on, off, flip = [("known",)] * 3 if switch["momentary"] else rows
    if way := switch["message"]:
        if way["controller"] is not None:
            values = {way["on"]: on, way["off"]: off} if way["on"] is not None else {}
            for value, row in values.items() or ((value, on if value > 63 else off) for value in range(128)):
                _add(table, bytes([0xB0, way["controller"], value]), row)
        elif way["note"] is not None:
            _add_note(table, way["note"], on, off)
        else:
            _add_list(table, way["on_bytes"], on)
            _add_list(table, way["off_bytes"], off)
    if switch["toggle"]:
        _add_way(table, switch["toggle"], flip, ("known",))


def _add_way(table: Table, way: dict[str, Any], row: Row, released: Row) -> None:
    if way["controller"] is not None:
        _add(table, bytes([0xB0, way["controller"], way["value"]]), row)
    elif way["note"] is not None:
        holds = row[0] == "fire"
        _add_note(table, way["note"], (*row, way["note"]) if holds else row, (*released, way["note"]))
    elif way["bytes"]:
        _add_list(table, way["bytes"], row)


def _add_note(table: Table, note: int, pressed: Row, released: Row) -> None:
    for velocity in range(128):
        _add(table, bytes([0x80, note, velocity]), released)
        _add(table, bytes([0x90, note, velocity]), pressed if velocity else released)


def _add_list(table: Table, text: str, row: Row) -> None:
    words = text.replace(",", " ").split()
    flat = [(stamp, word[1] in "nN") for word in words for stamp in [int(word.replace("n", "0").replace("N", "0"), 16)]]
    starts = [place for place, (byte, _) in enumerate(flat) if byte >= 0x80 and byte != 0xF7]
    ends = [*starts[1:], len(flat)]
    whole = [(bytes(b for b, _ in flat[s:e]), not flat[s][1]) for s, e in zip(starts, ends, strict=True)]
    table["lists"].append((whole, row))
    for message, own in dict.fromkeys(whole):
        _add(table, message, ("listed", len(table["lists"]) - 1, (message, own)), own=own)


def _add_programs(table: Table, programs: dict[str, Any] | None) -> None:
    if programs is None or not programs["program_change"]:
        return
    uses = str(programs["bank_select"])
    for value in range(128):
        _add(table, bytes([0xC0, value]), ("recall", value))
        if uses in ("msb", "both"):
            _add(table, bytes([0xB0, 0, value]), ("bank", "msb", value))
        if uses in ("lsb", "both"):
            _add(table, bytes([0xB0, 32, value]), ("bank", "lsb", value))


# --- from messages to a state -------------------------------------------------------------------------------------


def state_after(
    unit: Unit, placement: Placement, stream: Stream, begin: State | None = None, table: Table | None = None
) -> State:
    """Return the state of a unit after one cue's bytes on its port; `begin` is its state before, else all is unknown.

    `members` has what is known, `alone` what recalls alone would have left, `understood` the (start, message) pairs
    that the unit knows or that it lost while it settled. Give `table_of(unit)` where it is asked often.
    """
    table = table if table is not None else table_of(unit)
    state = _fresh(table) if begin is None else {**begin, "members": dict(begin["members"])}
    state |= {"alone": dict(state["members"]), "fired": {}, "held": {}, "understood": set(), "ready": 0}
    state |= {"lists": list(state["lists"]), "bank": dict(state["bank"]), "waiting": dict(state["waiting"])}
    for start, end, message in messages_of(stream):
        if message[0] < 0xF0 and message[0] % 16 + 1 not in placement.channels:
            continue
        if message[0] < 0xF8 and start < state["ready"]:
            state["understood"].add((start, message))
            continue
        plain = bytes([message[0] & 0xF0]) + message[1:]
        rows = list(table["own"].get(message, ()))
        rows += table["any"].get(plain, ()) if message[0] < 0xF0 else ()
        if [True for row in rows if _do(state, table, row, start, end, message[0] % 16)]:
            state["understood"].add((start, message))
    return state


def settled_state(state: State) -> State:
    """Return what of a state can be compared: preset, variant, members, what fired, what sounds on."""
    return {key: state[key] for key in ("slot", "variant", "members", "fired", "held")}


def _fresh(table: Table) -> State:
    return {
        "slot": None, "variant": "?", "members": {}, "bank": {}, "waiting": {}, "lists": [0] * len(table["lists"])
    }  # fmt: skip


def _do(state: State, table: Table, row: Row, start: int, end: int, channel: int) -> bool:
    """Do one row; tell whether it counts as understood."""
    kind = row[0]
    if kind == "set":
        state["members"][row[1]] = row[2]
    elif kind == "flip":
        now = state["members"].get(row[1])
        state["members"] |= {} if now is None else {row[1]: "on" if now == "off" else "off"}
    elif kind == "fire":
        state["fired"][row[1]] = state["fired"].get(row[1], 0) + 1
        state["held"] |= {row[2]: end} if len(row) > 2 else {}
    elif kind == "release":
        if start - state["held"].get(row[1], -HOLD) < HOLD:
            return False
        state["held"].pop(row[1], None)
    elif kind == "listed":
        whole, then = table["lists"][row[1]]
        state["lists"][row[1]] += whole[state["lists"][row[1]]] == row[2]
        if state["lists"][row[1]] == len(whole):
            state["lists"][row[1]] = 0
            return _do(state, table, then, start, end, channel)
    elif kind == "bank":
        state["waiting"][channel, row[1]] = row[2]
    elif kind == "recall":
        return _recall(state, table, row[1], end, channel)
    elif kind == "variant":
        return _reach(state, table, row[1], row[2])
    return True


def _recall(state: State, table: Table, program: int, end: int, channel: int) -> bool:
    programs, uses = table["programs"], str(table["programs"]["bank_select"])
    for part in ("msb", "lsb"):
        if (channel, part) in state["waiting"]:
            state["bank"][part] = state["waiting"].pop((channel, part))
    parts = {"none": (), "msb": ("msb",), "lsb": ("lsb",), "both": ("msb", "lsb")}[uses]
    known = [state["bank"].get(part) for part in parts]
    slot: int | None = None
    if None not in known:
        bank = sum(value << 7 * power for power, value in enumerate(reversed(known))) if parts else 0
        slot = program + 128 * (bank - (programs["first_bank"] if parts else 0))
        if slot < 0 or slot >= programs["count"]:
            return False
    ignores = programs["repeat"] == "ignored"
    if ignores and slot is not None and slot == state["slot"]:
        return True
    doubt = slot is None or (ignores and state["slot"] is None)
    settle = programs["settle_ms"]
    state["ready"] = math.inf if settle is None else end + math.ceil(round(settle * 1000, 3))
    state["slot"], state["variant"] = slot, "?" if doubt else None
    preset = {} if doubt else table["presets"].get(slot, {})
    _store(state, table, preset, None, table["stored"])
    return True


def _reach(state: State, table: Table, slot: int, name: str) -> bool:
    if not table["programs"]["program_change"]:
        return True
    if state["slot"] != slot:
        return False
    preset = table["presets"][slot]
    others = [members for key, members in preset.items() if isinstance(key, tuple) and key[1] is not None]
    state["variant"] = name
    _store(state, table, preset, name, {member for members in others for member in members})
    return True


def _store(state: State, table: Table, preset: dict[Any, Any], variant: str | None, unsure: Iterable[str]) -> None:
    gone = set(unsure)
    new = dict.fromkeys(gone & table["switches"], "off") if preset.get("rest") == "off" else {}
    new |= preset.get(("stores", None), {})
    new |= preset.get(("stores", variant), {})
    for target in (state["members"], state["alone"]):
        for member in gone:
            target.pop(member, None)
        target.update(new)
