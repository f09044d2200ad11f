"""How numbers are said: halves go up, zeros at the end go away, and one thing is not several."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenebook.model.amounts import counted, number_words, rounded, share_words, time_words, times_words


@pytest.mark.parametrize(
    ("value", "places", "said"),
    [
        (0.5, 0, "1"),
        (1.5, 0, "2"),
        (2.5, 0, "3"),
        (-2.5, 0, "-3"),
        (12.25, 1, "12.3"),
        (1.005, 2, "1.01"),
        (0.1 + 0.2, 1, "0.3"),
        (0.15 + 0.1, 1, "0.3"),
        (12.0, 1, "12"),
        (-0.04, 1, "0"),
        (1200.0, 1, "1,200"),
        (1e9, 3, "1,000,000,000"),
        (1e-7, 3, "0"),
    ],
)
def test_halves_go_up_and_no_number_has_zeros_at_its_end_or_a_power_of_ten(
    value: float, places: int, said: str
) -> None:
    """As on paper, and not to the even neighbour as a processor does it."""
    assert number_words(value, places) == said


@given(st.integers(-10_000, 10_000), st.integers(0, 3))
def test_what_is_written_with_a_five_at_its_end_goes_away_from_zero(number: int, places: int) -> None:
    """Whatever a float makes of it."""
    written = float(f"{number}.{'0' * places}5")

    whole = rounded(abs(written), places)

    assert whole == abs(number) + rounded(1 / 10**places, places)


@pytest.mark.parametrize(
    ("part", "whole", "said"),
    [
        (219.8, 255, "86.2 %"),
        (230.9, 255, "90.5 %"),
        (92, 100, "92 %"),
        (254.99, 255, "99.9 %"),
        (255, 255, "100 %"),
        (0.01, 255, "under 0.1 %"),
        (0, 255, "0 %"),
        (0, 0, "100 %"),
    ],
)
def test_a_share_is_all_only_where_all_is_reached(part: float, whole: float, said: str) -> None:
    """One bar that is lost is lost."""
    assert share_words(part, whole) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0, "0 s"), (0.65, "0.7 s"), (9.96, "10 s"), (20.7, "20.7 s"), (59.96, "1 min"), (207.8, "3 min 28 s")],
)
def test_a_time_is_said_in_minutes_where_it_is_long(seconds: float, said: str) -> None:
    """Nobody thinks in 207.8 seconds."""
    assert time_words(seconds) == said


@pytest.mark.parametrize(
    ("count", "said"), [(0, "0 presses"), (1, "1 press"), (2, "2 presses"), (1200, "1,200 presses")]
)
def test_one_is_not_several(count: int, said: str) -> None:
    """No "1 presses" anywhere."""
    assert counted(count, "press", "presses") == said
    assert [times_words(1), times_words(2)] == ["once", "2 times"]
