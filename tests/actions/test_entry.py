"""The quick notation of settings, by itself."""

import pytest

from scenebook.actions.entry import Changed, find_key, said
from scenebook.errors import BadValueError, LeaveError, UnknownNameError
from scenebook.model import Unit
from tests.support.build import unit

UNITS: dict[str, Unit] = {
    "delay": unit(controls={"time": "ms", "mix": "percent"}),
    "delay.two": unit(controls={"time": "ms"}),
    "fuzz, silicon": unit(),
    "multi": unit(preset=[{"slot": "12", "name": "dark"}]),
}


def put(settings: dict[str, dict[str, str]], *entries: str) -> dict[str, dict[str, str]]:
    return said(settings, entries, list(UNITS), UNITS.__getitem__)[0]


@pytest.mark.parametrize(
    ("entry", "setting"),
    [
        ("fuzz=on", {"fuzz, silicon": {"main": "on"}}),
        ("FUZZ, S = off", {"fuzz, silicon": {"main": "off"}}),
        ("multi=12", {"multi": {"preset": "12"}}),
        ("multi=dark", {"multi": {"preset": "dark"}}),
        ("multi.preset=dark", {"multi": {"preset": "dark"}}),
        ("multi.variant=solo", {"multi": {"variant": "solo"}}),
        ("multi=leave", {"multi": {"leave": "unit"}}),
        ("delay.time=1/8.", {"delay": {"time": "1/8."}}),
        ("delay.mi=30 %", {"delay": {"mix": "30 %"}}),
        ("delay.mix=leave", {"delay": {"mix": "leave"}}),
        ("delay.two.time=20 ms", {"delay.two": {"time": "20 ms"}}),
        ("delay.tw=on", {"delay.two": {"main": "on"}}),
        ("delay.two=on", {"delay.two": {"main": "on"}}),
        ("multi=a=b", {"multi": {"preset": "a=b"}}),
    ],
)
def test_an_entry_is_read_as_a_player_means_it(entry: str, setting: dict[str, dict[str, str]]) -> None:
    """Shortened names, names with points and commas, values with spaces and equals signs."""
    assert put({}, entry) == setting


def test_entries_are_put_in_one_after_the_other() -> None:
    """A later word wins, and `home` makes room."""
    assert put({}, "fuzz=on", "fuzz=off") == {"fuzz, silicon": {"main": "off"}}
    assert put({"multi": {"preset": "12", "variant": "solo"}}, "multi=3") == {"multi": {"preset": "3"}}
    assert put({"multi": {"preset": "12", "variant": "solo"}}, "multi.preset=home") == {}
    assert put({"multi": {"preset": "12"}}, "multi=home", "multi=leave") == {"multi": {"leave": "unit"}}


def test_a_unit_that_was_named_with_nothing_said_stays_named() -> None:
    """An empty setting in a file is a player's word, and an entry for another unit must not lose it."""
    assert put({"multi": {}}, "fuzz=on") == {"multi": {}, "fuzz, silicon": {"main": "on"}}


def test_what_changed_is_told_and_nothing_else() -> None:
    """The player sees at once whether the right thing moved."""
    settings = {"delay": {"time": "20 ms", "mix": "30 %"}}

    _, changes = said(settings, ["delay.time=30 ms", "delay.mix=30 %", "fuzz=on"], list(UNITS), UNITS.__getitem__)

    assert changes == (Changed("delay", "time", "20 ms", "30 ms"), Changed("fuzz, silicon", "main", "", "on"))
    assert settings == {"delay": {"time": "20 ms", "mix": "30 %"}}


@pytest.mark.parametrize(
    ("entries", "error"),
    [
        (["fuzz"], BadValueError),
        (["=on"], BadValueError),
        (["fuzz="], BadValueError),
        (["fuzz.leave=unit"], BadValueError),
        (["nosuch=on"], UnknownNameError),
        (["nosuch.time=1"], UnknownNameError),
        (["delay.feedback=1"], UnknownNameError),
        (["multi=leave", "multi=12"], LeaveError),
        (["multi.preset=12", "multi=leave"], LeaveError),
    ],
)
def test_what_cannot_be_meant_is_refused(entries: list[str], error: type[Exception]) -> None:
    """Better no setting than a guessed one."""
    with pytest.raises(error):
        put({}, *entries)


def test_a_key_names_a_unit_or_one_of_its_members() -> None:
    """Colours are named in the same way."""
    assert find_key("fuzz", list(UNITS), UNITS.__getitem__) == ("fuzz, silicon", "")
    assert find_key("delay.t", list(UNITS), UNITS.__getitem__) == ("delay", "time")
