"""The sheet of a sender: what to store in each of its lists, a box to tick for each message, and what to press when."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from scenebook.cueing.cues import Action, Cue, CueList, Message
from scenebook.cueing.sender import SenderLists, StoredList
from scenebook.model import MAIN, Unit
from scenebook.model.messages import channel_of, hex_text
from scenebook.model.protocol import BYTE_US, CONTROL_CHANGE, NOTE_OFF, NOTE_ON, PROGRAM_CHANGE
from scenebook.sheets.plain_pages import TICK, Boxed, Grid, Page, PlainPages, Words
from scenebook.sheets.view import Paper
from scenebook.sheets.words import message_words, unit_of

__all__ = ["CAUTIONS", "message_numbers", "sender_pages"]

CAUTIONS = (
    "Copy the whole sender to a computer first, if it can. What you store over is gone.",
    "Try every list at home, once in order and once out of order, with the level down: a sound can be far louder than "
    "the one before. Protect your hearing.",
    "Do not take the supply away while the sender stores.",
)
_KINDS = {CONTROL_CHANGE: "controller", PROGRAM_CHANGE: "program", NOTE_ON: "note on", NOTE_OFF: "note off"}
_COLUMNS, _WIDTHS = ("", "unit", "what", "channel", "kind", "number", "value"), (0.35, 2.9, 3.2, 1.3, 1.7, 1.3, 1.2)
_PORT = 3  # where the port stands in a row, if there are several
_MOST = 4  # cues that are named where more press a list


def sender_pages(
    stored: SenderLists, played: CueList, units: Mapping[str, Unit], *, revision: int, paper: str = "a4"
) -> PlainPages:
    """Return the sheet: what to store, list by list; then what to press at each cue of the gig.

    Args:
        stored: what the sender stores.
        played: the gig's cues as they are played with the sender.
        units: the units of the rig, by name.
        revision: the library's revision, which every page bears.
        paper: the page on which it will be set.
    """
    bearing = (f"Sender: {stored.unit}", stored.rig, stored.gig, f"revision {revision}")
    pages = [_first_page(stored, units), *_press_pages(stored, played)]
    return PlainPages(bearing, tuple(pages), Paper(paper))


def message_numbers(message: Message) -> tuple[str, str, str]:
    """Return a message in numbers: its kind, number and value as sent, 0 to 127; other bytes in hex."""
    kind = _KINDS.get(message.data[0] & 0xF0)
    if kind is None or channel_of(message.data) is None:
        return "bytes", "", hex_text(message.data)
    return kind, str(message.data[1]), str(message.data[2]) if len(message.data) > 2 else ""


def _first_page(stored: SenderLists, units: Mapping[str, Unit]) -> Page:
    blocks: list[Words | Boxed | Grid] = [Words(_summary(stored))]
    blocks += [Words(text, head) for head, text in _remarks(stored, units)]
    blocks.append(Words("____________________   on: ____________   by: ____________", "Which copy of the unit:"))
    blocks.append(Boxed("Take care", CAUTIONS))
    if not stored.lists:
        blocks.append(Words("No cue of this gig sends anything on its ports, so there is nothing to store."))
    blocks += [_grid(each, units, several=len(stored.ports) > 1) for each in stored.lists]
    return Page("What to store", tuple(blocks))


def _summary(stored: SenderLists) -> str:
    holds = stored.holds
    banks = f" in banks of {holds.switches}" if holds.switches else ""
    most = max((len(each.messages) for each in stored.lists), default=0)
    return (
        f"{len(stored.lists)} of {holds.count} lists{banks}, at most {most} of {holds.messages} messages in one; on "
        f"port {', '.join(stored.ports)}. Each sets everything, whatever was pressed before. Channels count from 1, "
        f"programs, controllers and values from 0, as they are sent: some displays show one more."
    )


def _remarks(stored: SenderLists, units: Mapping[str, Unit]) -> Iterator[tuple[str, str]]:
    several = [each.label for each in stored.lists if each.step > 1]
    if several:
        why = "a unit obeys only when its recall has settled, and the sender holds no pauses. Press them one by one."
        yield "▲ More than one press:", f"{', '.join(several)}: {why}"
    if stored.holds.pauses and any(_pauses(each) for each in stored.lists):
        yield "▲ Pauses:", "lists have lines that wait, since a unit obeys only when its recall has settled."
    firing = [f"{each.label} ({', '.join(map(_member, each.triggers))})" for each in stored.lists if each.triggers]
    if firing:
        yield "▲ Pressed again, it fires again:", "; ".join(firing)
    flips = [f"{each.label} ({_member(each.flips)})" for each in stored.lists if each.flips]
    if flips:
        yield "▲ Flips at every press, look at the lamp first:", "; ".join(flips)
    for name, gap in _gaps(stored, units):
        yield f"▲ {name}:", f"it needs {gap:g} ms between two messages. Try whether the sender is slow enough for it."
    if any(message.data[0] == 0xF0 for each in stored.lists for message in each.messages):
        yield "▲ Exclusive messages (F0 … F7):", "see that the sender stores them."


def _gaps(stored: SenderLists, units: Mapping[str, Unit]) -> Iterator[tuple[str, float]]:
    """Yield the units that need more time between two messages than these have on the wire."""
    fed = dict.fromkeys(message.unit for each in stored.lists for message in each.messages)
    for name in fed:
        gap = unit_of(units, name).least_gap_ms
        if gap is not None and any(_is_closer(each, name, gap) for each in stored.lists):
            yield name, gap


def _is_closer(each: StoredList, unit: str, gap_ms: float) -> bool:
    end: int | None = None
    for message in (message for message in each.messages if message.unit == unit):
        if end is not None and message.at_us - end < gap_ms * 1000:
            return True
        end = message.at_us + BYTE_US * len(message.data)
    return False


def _member(what: tuple[str, str]) -> str:
    return what[0] if what[1] == MAIN else f"{what[0]} {what[1]}"


def _grid(each: StoredList, units: Mapping[str, Unit], *, several: bool) -> Grid:
    """Return one list as a table; the port has a column where the sender serves `several`."""
    pauses = _pauses(each)
    rows: list[tuple[str, ...]] = []
    for at, message in enumerate(each.messages):
        rows += [(TICK, "", f"wait {pauses[at] / 1000:.1f} ms", *[""] * 4)] if at in pauses else []
        rows.append(_row(message, units))
    if not several:
        return Grid(f"{each.label}: {each.name}", _COLUMNS, tuple(rows), _WIDTHS, _pressed_at(each))
    ports = [(message.port,) * 2 if at in pauses else (message.port,) for at, message in enumerate(each.messages)]
    beside = ("port", *(port for some in ports for port in some))
    columns, *wider = ((*row[:_PORT], port, *row[_PORT:]) for row, port in zip((_COLUMNS, *rows), beside, strict=True))
    widths = (*_WIDTHS[:_PORT], 1.2, *_WIDTHS[_PORT:])
    return Grid(f"{each.label}: {each.name}", columns, tuple(wider), widths, _pressed_at(each))


def _pressed_at(each: StoredList) -> str:
    if each.flips:
        return f"Each press flips {_member(each.flips)}."
    more = f" and {len(each.cues) - _MOST} more" if len(each.cues) > _MOST else ""
    return f"Pressed at: {'; '.join(each.cues[:_MOST])}{more}."


def _row(message: Message, units: Mapping[str, Unit]) -> tuple[str, ...]:
    channel, said = channel_of(message.data), message_words(unit_of(units, message.unit), message)
    return (
        TICK,
        message.unit,
        said,
        "" if channel is None else str(channel),
        *message_numbers(message),
    )


def _pauses(each: StoredList) -> dict[int, int]:
    """Return before which messages the list waits on their port, and for how many µs."""
    clocks: dict[str, int] = {}
    found = {}
    for at, message in enumerate(each.messages):
        wait = message.at_us - clocks.get(message.port, 0)
        if wait > 0:
            found[at] = wait
        clocks[message.port] = message.at_us + BYTE_US * len(message.data)
    return found


def _press_pages(stored: SenderLists, played: CueList) -> Iterator[Page]:
    """Yield what to press at each cue: of the sets, then of spare songs and house sounds."""
    yield Page("What to press", (_pressed("The sets", played.cues, stored.unit),))
    parts = [(f"Spare song: {spare.song}", spare.cues) for spare in played.spares]
    parts += [("House sounds", played.house.cues)] if played.house else []
    if parts:
        yield Page("Spare songs and house sounds", tuple(_pressed(*part, stored.unit) for part in parts))


def _pressed(title: str, cues: Sequence[Cue], unit: str) -> Grid:
    rows = tuple((str(cue.number), cue.song or "", cue.scene, _presses(cue, unit)) for cue in cues)
    songs = [len(list(run)) for _, run in groupby(cues, lambda cue: cue.entry)]
    ends = frozenset(sum(songs[: at + 1]) - 1 for at in range(len(songs) - 1))
    return Grid(title, ("cue", "song", "scene", "press"), rows, (0.6, 3, 2.4, 4), ruled=ends)


def _presses(cue: Cue, unit: str) -> str:
    """Return what is pressed; a list that has been pressed last needs no press."""
    moves = [move for move in cue.by_hand if move.action is Action.PRESS and move.unit == unit]
    said = (f"{move.member} ({move.after})" if move.after else move.member for move in moves)
    return "; ".join(said) or "nothing: it stands so"
