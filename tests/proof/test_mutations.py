"""Two receivers, written apart, agree on every spoiled list; and the proof reports what they call a change (P4)."""

from collections.abc import Iterable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.model import Library, Placement, Unit
from scenebook.proof import SentMessage, prove, receivers
from scenebook.proof.receivers import Receiver
from scenebook.proof.wire import timed
from tests.support.build import GIG, RIG, gig, library, rig, song, unit
from tests.support.mutations import tally
from tests.support.random_gigs import plain_list, random_library
from tests.support.second_receiver import messages_of, settled_state, state_after
from tests.support.sent import PORT, sent_list

EVERYTHING = unit(
    switches={
        "main": {"message": {"controller": 80}},
        "deep": {"message": {"controller": 81, "on": 1, "off": 2}},
        "wide": {"message": {"note": 40}},
        "thick": {"message": {"on_bytes": "Bn 52 7F Bn 52 00", "off_bytes": "Bn 53 7F Bn 53 00"}},
        "flip": {"toggle": {"controller": 84}},
        "flop": {"toggle": {"bytes": "F0 7D 09 F7"}},
        "held": {"momentary": True, "message": {"controller": 85}},
        "kept": {},
    },
    controls={"gain": {"scale": "0 to 10", "message": {"controller": 20}}, "tone": "0 to 10"},
    triggers={"bell": {"note": 60}, "rec": {"controller": 90, "value": 5}, "go": {"bytes": "FA"}},
    programs={"count": 300, "first": "0", "settle_ms": 3, "bank_select": "lsb", "repeat": "ignored"},
    preset=[
        {"slot": "0", "stores": {"main": "on", "kept": "off", "flip": "off"}},
        {
            "slot": "1",
            "rest": "off",
            "stores": {"main": "off", "gain": "5", "flop": "on"},
            "variants": {
                "big": {"controller": 91, "value": 1, "stores": {"deep": "on", "kept": "on"}},
                "small": {"bytes": "B3 5B 02", "stores": {"gain": "1", "wide": "on"}},
            },
        },
        {"slot": "129", "name": "far", "stores": {"thick": "on", "kept": "off", "flip": "off", "flop": "off"}},
    ],
)
HEARS = Placement(port=PORT, channel=1, hears=(1, 4))

byte = st.one_of(
    st.sampled_from([0, 1, 2, 5, 20, 32, 40, 60, 64, 80, 81, 82, 83, 84, 85, 90, 91, 127]),
    st.sampled_from([0x80, 0x90, 0x93, 0xB0, 0xB3, 0xB1, 0xC0, 0xC3, 0xF0, 0xF7, 0xF8, 0xFA, 0xF6, 0xF2, 0xF9, 0xE0]),
    st.integers(0, 255),
)
PHRASES = """
B00001 B02000 B02001 B32001 C000 C001 C081 C301 B0507F B05101 B05102 90287F 802800 B0527F B05200 B0537F B05300
B0547F F07D09F7 B01440 903C64 803C40 B05A05 FA B05B01 B35B02 F8
"""  # what the unit above understands, more or less
phrases = st.sampled_from([bytes.fromhex(text) for text in PHRASES.split()])
chunks = st.one_of(phrases, phrases, phrases, st.lists(byte, min_size=1, max_size=4).map(bytes))
streams = st.lists(st.tuples(st.sampled_from([0, 0, 1, 3000, 100_000]), chunks), max_size=25)


@given(st.lists(streams, min_size=1, max_size=3))
def test_two_receivers_written_apart_agree_on_any_bytes(cues: list[list[tuple[int, bytes]]]) -> None:
    """Whatever comes, in whatever order and at whatever time, over several cues."""
    first, second = Receiver(EVERYTHING, 440.0), None
    for cue in cues:
        first.begin()
        heard, _ = timed([SentMessage(PORT, *chunk) for chunk in cue], None)
        known = {
            (start, message)
            for start, end, message in heard
            if (message[0] >= 0xF0 or message[0] % 16 + 1 in HEARS.channels) and first.hear(start, end, message)
        }
        clock, stream = 0, []
        for wait, data in cue:
            stream.append((clock + wait, data))
            clock += wait + 320 * len(data)
        second = state_after(EVERYTHING, HEARS, stream, second)

        assert in_full(messages_of(stream)) == in_full(heard)
        assert second["understood"] == known
        assert settled_state(second) == {
            "slot": first.slot,
            "variant": first.variant,
            "members": first.values,
            "fired": dict(first.fired),
            "held": first.sounding,
        }


def in_full(messages: Iterable[tuple[int, int, bytes]]) -> list[tuple[int, int, bytes]]:
    """Leave out when an exclusive message ends: nothing settles from there, and a broken one has no end of its own."""
    return [(start, 0 if message[0] == 0xF0 else end, message) for start, end, message in messages]


def hall() -> tuple[Library, list[list[str]]]:
    """Return a library where units share channels, settle, toggle and fire, and a list for it."""
    units: dict[str, Unit] = {
        "everything": EVERYTHING,
        "omni": unit(switches={"main": {"message": {"controller": 110}}}),
        "near": unit(switches={"main": {"toggle": {"controller": 84}}}, controls={"mix": _percent(30)}),
    }
    placements: dict[str, Any] = {
        "everything": {"port": PORT, "channel": 1, "hears": [1, 4]},
        "omni": {"port": PORT, "channel": 7, "hears": "omni"},
        "near": {"port": "wet", "channel": 1},
    }
    scenes = {
        "verse": {"everything": {"preset": "0", "wide": "on", "gain": "2"}, "near": {"main": "on"}},
        "chorus": {"everything": {"preset": "1", "variant": "big"}, "omni": "on", "near": {"mix": "100"}},
        "solo": {
            "units": {"everything": {"preset": "far", "main": "on"}, "near": "leave"},
            "triggers": ["everything.bell", "everything.rec"],
        },
    }
    home = {"everything": {"preset": "0"}}
    of = library(units, rig(*units, units=placements, home=home), song(scenes), gig("song"))
    settle = "+3000"
    rest = ["B0 51 02", "80 28 00", "B0 53 7F", "B0 53 00"]
    start = ["B0 20 01", "C0 05", f"{settle} B0 20 00", "C0 00", f"{settle} {rest[0]}", *rest[1:], "B6 6E 00"]
    verse = ["90 28 7F", "B0 14 19", "wet: B0 54 7F"]
    chorus = ["B6 6E 7F", "B0 20 00", "C0 01", f"{settle} B0 5B 01", "wet: B0 54 7F", "wet: B0 1E 7F"]
    solo = [
        "B6 6E 00", "B0 20 01", "C0 01", f"{settle} B0 50 7F", "B0 51 02", "80 28 00", "90 3C 64", "B0 5A 05",
        "+99040 80 3C 40",
    ]  # fmt: skip
    return of, [start, verse, chorus, solo]


def _percent(controller: int) -> dict[str, Any]:
    return {"scale": "percent", "message": {"controller": controller}}


def test_the_hall_list_is_proved() -> None:
    """The list that is spoiled below is right to begin with."""
    of, cues = hall()

    proof = prove(of, GIG, RIG, sent_list(of, *cues))

    assert [(f.number, f.place, f.what) for f in proof.failures] == []


def test_every_change_of_state_is_reported_and_nothing_else() -> None:
    """Dropped, doubled, swapped, misread, too early, too many."""
    of, cues = hall()

    found = tally(of, GIG, RIG, sent_list(of, *cues))

    assert found.disagreements == []
    assert found.falsely_reported == 0
    assert found.caught == found.state_changing
    assert found.state_changing > 100


@pytest.mark.parametrize("kind", ["drop", "wait 1 us less"])
def test_no_message_and_no_microsecond_is_too_many(kind: str) -> None:
    """In a list with nothing to spare each drop and each shorter wait is found."""
    of, cues = hall()

    tried, changing, caught = tally(of, GIG, RIG, sent_list(of, *cues)).by_kind[kind]

    assert tried == changing == caught


@pytest.mark.parametrize("full", [False, True])
def test_the_two_agree_on_spoiled_lists_of_random_gigs(full: bool) -> None:
    """Units with every kind of chart, lists with every kind of fault; a gig that no list can reach is left out."""
    tried = 0
    for seed in range(10):
        of = random_library(seed)
        sent = plain_list(of, full=full)
        if prove(of, GIG, RIG, sent, full=full).ok:
            found = tally(of, GIG, RIG, sent, full=full, seed=seed, at_most=150)
            tried += found.tried
            assert (seed, found.disagreements) == (seed, [])
            assert found.caught == found.state_changing

    assert tried > 500


def test_a_proof_that_overlooks_something_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The counts above mean something: a first receiver that is wrong about one rule does not agree."""
    of, cues = hall()
    monkeypatch.setattr(receivers, "RELEASE_US", 0)

    found = tally(of, GIG, RIG, sent_list(of, *cues))

    assert found.caught < found.state_changing
    assert any(
        each.startswith("cue 3, wait 1 us less: a state changed, and nothing was reported")
        for each in found.disagreements
    )
