"""What could end an evening is said beforehand, in words, from what each system answers."""

from collections.abc import Callable, Sequence

import pytest

from scenebook.actions.machine import Awake, Power, machine_words, own_addresses, power_words, sleep_words

MAINS, BATTERY = Power(True, 97), Power(False, 61)


def answering(**answers: str) -> Callable[[Sequence[str]], str]:
    """Return a system that answers those commands whose first or last word is given, and no others."""
    return lambda command: answers.get(command[-1].replace("-", "_"), answers.get(command[0], ""))


@pytest.mark.parametrize(
    ("power", "words"),
    [
        (Power(), "runs from the mains alone"),
        (BATTERY, "Note: the computer runs on its battery, 61 %. Plug the mains in."),
        (Power(False), "Note: the computer runs on its battery. Plug the mains in."),
        (Power(True, 20), "Note: on the mains, but the battery is low, 20 %"),
        (MAINS, "On the mains, with a battery, 97 %."),
    ],
)
def test_where_the_current_comes_from_is_said(power: Power, words: str) -> None:
    """Half the evenings that end early end at a plug."""
    (said,) = power_words(power)

    assert words in said


@pytest.mark.parametrize(
    ("seconds", "what", "said"),
    [
        ("1200", "'suspend'", ["Note: left alone for 20 min, this computer goes to sleep by its settings."]),
        ("1200", "'nothing'", []),
        ("0", "'suspend'", []),
        ("", "", ["What the sleep settings say could not be found out: look at them before the doors open."]),
    ],
)
def test_a_gnome_desktop_tells_when_it_sleeps(seconds: str, what: str, said: list[str]) -> None:
    """Nobody touches a laptop during a ballad."""
    ask = answering(sleep_inactive_ac_timeout=f"{seconds}\n", sleep_inactive_ac_type=f"{what}\n")

    assert list(sleep_words("linux", MAINS, ask)) == said


@pytest.mark.parametrize(
    ("text", "is_said"),
    [
        ("[Login]\n#HandleLidSwitch=suspend\n", True),
        ("[Login]\nHandleLidSwitch=ignore\n", False),
        ("[Login]\nHandleLidSwitch = hibernate\n", True),
        ("", False),
    ],
)
def test_a_lid_that_sends_the_computer_to_sleep_is_told_of(text: str, is_said: bool) -> None:
    """Somebody always wants to put a setlist on it."""
    ask = answering(cat=text, sleep_inactive_ac_timeout="0", sleep_inactive_ac_type="'nothing'")

    assert any("lid" in said for said in sleep_words("linux", MAINS, ask)) == is_said


PMSET = """Battery Power:
 lidwake              1
 sleep                5
 displaysleep         2
AC Power:
 womp                 1
 displaysleep         10
 sleep                0
"""


def test_macos_tells_for_mains_and_battery() -> None:
    """On the mains it may stay awake, and on its battery not."""
    ask = answering(custom=PMSET)

    assert list(sleep_words("darwin", MAINS, ask)) == []
    assert list(sleep_words("darwin", BATTERY, ask)) == [
        "Note: left alone for 5 min, this computer goes to sleep by its settings."
    ]


POWERCFG = """GUID des Energieschemas: 381b4222 (Ausbalanciert)
    Mögliche Einstellung (Einheiten): Sekunden
    Maximal mögliche Einstellung: 0xffffffff
  Index der aktuellen Wechselstromeinstellung: 0x00000708
  Index der aktuellen Gleichstromeinstellung: 0x00000384
"""


def test_windows_tells_in_any_language() -> None:
    """Its words are the player's, its numbers everybody's: 0x708 s are half an hour."""
    ask = answering(STANDBYIDLE=POWERCFG)

    assert list(sleep_words("win32", MAINS, ask)) == [
        "Note: left alone for 30 min, this computer goes to sleep by its settings."
    ]
    assert list(sleep_words("win32", BATTERY, ask)) == [
        "Note: left alone for 15 min, this computer goes to sleep by its settings."
    ]


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32", "another"])
def test_a_system_that_tells_nothing_is_no_error(platform: str) -> None:
    """The stand is opened all the same."""
    assert len(list(sleep_words(platform, Power(), lambda command: ""))) == 1


def test_this_machine_is_looked_at_without_an_error() -> None:
    """Whatever it is: words come, and keeping it awake works or is said not to."""
    assert all(said.endswith(".") for said in machine_words())
    with Awake() as awake:
        assert awake.is_kept != awake.words.startswith("Note")
    awake.close()


def test_addresses_for_others_are_none_of_this_machine_alone() -> None:
    """A phone cannot reach 127.0.0.1."""
    assert not any(each.startswith("127.") for each in own_addresses())
