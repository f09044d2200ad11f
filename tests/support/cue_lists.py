"""Compiled gigs made by hand, for tests of what is printed: no compiler, only a plain difference of states.

The library is small and has one of everything that a sheet shows: a multi-effects that hears MIDI, units worked by foot
and hand, a colour, a lack, a late cue, a move made ahead, a spare song and house sounds.
"""

import datetime
from collections.abc import Mapping, Sequence

from scenebook.cueing.cues import Action, ByHand, Cue, CueList, Message, MessageKind, Moment, SongCues, UnitState
from scenebook.model import (
    Control,
    Gig,
    GigSet,
    Instrument,
    Library,
    Placement,
    Preset,
    Programs,
    Rig,
    Scene,
    SetEntry,
    Song,
    Switch,
    Unit,
)

__all__ = ["CHAIN", "a_cue", "a_gig", "a_library", "a_song", "compiled"]

FUZZ, DRIVE, MULTI, DELAY, LOOPER = "fuzz, silicon", "drive, soft", "multi-effects, small", "delay, tape", "looper"
CHAIN = (FUZZ, DRIVE, MULTI, DELAY, LOOPER)
HOME = {
    FUZZ: {"main": "off", "gain": "2 o'clock"},
    DRIVE: {"main": "off", "gain": "11 o'clock"},
    MULTI: {"chorus": "off"},
    DELAY: {"main": "off", "time": "380 ms", "mix": "30 %"},
    LOOPER: {"main": "off"},
}
Says = Mapping[str, Mapping[str, str]]


def units() -> dict[str, Unit]:
    foot = Switch(foot=True)
    return {
        FUZZ: Unit(
            switches={"main": foot},
            controls={"gain": Control(scale="clock")},
            supply={"volts": "9", "polarity": "centre negative", "ma": 8, "plug": "5.5 x 2.1 mm"},
            weight_g=310,
        ),
        DRIVE: Unit(switches={"main": foot}, controls={"gain": Control(scale="clock")}),
        MULTI: Unit(
            switches={"chorus": Switch(message={"controller": 24}, section="modulation")},
            programs=Programs(count=60, first="1A", bank_of=3, settle_ms=180),
            presets=(
                Preset(slot="1A", name="plain"),
                Preset(slot="2B", name="ice", footswitches={"1": "chorus"}, pitches=("E4", "G#3")),
            ),
            boot_s=18,
        ),
        DELAY: Unit(
            switches={"main": foot},
            controls={"time": Control(scale="ms"), "mix": Control(scale="percent")},
        ),
        LOOPER: Unit(switches={"main": foot, "record": Switch(foot=True, momentary=True)}),
    }


def a_rig() -> Rig:
    return Rig(
        chain=(FUZZ, DRIVE, MULTI, {"parallel": [[DELAY], []]}, LOOPER),
        units={MULTI: Placement(port="front", channel=2)},
        loops={},
        home={name: {k: v for k, v in said.items() if k != "main"} for name, said in HOME.items()},
        leads=({"port": "front", "to": MULTI},),
        notes="The looper stands at the right.",
    )


def a_song(*, tempo: float | None = 96, key: str = "D minor", instrument: str = "viola", notes: str = "") -> Song:
    """A song of three scenes: home, a loud one with a colour, and one in a preset of the multi-effects."""
    return Song(
        tempo=tempo,
        key=key,
        instrument=Instrument(name=instrument, tuning="C G D A"),
        scenes={
            "verse": Scene(notes="Answer the singer."),
            "chorus": Scene(
                units={FUZZ: {"main": "on", "gain": "4 o'clock"}, DELAY: {"main": "on", "time": "1/8."}},
                colours=(DELAY,),
            ),
            "break": Scene(units={MULTI: {"preset": "ice"}, LOOPER: {"record": "press for the last eight bars"}}),
        },
        form=("verse", "chorus", "verse", "chorus", "break"),
        notes=notes,
    )


def a_gig(names: Sequence[str] = ("Lamp room", "Kelp fire", "Chalk line"), *, spares: Sequence[str] = ()) -> Gig:
    half = (len(names) + 1) // 2
    return Gig(
        date=datetime.date(2027, 3, 19),
        place="Pell Quay, the old net hall",
        rig="board",
        gap="25 s",
        sets=(
            GigSet(name="first", songs=tuple(SetEntry(song=name) for name in names[:half]), interval="20 min"),
            GigSet(name="second", songs=tuple(SetEntry(song=name) for name in names[half:])),
        ),
        spares=tuple(SetEntry(song=name) for name in spares),
        house="House sounds",
        notes="Load in through the fish door.",
    )


def a_library(gig: Gig, songs: Mapping[str, Song] | None = None) -> Library:
    """The gig with its rig and units; songs that are not given are all alike."""
    alike = {name: a_song() for name in gig.songs}
    alike["House sounds"] = Song(scenes={"clean": Scene(), "big": Scene(units={FUZZ: {"main": "on"}})})
    return Library(units=units(), rigs={"board": a_rig()}, songs={**alike, **(songs or {})}, gigs={"Pell Quay": gig})


def compiled(library: Library, name: str = "Pell Quay") -> CueList:
    """The gig as a compiler could give it: what differs from the cue before is a move."""
    gig = library.gigs[name]
    home = a_cue(0, None, None, "", "home", {}, None)
    cues = [home._replace(by_hand=_checks(home.states))]
    for index, entry in enumerate(gig.entries):
        cues += _song_cues(library, entry.song, index, cues[-1])
    spares = tuple(SongCues(e.song, (cues[0], *_song_cues(library, e.song, 0, cues[0]))) for e in gig.spares)
    house = SongCues(gig.house, (cues[0], *_song_cues(library, gig.house, 0, cues[0]))) if gig.house else None
    return CueList(name, gig.rig or "", False, tuple(cues), spares, house, ())


def a_cue(
    number: int, entry: int | None, form: int | None, song: str, scene: str, says: Says, before: Cue | None
) -> Cue:
    """One cue: states from home and what the scene says, moves from what differs."""
    states = tuple(_state(unit, says.get(unit, {})) for unit in CHAIN)
    old = {state.unit: state for state in before.states} if before else {}
    moves = [move for state in states if state.unit in old for move in _moves(number, old[state.unit], state)]
    messages = tuple(move for move in moves if isinstance(move, Message))
    by_hand = tuple(move for move in moves if isinstance(move, ByHand))
    held = tuple(
        ByHand(Action.HOLD, LOOPER, "record", "", text, Moment.CUE, number, 700)
        for text in [says.get(LOOPER, {}).get("record", "")]
        if text
    )
    return Cue(
        number=number,
        entry=entry,
        form=form,
        song=song,
        scene=scene,
        bars=8 if form is not None else None,
        free=2 if form else 0,
        words="drums count in" if form == 0 else "",
        messages=messages,
        by_hand=(*by_hand, *held),
        lacks=(),
        without=(),
        stand_ins=(),
        not_carried=(),
        notes=(),
        late="",
        silence_us=0,
        tails_cut=(),
        overlap_us=0,
        interrupted_us=0,
        bytes=sum(len(message.data) for message in messages),
        running_bytes=sum(len(message.data) for message in messages),
        settled_us=180_640 if messages else 0,
        states=states,
    )


def _song_cues(library: Library, name: str, entry: int, before: Cue) -> list[Cue]:
    song, cues = library.songs[name], [before]
    for form, part in enumerate(song.played):
        says = song.scenes[part.scene].units
        cues.append(a_cue(cues[-1].number + 1, entry, form, name, part.scene, says, cues[-1]))
    return cues[1:]


def _state(unit: str, says: Mapping[str, str]) -> UnitState:
    members = {key: text for key, text in says.items() if key not in ("preset", "record", "leave")}
    values = {**HOME[unit], **members}
    preset = ("2B" if says.get("preset") else "1A") if unit == MULTI else None
    sounds = values.get("main", "on") == "on"
    return UnitState(unit, sounds, preset, "preset" in says, None, values, frozenset())


def _moves(number: int, old: UnitState, new: UnitState) -> list[Message | ByHand]:
    if old.preset != new.preset and new.preset:
        data = bytes((0xC1, 0 if new.preset == "1A" else 4))
        return [Message("front", new.unit, MessageKind.RECALL, "", new.preset, data, 0)]
    return [
        ByHand(
            Action.PRESS if member == "main" else Action.TURN,
            new.unit,
            member,
            old.values[member],
            text,
            Moment.CUE if member == "main" else Moment.FREE,
            number,
            700,
        )
        for member, text in new.values.items()
        if old.values[member] != text
    ]


def _checks(states: Sequence[UnitState]) -> tuple[ByHand, ...]:
    return tuple(
        ByHand(Action.CHECK, state.unit, member, "", text, Moment.BEFORE, 0, 2500)
        for state in states
        for member, text in state.values.items()
    )
