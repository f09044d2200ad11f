"""The cue list for other programs and for the terminal: JSON, CSV, and aligned plain lines."""

import csv
import io
import textwrap
import unicodedata
from collections.abc import Iterator
from typing import Any

from scenebook.cueing.cues import ByHand, Cue, CueList, Message, Moment, SongCues, UnitState
from scenebook.model.amounts import counted, fixed

__all__ = ["by_hand_json", "cue_list_json", "cue_rows_csv", "plain_cues"]

WIDTH = 100  # columns of a terminal listing
CSV_COLUMNS = (
    "part", "cue", "song", "scene", "order", "do", "port", "unit", "member", "from", "to", "bytes", "ms", "when",
    "for cue", "presses",
)  # fmt: skip


def cue_list_json(cue_list: CueList) -> dict[str, Any]:
    """Return a compiled gig as plain JSON values: the contract of `compile --json`.

    Keys are only ever added. Times are ms from the cue on the port's own clock (whole microseconds as decimals); text
    is never null unless said here::

        gig, rig        names
        list            "lean" or "full"
        warnings        texts
        cues            cue 0 (home), then every entry of every form
        spares          [{song, cues}], each compiled from home
        house           {song, cues}, or null

    A cue::

        number, song, scene
        entry, form     place of the song in the gig and of the entry in its form, from 0; null at home
        bars            a number, or null where not known;  free_bars;  words
        moves           in order: what hands do before the cue, the messages, what hands do at the cue
        target          one for each carried unit in chain order
        lacks, without, stand_ins, not_carried, notes    texts
        late            "" in time; "late by 1.2 s"; "time not known: " and the reason
        silence_ms, overlap_ms, interrupted_ms, settled_ms
        tails_cut       units of which a recall cuts what rings on
        bytes, running_status_bytes                      whole numbers

    A move by message::

        {"do": "message", "kind": "recall", "port", "unit", "member", "value", "bytes": "C1 05", "ms": 0.96}

    `kind` is off, recall (Bank Select included), variant, control, on or trigger. A move by hand or foot::

        {"do": "press", "unit", "member", "from", "to", "when", "for_cue", "takes_ms", "presses"}

    `do` is press, recall, turn, pedal, hold, fire, change or check; `from` is "" where nobody knows; `when` is "before
    the first song", "in the gap before", "in the free bars before" or "at the cue"; `for_cue` is the cue that needs it.
    A target::

        {"unit", "sounds": true, "preset": "1B" or null, "preset_asked_for": true, "variant": null,
         "members": {"gain": "2 o'clock"}, "left": ["level"]}
    """
    return {
        "gig": cue_list.gig,
        "rig": cue_list.rig,
        "list": "full" if cue_list.full else "lean",
        "warnings": list(cue_list.warnings),
        "cues": [_cue_json(cue) for cue in cue_list.cues],
        "spares": [_song_json(spare) for spare in cue_list.spares],
        "house": _song_json(cue_list.house) if cue_list.house else None,
    }


def cue_rows_csv(cue_list: CueList) -> str:
    """Return the moves as CSV (RFC 4180, with a heading): a row for each, in order, sets first, then spares and house.

    `order` counts the moves of a cue from 1. The columns mean what the keys of `cue_list_json` mean; those that a kind
    of move has not are empty.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_COLUMNS)
    for part, cues in _parts(cue_list):
        for cue in cues:
            for order, move in enumerate(_moves(cue), start=1):
                writer.writerow([part, cue.number, cue.song, cue.scene, order, *_csv_cells(move)])
    return out.getvalue()


def plain_cues(cue_list: CueList) -> str:
    """Return the cues as aligned lines for a terminal: no colour, no wider than 100 columns where words allow."""
    kind = "full" if cue_list.full else "lean"
    lines = [f"{cue_list.gig}, {cue_list.rig}, {kind} list: {counted(len(cue_list.cues), 'cue')}"]
    for part, cues in _parts(cue_list):
        if part:
            lines += ["", part, *_how_to_send(part, cues)]
        for cue in cues:
            lines += ["", *_plain_cue(cue)]
    if cue_list.warnings:
        lines.append("")
    for warning in cue_list.warnings:
        lines += _wrapped(f"▲ {warning}", indent="", hang="  ")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _how_to_send(part: str, cues: tuple[Cue, ...]) -> list[str]:
    """Return how the cues of a spare song or of the house sounds are named where one is to be sent."""
    if not cues:
        return []
    song, scenes = cues[0].song, dict.fromkeys(cue.scene for cue in cues)
    one = " or ".join(f'"{scene}"' for scene in list(scenes)[:2])
    said = f"send one by its scene: {one}" if part.startswith("house") else f'send it as "{song}", or as "{song}/SCENE"'
    return _wrapped(said, indent="      ", hang="        ")


def _parts(cue_list: CueList) -> Iterator[tuple[str, tuple[Cue, ...]]]:
    yield "", cue_list.cues
    for spare in cue_list.spares:
        yield f"spare song {spare.song}", spare.cues
    if cue_list.house:
        yield f"house sounds {cue_list.house.song}", cue_list.house.cues


def _moves(cue: Cue) -> list[Message | ByHand]:
    ahead = [move for move in cue.by_hand if move.moment is not Moment.CUE]
    return [*ahead, *cue.messages, *(move for move in cue.by_hand if move.moment is Moment.CUE)]


def _song_json(song: SongCues) -> dict[str, Any]:
    return {"song": song.song, "cues": [_cue_json(cue) for cue in song.cues]}


def _cue_json(cue: Cue) -> dict[str, Any]:
    return {
        "number": cue.number,
        "song": cue.song,
        "scene": cue.scene,
        "entry": cue.entry,
        "form": cue.form,
        "bars": cue.bars,
        "free_bars": cue.free,
        "words": cue.words,
        "moves": [_move_json(move) for move in _moves(cue)],
        "target": [_target_json(state) for state in cue.states],
        "lacks": list(cue.lacks),
        "without": list(cue.without),
        "stand_ins": list(cue.stand_ins),
        "not_carried": list(cue.not_carried),
        "notes": list(cue.notes),
        "late": cue.late,
        "silence_ms": _ms(cue.silence_us),
        "tails_cut": list(cue.tails_cut),
        "overlap_ms": _ms(cue.overlap_us),
        "interrupted_ms": _ms(cue.interrupted_us),
        "bytes": cue.bytes,
        "running_status_bytes": cue.running_bytes,
        "settled_ms": _ms(cue.settled_us),
    }


def _move_json(move: Message | ByHand) -> dict[str, Any]:
    if isinstance(move, Message):
        return {
            "do": "message",
            "kind": str(move.kind),
            "port": move.port,
            "unit": move.unit,
            "member": move.member,
            "value": move.value,
            "bytes": _hex(move.data),
            "ms": _ms(move.at_us),
        }
    return by_hand_json(move)


def by_hand_json(move: ByHand) -> dict[str, Any]:
    """Return what a hand or foot does as `compile --json` says it."""
    return {
        "do": str(move.action),
        "unit": move.unit,
        "member": move.member,
        "from": move.before,
        "to": move.after,
        "when": str(move.moment),
        "for_cue": move.for_cue,
        "takes_ms": _ms(move.us),
        "presses": move.presses,
    }


def _target_json(state: UnitState) -> dict[str, Any]:
    return {
        "unit": state.unit,
        "sounds": state.sounds,
        "preset": state.preset,
        "preset_asked_for": state.named,
        "variant": state.variant,
        "members": dict(state.values),
        "left": sorted(state.left),
    }


def _csv_cells(move: Message | ByHand) -> list[str]:
    if isinstance(move, Message):
        sent = [move.port, move.unit, move.member, "", move.value, _hex(move.data), str(_ms(move.at_us))]
        return [f"message {move.kind}", *sent, "", "", ""]
    done = ["", move.unit, move.member, move.before, move.after, "", ""]
    return [str(move.action), *done, str(move.moment), str(move.for_cue), str(move.presses)]


def _ms(us: int) -> float:
    return us / 1000


def _hex(data: bytes) -> str:
    return data.hex(" ").upper()


def _plain_cue(cue: Cue) -> list[str]:
    title = f"{cue.number:>4}  {cue.song}, {cue.scene}" if cue.song else f"{cue.number:>4}  {cue.scene}"
    lines = _wrapped(title, indent="", hang=" " * 6)
    lines += _wrapped(_sums(cue), indent=" " * 6, hang=" " * 6)
    rows = [_plain_move(cue, move) for move in _moves(cue)]
    widths = [max((_columns(row[index]) for row in rows), default=0) for index in range(4)]
    for row in rows:
        head = " " * 6 + "".join(_padded(text, width) + "  " for text, width in zip(row[:4], widths, strict=True))
        lines += _wrapped(row[4], indent=head, hang=" " * _columns(head))
    said = [f"lacks {thing}" for thing in cue.lacks] + [f"without {thing}" for thing in cue.without]
    said += [cue.late] if cue.late else []
    for text in said:
        lines += _wrapped(f"▲ {text}", indent=" " * 6, hang=" " * 8)
    more = [*(f"stand-in: {text}" for text in cue.stand_ins), *(f"not carried: {text}" for text in cue.not_carried)]
    for text in (*more, *cue.notes):
        lines += _wrapped(text, indent=" " * 6, hang=" " * 8)
    return lines


def _sums(cue: Cue) -> str:
    bars = [f"{cue.bars:g} bar{'' if cue.bars == 1 else 's'}"] if cue.bars is not None else []
    bars += [f"{cue.free:g} free"] if cue.free else []
    sent = [f"{cue.bytes} bytes, settled {fixed(cue.settled_us / 1000, 1)} ms"] if cue.messages else ["nothing sent"]
    silent = [f"silent {fixed(cue.silence_us / 1000)} ms"] if cue.silence_us else []
    silent += [f"old sound {fixed(cue.overlap_us / 1000)} ms past the new"] if cue.overlap_us else []
    silent += [f"what is left away for {fixed(cue.interrupted_us / 1000)} ms"] if cue.interrupted_us else []
    silent += [f"what rings on is cut: {'; '.join(cue.tails_cut)}"] if cue.tails_cut else []
    return ", ".join([*bars, *sent, *silent, *([f"“{cue.words}”"] if cue.words else [])])


def _plain_move(cue: Cue, move: Message | ByHand) -> tuple[str, str, str, str, str]:
    if isinstance(move, Message):
        value = f"{move.member} {move.value}".strip()
        return f"{fixed(move.at_us / 1000, 2)} ms", "send", _hex(move.data), move.unit, value
    member = "" if move.member == move.unit else move.member
    thing = f"{member} {move.before} → {move.after}" if move.before else f"{member} → {move.after}"
    times = f", {move.presses} presses" if move.presses > 1 else ""
    later = f", for cue {move.for_cue}" if move.for_cue != cue.number else ""
    return _WHEN[move.moment], str(move.action), "", move.unit, thing.strip() + times + later


_WHEN = {moment: "before" if moment is Moment.BEFORE else str(moment) for moment in Moment}


def _wrapped(text: str, *, indent: str, hang: str) -> list[str]:
    if len(indent) + len(text) <= WIDTH and text.isprintable():  # nearly always, and many times as fast
        return [indent + text]
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=hang, break_long_words=False) or [indent]


def _padded(text: str, width: int) -> str:
    return text + " " * max(0, width - _columns(text))


def _columns(text: str) -> int:
    """Return how many columns a text takes: none for a combining mark, two for a wide character (UAX 11)."""
    if text.isascii():
        return len(text)
    return sum(0 if unicodedata.combining(c) else 1 + (unicodedata.east_asian_width(c) in "WF") for c in text)
