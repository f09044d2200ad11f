"""A list is proved by what comes back: byte by byte, cue by cue, in lean and in full (P1, P3, P4)."""

from typing import Any

import pytest

from scenebook.model import Library
from scenebook.proof import CueFailure, Prover, SentCue, prove
from tests.support.build import GIG, RIG, library, rig, song, unit
from tests.support.sent import PORT, sent_list

ON_1 = {"port": PORT, "channel": 1}
BOX = unit(
    switches={"main": {"message": {"controller": 80}, "foot": True}, "deep": {"foot": True}},
    controls={"gain": {"scale": "0 to 10", "message": {"controller": 20}}, "tone": "0 to 10"},
    preset=[{"slot": "0", "stores": {"main": "off", "gain": "5"}}, {"slot": "1", "stores": {"main": "on"}}],
)


def one(*scenes: Any, **of_rig: Any) -> Library:
    made = rig("box", **{"units": {"box": ON_1}, **of_rig})
    return library({"box": BOX}, made, song({f"scene {n}": {"box": each} for n, each in enumerate(scenes, 1)}))


def arrivals(sent: list[SentCue]) -> list[dict[str, bytes]]:
    return [{PORT: b"".join(message.data for message in cue.messages)} for cue in sent]


def test_a_proof_counts_what_it_held_against_what() -> None:
    """Cues, messages, bytes, comparisons, and what hands and feet are trusted with."""
    of = one("on")
    sent = sent_list(of, ["B0 50 00"], ["B0 50 7F"])

    proof = prove(of, GIG, RIG, sent, arrivals(sent))

    assert (proof.ok, proof.cues, proof.messages, proof.bytes) == (True, 2, 2, 6)
    assert proof.members == 4  # main, and that nobody touched the gain, at each of two cues
    assert proof.not_proved == {"box": ("deep", "tone")}


@pytest.mark.parametrize("place", range(6))
def test_any_byte_changed_in_transit_fails(place: int) -> None:
    """The byte check knows no harmless change."""
    of = one("on")
    sent = sent_list(of, ["B0 50 00"], ["B0 50 7F"])
    came = arrivals(sent)
    data = bytearray(came[place // 3][PORT])
    data[place % 3] ^= 1
    came[place // 3][PORT] = bytes(data)

    assert not prove(of, GIG, RIG, sent, came).ok
    assert prove(of, GIG, RIG, sent, came, check_bytes=False).ok is (place in (2, 5))  # 1 is off, 126 is on


def test_the_byte_check_says_where() -> None:
    """Which byte on which port, or how many."""
    of = one("on")
    sent = sent_list(of, ["B0 50 00"], ["B0 50 7F"])
    first = arrivals(sent)[0]

    def what(came: dict[str, bytes]) -> CueFailure:
        return prove(of, GIG, RIG, sent, [first, came]).failures[0]

    assert what({PORT: bytes.fromhex("B0507E")}) == CueFailure(
        1, "song", "scene 1", PORT, "byte 3 was sent as 7F and came back as 7E."
    )
    assert what({}).what == "3 bytes were sent and 0 came back."
    assert what({PORT: bytes.fromhex("B0507FB0507F")}).what == "3 bytes were sent and 6 came back."
    assert what({**arrivals(sent)[1], "wet": b"\xf8"}).place == "wet"


def test_a_cue_of_which_nothing_came_back_fails() -> None:
    """The port died before the last cue."""
    of = one("on")
    sent = sent_list(of, ["B0 50 00"], ["B0 50 7F"])

    assert [f.number for f in prove(of, GIG, RIG, sent, arrivals(sent)[:1]).failures] == [1, 1]


def test_a_failure_names_its_cue() -> None:
    """Number, song, scene, unit, and one plain sentence."""
    of = one("on", "off")

    proof = prove(of, GIG, RIG, sent_list(of, ["B0 50 00"], [], []))

    assert proof.failures == (CueFailure(1, "song", "scene 1", "box", "'main' is to be at on, and it is at off."),)


def test_lean_runs_through_and_full_begins_from_unknown() -> None:
    """What the cue before had set does not count in full."""
    of = one("on", "on")
    lean = sent_list(of, ["B0 50 00"], ["B0 50 7F"], [])
    full = sent_list(of, ["B0 50 00"], ["B0 50 7F"], ["B0 50 7F"])

    assert prove(of, GIG, RIG, lean).ok
    assert prove(of, GIG, RIG, full, full=True).ok
    assert [failure.number for failure in prove(of, GIG, RIG, lean, full=True).failures] == [2]


def test_a_list_has_every_cue_of_the_gig_once_and_in_order() -> None:
    """A cue that was forgotten is no success."""
    of = one("on", "off")
    sent = sent_list(of, ["B0 50 00"], ["B0 50 7F"], ["B0 50 00"])
    prover = Prover(of, GIG, RIG)

    assert prover.prove(sent).ok
    assert not prover.prove(sent[:2]).ok
    assert not prover.prove([*sent, sent[2]]).ok
    assert not prover.prove([sent[0], sent[2], sent[1]], whole=False).ok
    assert not prover.prove([*sent, sent[2]._replace(entry=7)]).ok
    assert not prover.prove([*sent[:2], sent[2]._replace(scene="scene 1")]).ok
    assert prover.prove(sent[2:], full=True, whole=False).ok


def test_a_free_control_is_not_touched() -> None:
    """Nobody asked for it, so nobody sends it; sending what it is at changes nothing."""
    of = one("off", {"gain": "5"}, "off")
    set_it = ["B0 14 40"]

    assert prove(of, GIG, RIG, sent_list(of, ["B0 50 00"], [], set_it, [])).ok
    assert prove(of, GIG, RIG, sent_list(of, ["B0 50 00"], [], set_it, set_it)).ok
    assert [f.what for f in prove(of, GIG, RIG, sent_list(of, ["B0 50 00"], ["B0 14 01"], set_it)).failures] == [
        "nothing is asked of 'gain', and a message set it to 1."
    ]


def test_a_recall_that_is_asked_for_may_move_a_free_control() -> None:
    """One that is not may not: with the preset open, a recall brings only what is asked (C2)."""
    named, opened = one({"gain": "5"}, {"preset": "1"}), one({"gain": "5"}, "on")
    cues = [["B0 50 00"], ["B0 14 40"], ["C0 01"]]

    assert prove(named, GIG, RIG, sent_list(named, *cues)).ok
    assert [f.what for f in prove(opened, GIG, RIG, sent_list(opened, *cues)).failures] == [
        "nothing is asked of 'gain', and a recall moved it."
    ]


def test_a_rig_with_no_midi_has_nothing_to_prove() -> None:
    """Everything is by hand, and the proof says so."""
    of = one("on", {"preset": "0"}, units={})

    proof = prove(of, GIG, RIG, sent_list(of))

    assert (proof.ok, proof.members, proof.cues) == (True, 0, 3)
    assert proof.not_proved == {"box": ("preset", "main", "deep", "gain", "tone")}


def test_where_presets_are_recalled_by_foot_what_they_store_is_not_proved() -> None:
    """A foot moves it, and no receiver hears a foot."""
    footed = BOX.model_copy(
        update={"programs": BOX.programs.model_copy(update={"program_change": False, "foot": True})}  # type: ignore[union-attr]
    )
    of = library({"box": footed}, rig("box", units={"box": ON_1}), song({"a": {"box": {"preset": "1"}}}))

    proof = prove(of, GIG, RIG, sent_list(of))

    assert proof.ok
    assert proof.not_proved == {"box": ("preset", "main", "deep", "gain", "tone")}


def test_a_variant_by_foot_is_not_proved_but_its_preset_is() -> None:
    """The program change is heard; the press after it is not."""
    footed = unit(
        switches={"main": {"message": {"controller": 80}}, "deep": {}},
        preset=[{"slot": "0", "variants": {"big": {"foot": True, "stores": {"deep": "on"}}}}],
    )
    scene = {"box": {"preset": "0", "variant": "big"}}
    of = library({"box": footed}, rig("box", units={"box": ON_1}), song({"a": scene}))

    assert prove(of, GIG, RIG, sent_list(of, ["B0 50 00"], ["C0 00"])).ok
    assert len(prove(of, GIG, RIG, sent_list(of, ["B0 50 00"], ["C0 01"])).failures) == 1


def test_alone_in_a_loop_only_the_loop_is_proved() -> None:
    """The unit's own switch was set by hand once; a message that moves it is found."""
    switcher = unit(switches={"loop 1": {"message": {"controller": 1}}})
    made = rig(
        "box", units={"switcher": {"port": PORT, "channel": 2}, "box": ON_1}, loops={"switcher": {"loop 1": ["box"]}}
    )
    of = library({"box": BOX, "switcher": switcher}, made, song({"a": {"box": "on"}}))

    assert prove(of, GIG, RIG, sent_list(of, ["B1 01 00"], ["B1 01 7F"])).ok
    assert [f.what for f in prove(of, GIG, RIG, sent_list(of, ["B1 01 00"], ["B0 50 00"])).failures] == [
        "'main' is to be at on, and it is at off.",
        "'loop 1' is to be at on, and it is at off.",
    ]
