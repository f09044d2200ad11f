"""The sheet of a sender as it comes out of a printer, and what its lines say."""

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.sender import sender_lists
from scenebook.cueing.sender_presses import in_order
from scenebook.sheets.plain_pages import TICK, Grid, PlainPages, Words, pages_pdf, pages_text
from scenebook.sheets.sender_sheet import message_numbers, sender_pages
from tests.cueing.test_sender import BELL, DELAY, FLIP, MULTI, gig_of
from tests.demo_library.reading import demo_library
from tests.sheets.test_planning_sheets import whole
from tests.support.build import unit
from tests.support.printed import printed
from tests.support.senders import Stored, stored_in


@pytest.fixture(autouse=True)
def poppler(needs: Callable[[str], None]) -> None:
    """The PDF is read back by another program."""
    needs("poppler")


@lru_cache
def demo_sheet(paper: str) -> PlainPages:
    of, gig, rig = demo_library(), "Pell Quay hall", "fly board, foot controller"
    lean, full = compile_gig(of, gig, rig), compile_gig(of, gig, rig, full=True)
    stored = sender_lists(of, lean, full)
    return sender_pages(stored, in_order(of, lean, full, stored), of.units, revision=3, paper=paper)


def sheet(found: Stored) -> PlainPages:
    played = in_order(found.library, found.lean, found.full, found.stored)
    return sender_pages(found.stored, played, found.library.units, revision=3)


def remarks(pages: PlainPages) -> list[str]:
    return [f"{b.head} {b.text}" for b in pages.pages[0].blocks if isinstance(b, Words) and b.head.startswith("▲")]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_demo_sheet_loses_no_word_and_nothing_is_printed_over_another(paper: str, tmp_path: Path) -> None:
    """A number that is cut off is a wrong sound."""
    pages = demo_sheet(paper)

    read = printed(pages_pdf(pages), tmp_path)

    whole(pages, read)
    for number in range(1, read.pages + 1):
        words = sorted(read.on(number), key=lambda word: (round(word.top), word.left))
        for word, after in pairwise(words):
            assert round(word.top) != round(after.top) or word.left + word.width <= after.left + 0.5, (word, after)
        assert all(word.left >= 0 and word.left + word.width <= read.page_size[0] for word in words)


def test_each_message_has_a_line_and_a_box() -> None:
    """In the unit's words and in numbers."""
    found = stored_in(gig_of({"delay": DELAY, "multi": MULTI}, {"delay": {"main": "on", "mix": "100 %"}}), pauses=True)

    grids = [block for block in sheet(found).pages[0].blocks if isinstance(block, Grid)]

    assert [grid.title for grid in grids] == [f"{each.label}: {each.name}" for each in found.stored.lists]
    sent = [row for grid in grids for row in grid.rows if row[1]]
    assert len(sent) == sum(len(each.messages) for each in found.stored.lists)
    assert {row[0] for row in sent} == {TICK}
    assert (TICK, "delay", "mix 100 %", "1", "controller", "22", "127") in sent


def test_a_second_port_has_a_column() -> None:
    """Where one port is served, the summary names it once."""
    places = {"delay": {"port": "front", "channel": 1}, "other": {"port": "wet", "channel": 1}}
    found = stored_in(gig_of({"delay": DELAY, "other": DELAY}, {"delay": "on", "other": "on"}, units=places))

    grid = next(block for block in sheet(found).pages[0].blocks if isinstance(block, Grid))
    assert grid.columns == ("", "unit", "what", "port", "channel", "kind", "number", "value")
    assert [row[3] for row in grid.rows] == ["front", "wet"]


def test_what_a_list_cannot_promise_stands_before_the_lists() -> None:
    """Second presses, triggers, flips, and units that need time between messages."""
    slow = unit(switches={"main": {"message": {"controller": 80}}}, controls=DELAY.controls, least_gap_ms=5)
    units = {"multi": MULTI, "flip": FLIP, "bell": BELL, "slow": slow}
    scene = {
        "units": {"multi": {"preset": "2", "boost": "on"}, "flip": "on", "slow": {"main": "on", "mix": "100 %"}},
        "triggers": ["bell.ring"],
    }

    said = remarks(sheet(stored_in(gig_of(units, scene))))

    assert [each.split(":")[0] for each in said] == [
        "▲ More than one press",
        "▲ Pressed again, it fires again",
        "▲ Flips at every press, look at the lamp first",
        "▲ slow",
    ]
    assert "(bell ring)" in said[1]
    assert "(flip)" in said[2]
    assert "it needs 5 ms between two messages" in said[3]


def test_a_gig_that_sends_nothing_says_that_there_is_nothing_to_store() -> None:
    """A page of air would make a player doubt."""
    silent = unit(
        switches={"main": {"foot": True}}, controls={"mix": {"scale": "percent", "message": {"controller": 2}}}
    )

    said = pages_text(sheet(stored_in(gig_of({"silent": silent}, {"silent": "on"}))))

    assert "there is nothing to store" in said


def test_bytes_are_said_in_numbers_as_they_are_sent() -> None:
    """Number and value count from 0, as on the wire; what is no channel message stands in hex."""
    found = stored_in(gig_of({"bell": BELL}, {"units": {}, "triggers": ["bell.ring"]}))

    (message,) = found.stored.lists[0].messages
    assert message_numbers(message) == ("note on", "60", "100")
    assert message_numbers(message._replace(data=bytes.fromhex("C305"))) == ("program", "5", "")
    assert message_numbers(message._replace(data=bytes.fromhex("F07D01F7"))) == ("bytes", "", "F0 7D 01 F7")
