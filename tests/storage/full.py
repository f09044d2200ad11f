"""A library in which no field holds its default, so that whatever a room forgets to keep is missed."""

import datetime
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from scenebook.model import (
    FormEntry,
    Gig,
    GigSet,
    Instrument,
    Library,
    Preset,
    Programs,
    Rig,
    Scene,
    SetEntry,
    Settings,
    Song,
    StandIn,
    Switch,
    Trigger,
    Unit,
    Variant,
)
from scenebook.model.objects import Outlet, Size, Supply
from scenebook.model.on_stage import Lists, Playback, Sender, StepTrigger, Wire
from scenebook.model.practice import Practice, Preference, Trait
from scenebook.model.rigs import Lead, Parallel, Placement
from scenebook.model.units import BankSelect, Control, ControlMessage, Role, SwitchMessage, Toggle
from scenebook.model.values import Scale

__all__ = ["fields_seen", "first_library", "full_library", "instances"]


def full_library() -> Library:
    """Return the library; every cross-check of the model is content with it."""
    return Library(
        settings=Settings(
            tuning=442.5, press_ms=650, turn_ms=2400.5, pedal_ms=900, instrument_ms=15_000, practice=_practice()
        ),
        units={
            "Mehrfach, groß": _multi(),
            "fuzz": _fuzz(),
            "spare fuzz": Unit(controls={"gain": Control(scale=Scale.CLOCK)}),
            "supply": _supply(),
        },
        rigs={"hall": _rig()},
        songs={"Harbour": _song(), "House": Song(scenes={"clean": Scene()})},
        gigs={"Pier, 1 May": _gig()},
    )


def first_library() -> Library:
    """Return it as the first revision stored it: without the fields that needed no new tables and came later."""
    said = full_library().model_dump(mode="json", exclude_defaults=True)
    del said["settings"]["practice"], said["units"]["supply"]
    multi = said["units"]["Mehrfach, groß"]
    del multi["input_kohm"], multi["supply"]["positive_ground"], multi["supply"]["own"]
    del multi["least_gap_ms"], multi["bends_ms"], multi["lists"]
    del said["songs"]["Harbour"]["number"], said["songs"]["Harbour"]["scenes"]["12:30"]["level"]
    for key in ("supply", "frame_g", "case_g", "wires", "steps", "playback", "safe", "sender"):
        del said["rigs"]["hall"][key]
    said["rigs"]["hall"]["units"]["fuzz"]["port"] = "front"  # that a sender has ports of its own came later
    return Library.model_validate(said)


def _practice() -> Practice:
    numbers = {name: 2.5 for name in Practice.model_fields if name not in ("order", "headroom", "colour_share")}
    order = (Preference(first=Role.DELAY, then=Trait.MONO, reason="for once"),)
    return Practice(order=order, headroom=0.3, colour_share=0.1, **numbers)


def _supply() -> Unit:
    first = Outlet(
        name="1", volts="9-18", current="AC", polarity="centre negative", plug="5.5 x 2.1 mm", ma=100, isolated=True
    )
    return Unit(switches={}, outlets=(first, Outlet(name="2", volts="9")), outlets_w=12.5)


def _multi() -> Unit:
    return Unit(
        roles=(Role.FUZZ, Role.DELAY),
        switches=_switches(),
        controls=_controls(),
        triggers=_triggers(),
        programs=_programs(),
        presets=_presets(),
        sections_at_once=2,
        bypass_tails="kept",
        boot_s=11.5,
        size=Size(width=200, depth=130.5, height=58),
        jacks=("left", "top"),
        weight_g=1040,
        supply=Supply(
            volts="9-18",
            current="AC",
            polarity="centre positive",
            ma=400,
            plug="5.5 x 2.1 mm",
            positive_ground=True,
            own=True,
        ),
        input="mono",
        input_kohm=15,
        output="stereo",
        bypass="relay",
        least_gap_ms=3.5,
        bends_ms=1500,
        lists=Lists(count=40, messages=12, channels=4, switches=5, pauses=True),
        owned=False,
        price=120.5,
        notes="Two lines:\n  the second # is no comment",
    )


def _switches() -> dict[str, Switch]:
    return {
        "main": Switch(message=SwitchMessage(controller=20, on=100, off=1), foot=True, hand=True, contact="left jack"),
        "loop": Switch(message=SwitchMessage(note=60, by_chart=True), section=Role.DELAY),
        "boost": Switch(message=SwitchMessage(on_bytes="Bn 50 7F", off_bytes="Bn 50 00")),
        "tap": Switch(momentary=True, foot=True),
        "flip": Switch(toggle=Toggle(controller=21, value=64, by_chart=True)),
        "knock": Switch(toggle=Toggle(note=61)),
        "push": Switch(toggle=Toggle(bytes="Bn 51 7F")),
    }


def _controls() -> dict[str, Control]:
    return {
        "time": Control(
            scale=Scale.NOTE_VALUE,
            message=ControlMessage(controller=30, range=("20 ms", "1500 ms"), by_chart=True),
            hand=True,
            pedal=True,
            tolerance="30 ms",
        ),
        "mode": Control(
            scale=Scale.CHOICE,
            choices=("on", "12:30"),
            message=ControlMessage(controller=31, values={"on": 0, "12:30": 9}),
        ),
    }


def _triggers() -> dict[str, Trigger]:
    return {
        "hit": Trigger(note=38, velocity=40, foot=True),
        "stop": Trigger(controller=40, value=3, by_chart=True),
        "go": Trigger(bytes="F0 7D 01 F7"),
    }


def _programs() -> Programs:
    return Programs(
        count=300,
        first="1A",
        bank_of=3,
        bank_select=BankSelect.BOTH,
        first_bank=5,
        program_change=False,
        foot=True,
        hand=True,
        settle_ms=90.5,
        silence_ms=15,
        tails="cut",
        tail_ms=800,
        repeat="ignored",
    )


def _presets() -> tuple[Preset, ...]:
    return (
        Preset(
            slot="2B",
            name="null",
            stores={"main": "on", "time": "380 ms"},
            rest="off",
            footswitches={"A": "tap"},
            pitches=("E1", "Bb2"),
            variants={
                "louder": Variant(controller=50, value=2, foot=True, by_chart=True, stores={"boost": "on"}),
                "softer": Variant(bytes="Bn 52 00"),
            },
        ),
    )


def _fuzz() -> Unit:
    return Unit(
        switches={"main": Switch(foot=True), "fat": Switch(hand=True)},
        controls={"gain": Control(scale=Scale.CLOCK, hand=False), "level": Control(scale=Scale.DECIBEL)},
        programs=Programs(count=8),
    )


def _rig() -> Rig:
    return Rig(
        chain=("Mehrfach, groß", Parallel(parallel=(("fuzz",), ()))),
        units={
            "Mehrfach, groß": Placement(port="front", channel=2, hears="omni"),
            "fuzz": Placement(port="back", channel=3, hears=(3, 4)),
        },
        loops={"Mehrfach, groß": {"loop": ("fuzz",)}},
        sends={"fuzz": {"fat": ()}},
        home={"fuzz": {"main": "on", "gain": "2 o'clock"}, "Mehrfach, groß": {"preset": "2B", "variant": "louder"}},
        stand_ins=(
            StandIn(
                part="spare fuzz", part_switch="main", by="fuzz", switch="fat", likeness=0.7, controls={"gain": "gain"}
            ),
            StandIn(part="fuzz", part_preset="3", by="Mehrfach, groß", preset="2B"),
        ),
        leads=(Lead(port="front", to="Mehrfach, groß"), Lead(thru="Mehrfach, groß", to="fuzz")),
        supply="supply",
        frame_g=1500,
        case_g=2000.5,
        wires={"front": Wire(plug="usb", midi="interface one", clock=True, start_stop=True)},
        steps=(
            StepTrigger(does="next", listens="pedal", channel=16, note=60),
            StepTrigger(does="safe", channel=16, controller=64, latching=True),
            StepTrigger(does="back", channel=16, program=5),
            StepTrigger(does="resume the set", listens="foot", song=9),
        ),
        playback=Playback(listens="playback", channel=15, song_select=True, part_controller=70),
        safe={"fuzz": {"main": "off"}, "Mehrfach, groß": {"preset": "2B"}},
        sender=Sender(unit="Mehrfach, groß", ports=("back",)),
        notes="Tape the floor.",
    )


def _song() -> Song:
    return Song(
        tempo=92.5,
        metre="7/8",
        key="F# minor",
        length="3:40",
        number=17,
        instrument=Instrument(name="viola", tuning="C G D A", capo=2),
        scenes={
            "verse": Scene(units={"fuzz": {"main": "off"}}),
            "12:30": Scene(
                units={
                    "Mehrfach, groß": {"preset": "2B", "variant": "louder", "time": "1/8."},
                    "fuzz": {"main": "on", "gain": "leave"},
                    "spare fuzz": {"leave": "unit"},
                },
                colours=("fuzz.gain",),
                triggers=("Mehrfach, groß.hit",),
                instrument=Instrument(name="mandola"),
                level=-3.5,
                notes="loud",
            ),
        },
        form=(FormEntry(scene="verse"), FormEntry(scene="12:30", bars=8.5, free=2, words="on: the beat")),
        notes="Ends on the one.",
    )


def _gig() -> Gig:
    entry = SetEntry(song="Harbour", key="G", tempo=100, form=(FormEntry(scene="verse"),), notes="short", gap="20 s")
    return Gig(
        date=datetime.date(2027, 5, 1),
        place="the old pier",
        rig="hall",
        sets=(
            GigSet(name="one", songs=(entry, SetEntry(song="Harbour", segue=True)), interval="20 min"),
            GigSet(name="none yet"),
        ),
        spares=(SetEntry(song="Harbour", tempo=60), SetEntry(song="House")),
        house="House",
        gap="15 s",
        out=("fuzz",),
        played_by={"fuzz": "spare fuzz"},
        notes="One socket.",
    )


def instances(value: Any) -> Iterator[BaseModel]:
    """Yield every model object inside a value."""
    if isinstance(value, BaseModel):
        yield value
        for name in type(value).model_fields:
            yield from instances(getattr(value, name))
    elif isinstance(value, dict):
        for inner in value.values():
            yield from instances(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from instances(inner)


def fields_seen(library: Library) -> dict[tuple[str, str], bool]:
    """Return for every field of every model class in a library whether some object tells it."""
    seen: dict[tuple[str, str], bool] = {}
    for thing in instances(library):
        for name, field in type(thing).model_fields.items():
            default = field.get_default(call_default_factory=True, validated_data={})
            told = field.is_required() or getattr(thing, name) != default
            key = (type(thing).__name__, name)
            seen[key] = seen.get(key, False) or told
    return seen
