"""What the API takes and gives: the gig's own values, each as plain JSON with a description."""

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from scenebook.cueing.cues import Action, ByHand, Cue, Moment
from scenebook.live.acts import Act, Verb
from scenebook.live.places import Part, Place
from scenebook.live.programme import Programme, Step
from scenebook.live.snapshot import Form, PortState, Role, Snapshot
from scenebook.live.tonight import Tonight
from scenebook.live.walking import Checking
from scenebook.sheets.check_words import touched_words, untouched_words
from scenebook.web.digest import step_digest
from scenebook.web.keys import Right

__all__ = ["ActBody", "KeysBody", "PlaceBody", "ProgrammeBody", "RecordsBody", "StateBody", "TonightBody"]
__all__ += ["UnfinishedBody"]

_MOST = 9_999
# Lone surrogates, which JSON can say and no file can hold, and control characters are no words of a player.
_Words = Annotated[str, Field(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")]


def _whole(value: object) -> object:
    """Take 4.0 for 4, as JSON Schema does; nothing else that is not written as a number counts as one."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


_Count = Annotated[int, Field(le=_MOST, strict=True), BeforeValidator(_whole)]


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PlaceBody(_Body):
    """A cue of the evening. Home is entry -1; the safe state is part "safe", entry 0, form 0."""

    part: Part
    entry: _Count = Field(ge=-1, description="Counts the songs of all sets, or the spare songs, from 0.")
    form: _Count = Field(
        ge=0, description="Counts the entries of the song's form from 0, those that are cut tonight included."
    )

    @classmethod
    def of(cls, place: Place) -> "PlaceBody":
        """Return a place as the API says it."""
        return cls(part=place.part, entry=place.entry, form=place.form)

    @property
    def place(self) -> Place:
        """The place itself."""
        return Place(self.part, self.entry, self.form)


class ActBody(_Body):
    """One thing asked of the gig."""

    verb: Verb
    by: Annotated[_Words, Field(max_length=40)] = Field("page", description="What asks, for the log: key, touch, page.")
    place: PlaceBody | None = Field(None, description="For go, key, tempo, cut and keep.")
    unit: _Words = Field("", description="For out, in, played by, deaf from here, hears again.")
    other: _Words = Field("", description="For played by: the unit that plays it.")
    text: _Words = Field("", description="For key, tempo and learn; empty takes it back.")

    @property
    def act(self) -> Act:
        """The act itself."""
        place = self.place.place if self.place else None
        return Act(self.verb, by=self.by, place=place, unit=self.unit, other=self.other, text=self.text)


class MoveBody(_Body):
    """One thing that a hand or foot does. An empty `before` is one that nobody knows."""

    action: Action
    unit: str
    member: str
    before: str
    after: str
    moment: Moment
    for_cue: int
    presses: int

    @classmethod
    def of(cls, move: ByHand) -> "MoveBody":
        """Return a move as the API says it."""
        said = move._asdict()
        del said["us"]
        return cls(**said)


class CueBody(_Body):
    """One cue: what it is, and what hands, feet and the player must know of it."""

    place: PlaceBody
    number: int
    song: str
    scene: str
    bars: float | None
    free: float
    words: str
    by_hand: tuple[MoveBody, ...]
    lacks: tuple[str, ...]
    without: tuple[str, ...]
    notes: tuple[str, ...]
    late: str
    messages: int = Field(description="How many go out between neighbours.")

    @classmethod
    def of(cls, step: Step) -> "CueBody":
        """Return a cue as it goes out between neighbours."""
        cue: Cue = step.lean
        return cls(
            place=PlaceBody.of(step.place),
            number=cue.number,
            song=cue.song,
            scene=cue.scene,
            bars=cue.bars,
            free=cue.free,
            words=cue.words,
            by_hand=tuple(map(MoveBody.of, cue.by_hand)),
            lacks=cue.lacks,
            without=cue.without,
            notes=cue.notes,
            late=cue.late,
            messages=len(cue.messages),
        )


class SentBody(_Body):
    """What went out for the cue that stands. `done` is false while messages wait for their time."""

    form: Form
    by: str
    at: float = Field(description="Seconds since the epoch.")
    messages: int
    full: tuple[str, ...] = Field(description="The rig's ports that got everything.")
    done: bool


class PortBody(_Body):
    """One of the rig's ports and the MIDI port that it is joined to."""

    port: str
    midi: str
    state: PortState
    words: str


class NoticeBody(_Body):
    """Something that the player has to be told."""

    words: str
    about: str


class BeatBody(_Body):
    """The tempo of the MIDI clock, in quarter notes a minute."""

    running: float | None
    wanted: float | None
    waits: str


class LearnedBody(_Body):
    """A message that was pressed while learning; its bytes are hexadecimal."""

    listens: str
    bytes: str
    does: str


class TextAt(_Body):
    """A key for the song at a place."""

    place: PlaceBody
    text: str


class TempoAt(_Body):
    """A tempo for the song at a place, in quarter notes a minute."""

    place: PlaceBody
    tempo: float


class TonightBody(_Body):
    """What is different tonight."""

    out: tuple[str, ...]
    played_by: dict[str, str]
    deaf: tuple[str, ...]
    keys: tuple[TextAt, ...]
    tempos: tuple[TempoAt, ...]
    cut: tuple[PlaceBody, ...]

    @classmethod
    def of(cls, tonight: Tonight) -> "TonightBody":
        """Return what is different, in a fixed order."""
        return cls(
            out=tuple(sorted(tonight.out)),
            played_by=dict(tonight.played_by),
            deaf=tuple(sorted(tonight.deaf)),
            keys=tuple(TextAt(place=PlaceBody.of(place), text=key) for place, key in tonight.keys.items()),
            tempos=tuple(TempoAt(place=PlaceBody.of(place), tempo=tempo) for place, tempo in tonight.tempos.items()),
            cut=tuple(PlaceBody.of(place) for place in sorted(tonight.cut)),
        )


class CheckingBody(_Body):
    """The line check that goes on; `next` leads along it, and after its last cue to where it was begun."""

    at: int = Field(description="Counts its cues from 0; -1 before the first.")
    count: int
    touches: tuple[str, ...] = Field(description="What the cue that stands is the first to touch.")
    caution: str = Field(description="What has to be said before the next step: that leads to the loudest cue.")
    untouched: tuple[str, ...] = Field(description="What no cue of the gig touches.")
    loudness: str = Field(description="How it is known which cue is the loudest.")

    @classmethod
    def of(cls, checking: Checking) -> "CheckingBody":
        """Return a line check as the API says it."""
        return cls(
            at=checking.at,
            count=len(checking.checks),
            touches=touched_words(checking.here.first) if checking.here else (),
            caution=checking.ahead.caution if checking.ahead else "",
            untouched=untouched_words(checking.untouched),
            loudness=checking.loudness,
        )


class StateBody(_Body):
    """How the gig stands now."""

    version: int = Field(description="Grows with every change.")
    gig: str
    rig: str
    may: Right = Field(description="What the one who asks may do.")
    role: Role
    cue: CueBody
    ahead: CueBody | None = Field(description="Where next leads.")
    left: PlaceBody | None = Field(description="Where the set was left, if it was.")
    sent: SentBody
    ports: tuple[PortBody, ...]
    tonight: TonightBody
    check: tuple[MoveBody, ...] = Field(description="What hands and feet have to look at after a jump.")
    in_turn: bool = Field(description="Whether the cue came after its neighbour: its own moves are all there is to do.")
    checking: CheckingBody | None
    notices: tuple[NoticeBody, ...]
    beat: BeatBody
    learning: str
    learned: LearnedBody | None
    offer: str = Field(description="Why the rig may stand anywhere until it is sent again; empty when it is sure.")
    refused: str = Field(description="Why the act before was not done; empty when it was.")

    @classmethod
    def of(cls, snapshot: Snapshot, right: Right) -> "StateBody":
        """Return a snapshot as the API says it."""
        sent, beat = snapshot.sent, snapshot.beat
        return cls(
            version=snapshot.version,
            gig=snapshot.programme.gig,
            rig=snapshot.programme.rig,
            may=right,
            role=snapshot.role,
            cue=CueBody.of(snapshot.step),
            ahead=CueBody.of(snapshot.ahead) if snapshot.ahead else None,
            left=PlaceBody.of(snapshot.left) if snapshot.left else None,
            sent=SentBody(
                form=sent.form, by=sent.by, at=sent.at, messages=sent.messages, full=sent.full, done=sent.done
            ),
            ports=tuple(PortBody(port=p.port, midi=p.midi, state=p.state, words=p.words) for p in snapshot.ports),
            tonight=TonightBody.of(snapshot.tonight),
            check=tuple(map(MoveBody.of, snapshot.check)),
            in_turn=snapshot.in_turn,
            checking=CheckingBody.of(snapshot.checking) if snapshot.checking else None,
            notices=tuple(NoticeBody(words=each.words, about=each.about) for each in snapshot.notices),
            beat=BeatBody(running=beat.running, wanted=beat.wanted, waits=beat.waits),
            learning=snapshot.learning,
            learned=_learned(snapshot),
            offer=snapshot.offer,
            refused=snapshot.refused,
        )


def _learned(snapshot: Snapshot) -> LearnedBody | None:
    learned = snapshot.learned
    if learned is None:
        return None
    return LearnedBody(listens=learned.listens, bytes=learned.data.hex(" ").upper(), does=learned.does)


class StepBody(_Body):
    """One cue of the programme, in short. Equal digests send the same and ask the same of hands."""

    place: PlaceBody
    number: int
    song: str
    scene: str
    bars: float | None
    digest: str


class ProgrammeBody(_Body):
    """All that can be called tonight: home and the sets in order, the spare songs, the house sounds, the safe state."""

    gig: str
    rig: str
    steps: tuple[StepBody, ...]
    spares: tuple[tuple[StepBody, ...], ...]
    house: tuple[StepBody, ...]
    safe: StepBody
    warnings: tuple[str, ...]

    @classmethod
    def of(cls, programme: Programme) -> "ProgrammeBody":
        """Return the programme as it is tonight."""
        return cls(
            gig=programme.gig,
            rig=programme.rig,
            steps=tuple(map(_step, programme.steps)),
            spares=tuple(tuple(map(_step, spare)) for spare in programme.spares),
            house=tuple(map(_step, programme.house)),
            safe=_step(programme.safe),
            warnings=programme.warnings,
        )


def _step(step: Step) -> StepBody:
    cue = step.full
    return StepBody(
        place=PlaceBody.of(step.place),
        number=cue.number,
        song=cue.song,
        scene=cue.scene,
        bars=cue.bars,
        digest=step_digest(step),
    )


class UnfinishedBody(_Body):
    """What was asked is not done yet."""

    unfinished: str = Field(description="One sentence for a player.")


class RecordsBody(_Body):
    """What the gig has written, from a cursor on, and the cursor after it."""

    records: tuple[dict[str, Any], ...]
    next: int


class AddressBody(_Body):
    """An address that opens the stand once, and the same as a QR code (an SVG element)."""

    address: str
    qr: str


class KeysBody(_Body):
    """The next addresses for another screen. Where the stand is not shared they lead to this machine alone."""

    see: AddressBody
    step: AddressBody
    shared: bool
