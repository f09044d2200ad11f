"""Which of a sender's stored lists serve tonight: they hold a gig as it was stored, and tonight it may be another.

Pure. A list serves a cue where what still hears it gets just what the cue needs. A verse is cut, a unit is out or deaf,
a spare song is called: the numbers stay those that are stored. A cue that no list serves is done by hand.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Cue, CueList, Message, MessageKind
from scenebook.cueing.sender import UNSTORED, Flip, Needs, SenderLists, StoredList, flips_in, sender_lists
from scenebook.cueing.sender_parts import parts_of
from scenebook.cueing.sender_presses import each_alone, in_order, without_ports
from scenebook.model import Library
from scenebook.model.messages import channel_of
from scenebook.states.stage import Stage, stage_of

__all__ = ["Pressed", "Stored", "pressed_tonight", "stored_for"]


@dataclass(frozen=True)
class Stored:
    """What a rig's sender stores for a gig, and what that was worked out from."""

    stage: Stage
    full: CueList
    lists: SenderLists


class Pressed(NamedTuple):
    """The lists of tonight, with what is pressed in place of the messages on the sender's ports.

    `whole` is the full list with the messages that go out at each press. `unstored` names the scenes that no stored
    list serves.
    """

    lean: CueList
    full: CueList
    whole: CueList
    unstored: tuple[str, ...]


def stored_for(library: Library, gig: str, rig: str) -> Stored | None:
    """Return what the rig's sender stores for a gig as the library has it; None without one, or where it is out.

    Raises:
        BadValueError: the sender has no room for the gig.
        ScenebookError: the gig cannot be compiled.
    """
    sender, evening = library.rigs[rig].sender, library.gigs[gig]
    if sender is None or evening.played_by.get(sender.unit, sender.unit) in evening.out:
        return None
    full = compile_gig(library, gig, rig, full=True)
    lists = sender_lists(library, compile_gig(library, gig, rig), full)
    return Stored(stage_of(library, rig, evening), full, lists)


def pressed_tonight(stored: Stored, library: Library, lean: CueList, full: CueList) -> Pressed:
    """Return a gig's lists, lean and full, as they are played tonight with what the sender stores.

    `library` is tonight's, from which the two were compiled; the sender has to be there.
    """
    matcher = _Matcher(stored, library, lean.rig, lean.gig)
    lists = matcher.tonight(lean, full)
    whole = each_alone(library, full, lists)
    played = in_order(library, lean, full, lists)
    cues = [*zip(full.cues, lists.sets, strict=True)]
    for song, needs in zip(full.spares, lists.spares, strict=True):
        cues += zip(song.cues, needs, strict=True)
    cues += zip(full.house.cues if full.house else (), lists.house, strict=True)
    unstored = dict.fromkeys(f"{cue.song}: {cue.scene}" if cue.song else "home" for cue, n in cues if n == UNSTORED)
    return Pressed(without_ports(played, lists.ports), without_ports(whole, lists.ports), whole, tuple(unstored))


class _Serves(NamedTuple):
    """What reaches units, by port and channel (0 where a message has none): the bytes, and how long each settles."""

    sent: dict[tuple[str, int], tuple[bytes, ...]]
    settles: dict[tuple[str, int], tuple[int, ...]]

    @property
    def key(self) -> frozenset[tuple[tuple[str, int], tuple[bytes, ...]]]:
        """What is sent, to be looked up."""
        return frozenset(self.sent.items())


class _Matcher:
    """Finds for each cue of tonight the stored lists that bring its units there."""

    def __init__(self, stored: Stored, library: Library, rig: str, gig: str) -> None:
        self._stored, self._library, self._lists = stored, library, stored.lists
        self._stage = stage_of(library, rig, library.gigs[gig])
        self._there = {each.name for each in self._stage.carried if each.placement.port is not None}
        new = [each for each in self._stage.carried if each.name not in stored.stage.by_name]
        self._new = {(each.placement.port, channel) for each in new for channel in (0, *each.placement.channels)}
        self._known: defaultdict[object, list[tuple[tuple[str, str], Needs, _Serves]]] = defaultdict(list)
        for cue, needs in self._all_stored():
            serves = self._reaching(message for at, _ in needs for message in self._lists.lists[at].messages)
            self._known[serves.key].append(((cue.song, cue.scene), needs, serves))

    def tonight(self, lean: CueList, full: CueList) -> SenderLists:
        """Return the stored lists with tonight's cues and flips."""
        spares = tuple(tuple(map(self._needs, song.cues)) for song in full.spares)
        house = tuple(map(self._needs, full.house.cues)) if full.house else ()
        sets = tuple(map(self._needs, full.cues))
        return replace(self._lists, lists=self._flipping(lean), sets=sets, spares=spares, house=house)

    def _all_stored(self) -> Iterator[tuple[Cue, Needs]]:
        full, lists = self._stored.full, self._lists
        yield from zip(full.cues, lists.sets, strict=True)
        for song, needs in zip(full.spares, lists.spares, strict=True):
            yield from zip(song.cues, needs, strict=True)
        yield from zip(full.house.cues if full.house else (), lists.house, strict=True)

    def _needs(self, cue: Cue) -> Needs:
        """Return what is pressed for a full cue of tonight: its own scene's lists before others that do the same."""
        mine = [message for message in cue.messages if message.port in self._lists.ports]
        parts = parts_of(mine, self._library.units, pauses=self._lists.holds.pauses)
        wanted = self._reaching(message for part in parts for message in part.messages)
        if not wanted.sent:
            return ()
        fit = [(place, needs) for place, needs, serves in self._known[wanted.key] if _waits(serves, wanted)]
        own = [needs for place, needs in fit if place == (cue.song, cue.scene)]
        return (own or [needs for _, needs in fit] or [UNSTORED])[0]

    def _reaching(self, messages: Iterable[Message]) -> _Serves:
        """Return what of some messages reaches units that are there tonight."""
        found: defaultdict[tuple[str, int], list[tuple[bytes, int]]] = defaultdict(list)
        for each in messages:
            place = each.port, channel_of(each.data) or 0
            if each.unit in self._there or place in self._new:
                found[place].append((each.data, self._settle_us(each)))
        sent = {place: tuple(data for data, _ in row) for place, row in found.items()}
        return _Serves(sent, {place: tuple(us for _, us in row) for place, row in found.items()})

    def _settle_us(self, message: Message) -> int:
        programs = self._library.units[message.unit].programs
        is_recall = message.kind is MessageKind.RECALL and programs is not None
        return (programs.settle_us or 0) if is_recall and programs is not None else 0

    def _flipping(self, lean: CueList) -> tuple[StoredList, ...]:
        """Return the lists, those that flip a switch for the switch that they flip tonight, if one is there."""
        songs = (*lean.spares, *([lean.house] if lean.house else []))
        asked: dict[Sequence[tuple[str, bytes]], Flip] = {}
        for cue in (*lean.cues, *(cue for song in songs for cue in song.cues)):
            for flip, messages in flips_in(cue, self._library.units, self._lists.ports).items():
                asked.setdefault(_sent(messages), flip)
        return tuple(
            replace(each, flips=asked.get(_sent(each.messages))) if each.flips is not None else each
            for each in self._lists.lists
        )


def _waits(stored: _Serves, wanted: _Serves) -> bool:
    """Tell whether what is stored waits long enough for the units of tonight."""
    return all(
        need <= has
        for place, row in wanted.settles.items()
        for need, has in zip(row, stored.settles[place], strict=True)
    )


def _sent(messages: Sequence[Message]) -> tuple[tuple[str, bytes], ...]:
    return tuple((message.port, message.data) for message in messages)
