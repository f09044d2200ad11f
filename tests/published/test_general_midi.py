"""Slots as a display counts them and programs as the wire carries them, against the General MIDI sound set.

Source: *General MIDI System Level 1* (MMA, 1991), whose printed list counts from 1 while a Program Change carries 0 to
127; gm1_programs.csv holds 24 rows of it. Bank Select before it: MIDI 1.0, 14 bits, controller 0 × 128 + controller 32.
"""

import csv
from pathlib import Path

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.model import Programs
from tests.support import build

SOUNDS = list(csv.DictReader((Path(__file__).parent / "gm1_programs.csv").read_text(encoding="utf-8").splitlines()))


def sent_for(slot: str, programs: dict[str, object]) -> list[bytes]:
    """Return what a scene sends that names a slot on channel 1, after a home in another one."""
    units = {"synth": build.unit(programs={"settle_ms": 0, **programs})}
    rig = build.rig("synth", units={"synth": {"port": "out", "channel": 1}})
    library = build.library(units, rig, build.song({"scene": {"synth": {"preset": slot}}}, "scene"))
    return [message.data for message in compile_gig(library, build.GIG).cues[1].messages]


@pytest.mark.parametrize("row", SOUNDS, ids=lambda row: str(row["number_1_based"]))
def test_a_sound_of_the_published_list_is_sent_as_its_program(row: dict[str, str]) -> None:
    """Finger bass is 34 in the list and 33 on the wire: whoever mixes them up gets the bass with a pick."""
    number, wire = row["number_1_based"], int(row["wire_0_based"])
    from_one, from_nought = Programs(count=128, first="1"), Programs(count=128, first="0")

    assert (from_one.label(wire), from_one.slots[number]) == (number, wire)
    assert (from_nought.label(wire), from_nought.slots[str(wire)]) == (str(wire), wire)
    assert from_one.bank_and_program(wire) == from_nought.bank_and_program(wire) == (0, wire)
    assert sent_for(number, {"first": "1"}) == sent_for(str(wire), {"first": "0"}) == [bytes([0xC0, wire])]


def test_the_list_has_its_two_ends_and_every_number_is_one_more_than_its_program() -> None:
    """1 is 0 and 128 is 127."""
    numbers = {int(row["number_1_based"]): int(row["wire_0_based"]) for row in SOUNDS}

    assert len(numbers) == 24
    assert (numbers[1], numbers[34], numbers[128]) == (0, 33, 127)
    assert all(number == wire + 1 for number, wire in numbers.items())


@pytest.mark.parametrize(
    ("bank_select", "slot", "expected"),
    [
        ("msb", "162", "B0 00 01 C0 21"),  # the second bank's 34
        ("lsb", "162", "B0 20 01 C0 21"),
        ("both", "162", "B0 00 00 B0 20 01 C0 21"),
        ("both", "16418", "B0 00 01 B0 20 00 C0 21"),  # bank 128: the first whose MSB is not 0
        ("both", "34", "B0 00 00 B0 20 00 C0 21"),
    ],
)
def test_slots_beyond_128_are_in_the_next_bank(bank_select: str, slot: str, expected: str) -> None:
    """Bank Select goes before every program of a unit that uses banks, MSB first, and counts 128 programs a bank."""
    sent = sent_for(
        slot, {"first": "1", "count": 128 * 200 if bank_select == "both" else 256, "bank_select": bank_select}
    )

    assert b"".join(sent) == bytes.fromhex(expected)
