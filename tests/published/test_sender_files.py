"""A sender's lists as a Standard MIDI File, read by midicsv 1.1 (a program that is not ours), against the lists.

midicsv writes channels and programs from 0 and times in ticks (its manual page); what a file means is taken from
*Standard MIDI Files 1.0* (MMA RP-001, revised February 1996): a tick takes the tempo in force divided by the division.
"""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from scenebook.actions.sender_smf import sender_smf
from scenebook.cueing.compile import compile_gig
from scenebook.cueing.sender import SenderLists, sender_lists
from scenebook.errors import SceneError
from scenebook.model.protocol import BYTE_US
from tests.demo_library.reading import demo_library
from tests.published.test_exported_files import Read, by_midicsv
from tests.support.gigs_at_random import gig_at_random
from tests.support.senders import stored_in


@pytest.fixture(autouse=True)
def reader(needs: Callable[[str], None]) -> None:
    """The file is read by another program."""
    needs("midicsv")


def demo_lists() -> SenderLists:
    """Return what the demo's foot controller stores for the gig in the hall."""
    of, gig, rig = demo_library(), "Pell Quay hall", "fly board, foot controller"
    return sender_lists(of, compile_gig(of, gig, rig), compile_gig(of, gig, rig, full=True))


def read_back(stored: SenderLists, folder: Path) -> Read:
    path = folder / "lists.mid"
    path.write_bytes(sender_smf(stored))
    return by_midicsv(path)


def test_each_list_has_its_marker_and_its_messages_until_the_next(tmp_path: Path) -> None:
    """Whoever loads the file finds list after list, by the name that the sheet has."""
    stored = demo_lists()

    read = read_back(stored, tmp_path)

    assert [words for _, words in read.markers] == [f"{each.label}: {each.name}" for each in stored.lists]
    starts = [tick for tick, _ in read.markers]
    for each, begin, end in zip(stored.lists, starts, [*starts[1:], 10**9], strict=True):
        inside = [(tick, data) for tick, data in read.messages if begin <= tick < end]
        assert [data for _, data in inside] == [message.data for message in each.messages]
        assert len({tick for tick, _ in inside}) == len(inside)
        for (tick, _), message in zip(inside, each.messages, strict=True):
            assert read.us(tick) - read.us(begin) >= message.at_us  # no message before its unit is ready


def test_a_list_begins_on_a_bar_line(tmp_path: Path) -> None:
    """Of 4/4 at 120: two seconds each, so that a list can be found by ear and eye."""
    read = read_back(demo_lists(), tmp_path)

    _, _, division = read.header
    assert read.metres == [(0, 4, 4)]
    assert {tick % (4 * division) for tick, _ in read.markers} == {0}
    assert read.us(4 * division) == 2_000_000


def test_no_two_messages_of_a_port_are_closer_than_a_lead_carries_them(tmp_path: Path) -> None:
    """31,250 baud, ten bits a byte (MIDI 1.0): 320 µs a byte."""
    looked = 0
    for seed in range(40):
        try:
            stored = stored_in(gig_at_random(seed), "front").stored
        except SceneError:
            continue
        read = read_back(stored, tmp_path)
        for (tick, data), (after, _) in pairwise(read.messages):
            assert read.us(after) - read.us(tick) >= BYTE_US * len(data)
            looked += 1

    assert looked > 100
