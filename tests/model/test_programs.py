"""How a unit counts its programs decides what can be recalled at all."""

from typing import Any

import pytest
from pydantic import ValidationError

from scenebook.model import Programs, Variant


@pytest.mark.parametrize(
    ("said", "last"),
    [
        ({"bank_select": "msb", "count": 128 * 128}, (127, 127)),
        ({"bank_select": "lsb", "count": 200, "first_bank": 126}, (127, 71)),
        ({"bank_select": "both", "count": 128 * 16384}, (16383, 127)),
        ({"program_change": False, "count": 128 * 200, "foot": True}, (199, 127)),
    ],
)
def test_every_slot_up_to_the_last_bank_can_be_recalled(said: dict[str, Any], last: tuple[int, int]) -> None:
    """One Bank Select message carries 0 to 127, both together 14 bits; what a foot recalls has no such end."""
    programs = Programs(**said)

    assert programs.bank_and_program(programs.count - 1) == last


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ({"bank_select": "msb", "count": 128 * 128 + 1}, "the last bank is at most 127, and it is 128"),
        ({"bank_select": "lsb", "first_bank": 128}, "the last bank is at most 127, and it is 128"),
        ({"bank_select": "both", "count": 129, "first_bank": 16383}, "the last bank is at most 16383, and it is 16384"),
        ({"count": 1, "repeat": "ignored"}, "needs another one to go by way of"),
    ],
)
def test_what_no_message_could_recall_is_refused_where_it_is_written(said: dict[str, Any], found: str) -> None:
    """Not at the gig, when a scene in the last bank comes up for the first time."""
    with pytest.raises(ValidationError, match=found):
        Programs(**said)


@pytest.mark.parametrize(("ms", "us"), [(None, None), (0, 0), (40, 40_000), (12.3454, 12_346), (0.0001, 1), (0.1, 100)])
def test_a_settle_time_is_never_cut_short(ms: float | None, us: int | None) -> None:
    """A microsecond too early and the unit does not obey."""
    assert Programs(settle_ms=ms).settle_us == us


def test_a_variant_has_one_message() -> None:
    """Of two nobody could say which is meant."""
    with pytest.raises(ValidationError, match="give controller or bytes, not both"):
        Variant(controller=3, bytes="Bn 04 01")
