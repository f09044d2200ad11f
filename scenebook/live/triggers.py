"""What comes in by MIDI, and what it asks of the running gig: steps by a footswitch, songs by a playback rig.

A footswitch bounces and a press may come in by two ports, so the same message counts once in 80 ms. What we sent a
moment ago and comes back around a thru is no press; which ports are joined by leads and mergers on the stage nobody
tells us, so that holds for every one. Pure: bytes and times (microseconds) in, acts out.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

from scenebook.errors import BadValueError
from scenebook.live.acts import Act, Verb
from scenebook.live.places import Part, Place
from scenebook.live.snapshot import Learned
from scenebook.model import Gig, Song
from scenebook.model.messages import describe
from scenebook.model.on_stage import Playback, StepTrigger
from scenebook.model.protocol import CONTROL_CHANGE, NOTE_ON, PROGRAM_CHANGE, SONG_SELECT, SWITCH_ON_FROM

__all__ = ["BOUNCE_US", "ECHO_US", "Echoes", "Triggers", "is_press", "numbered", "played", "trigger_of"]

BOUNCE_US: Final = 80_000  # a foot is not faster, and contacts have come to rest long before
ECHO_US: Final = 250_000  # around a thru and a slow merger; what comes later was pressed
_MANY: Final = 512  # messages kept for the echo guard before old ones are looked for

Kind = int  # a status without its channel
_KINDS: Final = {"note": NOTE_ON, "controller": CONTROL_CHANGE, "program": PROGRAM_CHANGE, "song": SONG_SELECT}


class Heard(NamedTuple):
    """What a message is about: its status without the channel, channel (None for Song Select), number and value."""

    kind: Kind
    channel: int | None
    number: int
    value: int


class Echoes:
    """What went out a moment ago."""

    def __init__(self) -> None:
        """Begin with nothing sent."""
        self._sent: dict[bytes, int] = {}

    def sent(self, data: bytes, now: int) -> None:
        """Remember a message that goes out."""
        self._sent[data] = now
        if len(self._sent) > _MANY:
            self._sent = {each: at for each, at in self._sent.items() if now - at < ECHO_US}

    def is_echo(self, data: bytes, now: int) -> bool:
        """Return whether a message that comes in is one that went out less than a quarter of a second ago."""
        at = self._sent.get(data)
        return at is not None and now - at < ECHO_US


@dataclass(slots=True)
class _Step:
    """One trigger and what it remembers."""

    listens: str
    kind: Kind
    channel: int | None
    number: int
    does: Verb
    latching: bool
    learned: bool = False
    last: int = -BOUNCE_US  # when it last did something
    value: int | None = None

    def hears(self, listens: str) -> bool:
        return listens.casefold().startswith(self.listens)

    def is_pressed(self, value: int) -> bool:
        """Return whether a value that has come in is a press.

        A controller is pressed where it rises to 64 or more, or says so again (a footswitch that sends 127 alone); a
        pedal on its way up presses once.
        """
        before, self.value = self.value, value
        if self.kind != CONTROL_CHANGE:
            return self.kind != NOTE_ON or value > 0
        is_on, was_on = value >= SWITCH_ON_FROM, before is not None and before >= SWITCH_ON_FROM
        if self.latching:
            return before is None or is_on != was_on
        return is_on and (not was_on or before == value)


class Triggers:
    """Everything that comes in and means something."""

    def __init__(
        self, steps: Sequence[StepTrigger], playback: Playback | None = None, places: Mapping[int, Place] | None = None
    ) -> None:
        """Take what the rig says; `places` are the songs by the number that calls them (see `numbered`).

        Raises:
            BadValueError: one message would do two things.
        """
        self._steps: list[_Step] = []
        self._playback = playback
        self._places = places or {}
        for step in steps:
            self._add(_step_of(step))

    @property
    def listens(self) -> tuple[str, ...]:
        """The names of the MIDI ports to listen to as they are written; "" stands for every one."""
        named = [step.listens for step in self._steps] + ([self._playback.listens] if self._playback else [])
        return ("",) if "" in named else tuple(dict.fromkeys(named))

    def call(self, places: Mapping[int, Place]) -> None:
        """Take the songs that numbers call from now on: something has changed for tonight."""
        self._places = places

    def learn(self, learned: Learned) -> bool:
        """Take a message that was learned; what was learned of the same message before is forgotten.

        Return whether that is new: where the message does it already nothing changes.

        Raises:
            BadValueError: the rig says that the message does something else, or it is none that steps a gig.
        """
        step = _step_of(trigger_of(learned), learned=True)
        before = self._steps
        if any(_clash(each, step) and each.hears(learned.listens) and each.does is step.does for each in before):
            return False
        self._steps = [each for each in before if not (each.learned and _clash(each, step))]
        try:
            self._add(step)
        except BadValueError:
            self._steps = before
            raise
        return True

    def act(self, listens: str, data: bytes, now: int, place: Place) -> Act | None:
        """Return what a message from the MIDI port `listens` asks for; `place` is where the gig stands."""
        heard = _heard(data)
        if heard is None:
            return None
        for step in self._steps:
            if (step.kind, step.channel, step.number) == heard[:3] and step.hears(listens):
                return self._stepped(step, heard, data, now)
        return self._called(listens, heard, place)

    def _stepped(self, step: _Step, heard: Heard, data: bytes, now: int) -> Act | None:
        if not step.is_pressed(heard.value) or now - step.last < BOUNCE_US:
            return None
        step.last = now
        return Act(step.does, _pressed(data))

    def _called(self, listens: str, heard: Heard, place: Place) -> Act | None:
        """Return the jump that a playback rig asks for; the song that stands already is left alone."""
        playback = self._playback
        if playback is None or not listens.casefold().startswith(playback.listens.casefold()):
            return None
        if heard.kind == CONTROL_CHANGE:
            is_part = (heard.channel, heard.number) == (playback.channel, playback.part_controller)
            in_song = place.part in (Part.SET, Part.SPARE) and place.entry >= 0
            aim = place._replace(form=heard.value) if is_part and in_song else None
            words = f"playback part {heard.value}"
        else:
            is_program = heard.kind == PROGRAM_CHANGE and heard.channel == playback.channel
            is_song = is_program or (heard.kind == SONG_SELECT and playback.song_select)
            aim = self._places.get(heard.number) if is_song else None
            words = f"playback {'program' if is_program else 'song'} {heard.number}"
            if aim is not None and (aim.part, aim.entry) == (place.part, place.entry):
                return None
        return None if aim is None or aim == place else Act(Verb.GO, words, place=aim)

    def _add(self, step: _Step) -> None:
        for other in self._steps:
            if _clash(step, other):
                raise _twice(step, str(other.does))
        if self._playback and _clashes_with(step, self._playback):
            raise _twice(step, "")
        self._steps.append(step)


def numbered(gig: Gig, songs: Mapping[str, Song]) -> dict[int, Place]:
    """Return the songs of an evening by the number that calls them: their own, else their place, from 0.

    Sets come before spare songs. A song's own number wins over another's place, and the earlier song over a later one.
    """
    entries = [(Part.SET, n, entry.song) for n, entry in enumerate(gig.entries)]
    entries += [(Part.SPARE, n, entry.song) for n, entry in enumerate(gig.spares)]
    by_number: dict[int, Place] = {}
    by_place: dict[int, Place] = {}
    for count, (part, entry, name) in enumerate(entries):
        number = songs[name].number if name in songs else None
        if number is None:
            by_place[count] = Place(part, entry, 0)
        else:
            by_number.setdefault(number, Place(part, entry, 0))
    return by_place | by_number


def played(numbers: Mapping[int, Place], places: Iterable[Place]) -> dict[int, Place]:
    """Return the songs by number, each at the first part of it that is among the places that are played tonight."""
    first: dict[tuple[Part, int], Place] = {}
    for place in sorted(places, reverse=True):
        first[place.part, place.entry] = place
    return {number: first.get((place.part, place.entry), place) for number, place in numbers.items()}


def trigger_of(learned: Learned) -> StepTrigger:
    """Return what was learned as a rig says it.

    Raises:
        BadValueError: such a message steps nothing.
    """
    heard = _heard(learned.data)
    if heard is None or not is_press(learned.data):
        raise BadValueError(
            f"{describe(learned.data)} cannot step the gig",
            accepted="a note, a controller at 64 or more, a program change, Song Select",
        )
    name = next(name for name, kind in _KINDS.items() if kind == heard.kind)
    said = {"does": learned.does, "listens": learned.listens, "channel": heard.channel, name: heard.number}
    return StepTrigger.model_validate(said)


def is_press(data: bytes) -> bool:
    """Return whether a message is one that a footswitch sends when it is pressed."""
    heard = _heard(data)
    if heard is None:
        return False
    return heard.value >= {NOTE_ON: 1, CONTROL_CHANGE: SWITCH_ON_FROM}.get(heard.kind, 0)


@lru_cache(256)
def _pressed(data: bytes) -> str:
    """Return what a press is called in the log; the same few are pressed all evening."""
    return f"footswitch {describe(data)}"


def _heard(data: bytes) -> Heard | None:
    status = data[0]
    if status == SONG_SELECT and len(data) == 2:
        return Heard(SONG_SELECT, None, data[1], 0)
    kind, channel = status & 0xF0, (status & 0x0F) + 1
    if kind == PROGRAM_CHANGE and len(data) == 2:
        return Heard(kind, channel, data[1], 0)
    if kind in (NOTE_ON, CONTROL_CHANGE) and len(data) == 3:
        return Heard(kind, channel, data[1], data[2])
    return None


def _step_of(step: StepTrigger, *, learned: bool = False) -> _Step:
    name = next(name for name in _KINDS if getattr(step, name) is not None)
    number = getattr(step, name)
    return _Step(step.listens.casefold(), _KINDS[name], step.channel, number, Verb(step.does), step.latching, learned)


def _clash(one: _Step, other: _Step) -> bool:
    """Return whether one message could be both."""
    same = (one.kind, one.channel, one.number) == (other.kind, other.channel, other.number)
    return same and _may_be_one(one.listens, other.listens)


def _clashes_with(step: _Step, playback: Playback) -> bool:
    if not _may_be_one(step.listens, playback.listens.casefold()):
        return False
    if step.kind == SONG_SELECT:
        return playback.song_select
    if step.channel != playback.channel:
        return False
    return step.kind == PROGRAM_CHANGE or (step.kind == CONTROL_CHANGE and step.number == playback.part_controller)


def _may_be_one(one: str, other: str) -> bool:
    """Return whether two names of MIDI ports could mean the same one: names may be shortened."""
    return one.startswith(other) or other.startswith(one)


def _twice(step: _Step, other: str) -> BadValueError:
    """Return the fault of a message that does something else as well: `other`, or "" to call songs."""
    name = next(name for name, kind in _KINDS.items() if kind == step.kind)
    channel = f" on channel {step.channel}" if step.channel else ""
    if other == step.does:
        return BadValueError(
            f"{name} {step.number}{channel} does '{other}' twice", where="steps", remedy="Leave one of them out"
        )
    also = f"'{other}'" if other else "the playback rig's calling of songs"
    return BadValueError(
        f"{name} {step.number}{channel} would do two things: '{step.does}' and {also}",
        where="steps",
        remedy="Let one of them listen to another message",
    )
