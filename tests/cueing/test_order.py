"""The order and the times of a cue's messages, and triggers (C6, C7, C8)."""

from typing import Any

import pytest

from scenebook.cueing.cues import Cue
from scenebook.errors import SettleError
from scenebook.model import Unit
from tests.support.build import gig, library, rig, song, unit
from tests.support.compiling import compiled, hands, on_port, one_song, sent


def multi(settle_ms: float | None, **said: Any) -> Unit:
    """Return a unit with a switch on 80, a control on 20, and two presets that store neither."""
    return unit(
        switches={"main": {"message": {"controller": 80}}, "deep": {"message": {"controller": 81}}},
        controls={"level": {"scale": "percent", "message": {"controller": 20}}},
        programs={"count": 8, "first": "0", "settle_ms": settle_ms, **said.pop("programs", {})},
        preset=[{"slot": "0"}, {"slot": "1", **said.pop("preset", {})}],
        **said,
    )


def second(units: dict[str, Unit], first: Any, scene: Any, /, **of_rig: Any) -> Cue:
    """Return the cue of the second of two scenes."""
    return compiled(one_song(units, first, scene, **of_rig))[2]


ALL_ON = {"main": "on", "deep": "off", "level": "100"}
ALL_OTHER = {"main": "off", "deep": "on", "level": "0"}


def test_offs_come_first_then_recalls_then_controls_and_ons_then_what_was_recalled() -> None:
    """Off before on, and no wait but settling; what settles longest starts first."""
    units = {"slow": multi(20), "plain": multi(None), "quick": multi(10)}
    before = {"slow": {"preset": "0", **ALL_ON}, "plain": ALL_ON, "quick": {"preset": "0", **ALL_ON}}
    after = {"slow": {"preset": "1", **ALL_OTHER}, "plain": ALL_OTHER, "quick": {"preset": "1", **ALL_OTHER}}

    cue = second(units, before, after)

    assert sent(cue) == [
        "0: B1 50 00",  # plain: off
        "0.96: C0 01",  # slow settles longest: until 21.6
        "1.6: C2 01",  # quick: until 12.24
        "2.24: B1 14 00",  # plain: control
        "3.2: B1 51 7F",  # plain: on
        "12.24: B2 50 00",  # quick is ready: off, control, on
        "13.2: B2 14 00",
        "14.16: B2 51 7F",
        "21.6: B0 50 00",  # slow
        "22.56: B0 14 00",
        "23.52: B0 51 7F",
    ]
    assert cue.settled_us == 24_480
    assert cue.bytes == 31


def test_ties_go_by_the_chain_and_then_by_the_units_own_order() -> None:
    """Both settle alike, so who stands first in the chain goes first."""
    units = {"b": multi(5), "a": multi(5)}

    cue = second(units, {"a": {"preset": "0"}, "b": {"preset": "0"}}, {"a": {"preset": "1"}, "b": {"preset": "1"}})

    assert sent(cue) == ["0: C0 01", "0.64: C1 01"]


def test_bank_select_and_program_change_stay_together() -> None:
    """No message of another unit comes between them."""
    banks = {"programs": {"bank_select": "msb"}}
    cue = second(
        {"a": multi(5, **banks), "b": multi(5, programs={"bank_select": "msb"})},
        {"a": {"preset": "0"}, "b": {"preset": "0"}},
        {"a": {"preset": "1"}, "b": {"preset": "1"}},
    )

    assert sent(cue) == ["0: B0 00 00", "0.96: C0 01", "1.6: B1 00 00", "2.56: C1 01"]


def test_each_port_has_a_clock_of_its_own_and_the_cue_is_settled_when_all_are() -> None:
    """Two leads carry at once."""
    places = {"units": {**on_port("front"), **on_port("rear", port="wet")}}
    cue = second(
        {"front": multi(5), "rear": multi(30)},
        {"front": {"preset": "0"}, "rear": {"preset": "0"}},
        {"front": {"preset": "1", "level": "0"}, "rear": {"preset": "1"}},
        **places,
    )

    assert sent(cue) == ["0: C0 01", "5.64: B0 14 00", "wet 0: C0 01"]
    assert cue.settled_us == 30_640


def test_a_message_begins_at_the_very_moment_when_its_unit_is_ready() -> None:
    """Settling starts at the end of the program change's last byte: two bytes of 320 us, then 12.5 ms."""
    cue = second({"multi": multi(12.5)}, {"multi": {"preset": "0"}}, {"multi": {"preset": "1", "level": "0"}})

    assert [message.at_us for message in cue.messages] == [0, 640 + 12_500]


def test_a_cue_with_nothing_to_send_is_settled_at_once() -> None:
    """And costs nothing."""
    cue = second({"multi": multi(5)}, {"multi": ALL_ON}, {"multi": ALL_ON})

    assert (cue.messages, cue.settled_us, cue.bytes, cue.running_bytes, cue.silence_us) == ((), 0, 0, 0, 0)


def test_running_status_is_an_estimate_beside_the_plain_bytes() -> None:
    """Three controllers of one unit: nine bytes, seven with the status sent once."""
    cue = second({"multi": multi(5)}, {"multi": ALL_ON}, {"multi": ALL_OTHER})

    assert (cue.bytes, cue.running_bytes) == (9, 7)


def test_silence_is_told_where_a_unit_sounds_through_a_recall() -> None:
    """Not where it was silent before: nobody hears that."""
    units = {"multi": multi(5, programs={"silence_ms": 35})}

    assert (
        second(units, {"multi": {"preset": "0", "main": "on"}}, {"multi": {"preset": "1", "main": "on"}}).silence_us
        == 35_000
    )
    assert second(units, {"multi": {"preset": "0"}}, {"multi": {"preset": "1", "main": "on"}}).silence_us == 0


def test_an_old_sound_that_goes_on_past_a_new_one_is_told() -> None:
    """The slow one's off comes only after settling; the other's on is long there."""
    units = {"slow": multi(20), "plain": multi(None)}
    cue = second(
        units,
        {"slow": {"preset": "0", "main": "on"}},
        {"slow": {"preset": "1", "main": "off"}, "plain": {"main": "on"}},
    )

    assert sent(cue) == ["0: C0 01", "0.64: B1 50 7F", "20.64: B0 50 00"]
    assert cue.overlap_us == 21_600


# --- triggers -----------------------------------------------------------------------------------------------------

HITS = {
    "triggers": {
        "bell": {"note": 60, "velocity": 90},
        "rec": {"controller": 90, "value": 5},
        "go": {"bytes": "FA"},
        "tap": {"foot": True},
    }
}


def fired(*triggers: str, **said: Any) -> dict[str, Any]:
    return {"units": said, "triggers": [f"multi.{name}" for name in triggers]}


def test_triggers_fire_last_and_a_note_is_released_after_a_tenth_of_a_second() -> None:
    """From the end of its last byte."""
    cue = second({"multi": multi(5, **HITS)}, {}, fired("bell", "rec", "go", multi={"main": "on"}))

    assert sent(cue) == ["0: B0 50 7F", "0.96: 90 3C 5A", "1.92: B0 5A 05", "2.88: FA", "101.92: 80 3C 40"]
    assert cue.settled_us == 3_200


def test_triggers_wait_until_their_own_unit_has_settled() -> None:
    """Before that nobody would hear them."""
    cue = second({"multi": multi(5, **HITS)}, {"multi": {"preset": "0"}}, fired("rec", multi={"preset": "1"}))

    assert sent(cue) == ["0: C0 01", "5.64: B0 5A 05"]


def test_triggers_fire_once_on_entry_lean_or_full() -> None:
    """The next scene does not fire them, and a full list does not fire them twice."""
    of = one_song({"multi": multi(5, **HITS)}, fired("rec"), {})

    assert [sent(cue) for cue in compiled(of)[1:]] == [["0: B0 5A 05"], []]
    full = [[m.data.hex() for m in cue.messages].count("b05a05") for cue in compiled(of, full=True)]
    assert full == [0, 1, 0]


def test_a_trigger_by_foot_is_a_move_on_the_cue() -> None:
    """Nothing is sent for it."""
    cue = second({"multi": multi(5, **HITS)}, {}, fired("tap"))

    assert sent(cue) == []
    assert hands(cue) == ["fire multi tap tap, at the cue"]


def test_without_a_channel_every_trigger_is_a_foots() -> None:
    """On a rig with no MIDI the sampler's own pad plays it."""
    cue = second({"multi": multi(5, **HITS)}, {}, fired("bell"), midi=False)

    assert hands(cue) == ["fire multi bell bell, at the cue"]


def test_a_trigger_after_a_recall_needs_the_settle_time() -> None:
    """As any message does."""
    of = {"multi": multi(None, **HITS)}

    with pytest.raises(SettleError) as caught:
        second(of, {"multi": {"preset": "0"}}, fired("rec", multi={"preset": "1"}))

    assert str(caught.value) == (
        "song 'song', scene '2', unit 'multi': a trigger follows a recall, and no settle time is known. Write "
        "settle_ms into the unit's programs."
    )


def test_a_scene_that_is_played_twice_fires_twice() -> None:
    """Each time it is entered."""
    scenes = {"part": fired("rec")}
    of = library(
        {"multi": multi(5, **HITS)}, rig("multi", units=on_port("multi")), song(scenes, "part", "part"), gig("song")
    )

    assert [sent(cue) for cue in compiled(of)[1:]] == [["0: B0 5A 05"]] * 2
