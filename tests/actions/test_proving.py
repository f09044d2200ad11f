"""A proof from library to summary: what is sent, what comes back, and that nothing false is proved."""

from pathlib import Path

import pytest

from scenebook.actions.compiling import GigSlice, compiled_slice
from scenebook.actions.proving import prove_list, sent_cues
from scenebook.cueing.cues import Cue
from scenebook.midi import Link, loopback_pair, open_link
from scenebook.model.protocol import BYTE_US
from tests.support.build import GIG, RIG, gig, library, rig, song, unit
from tests.support.deaf import ChangingIn, DroppingIn

MULTI = unit(
    preset=[{"slot": "1", "stores": {"boost": "on"}}, {"slot": "2", "stores": {"boost": "off"}}],
    programs={"count": 8, "settle_ms": 20},
    switches={"boost": {"message": {"controller": 70}}},
)
FUZZ = unit(switches={"main": {"foot": True}})
DELAY = unit(
    switches={"main": {"message": {"controller": 80}}},
    controls={"mix": {"scale": "percent", "message": {"controller": 22}}},
)
BOARD = rig(
    "fuzz",
    "multi",
    "delay",
    units={"multi": {"port": "front", "channel": 1}, "delay": {"port": "wet", "channel": 1}},
    home={"multi": {"preset": "1"}},
)
SONGS = {
    "first": song({"a": {"multi": "2", "fuzz": "on"}, "b": {"delay": {"main": "on", "mix": "40 %"}}}, "a", "b", "a"),
    "spare": song({"only": {"multi": {"preset": "2", "boost": "on"}}}),
    "house": song({"clean": {}, "loud": {"fuzz": "on", "multi": "2"}}),
}
LIBRARY = library(
    {"fuzz": FUZZ, "multi": MULTI, "delay": DELAY},
    BOARD,
    SONGS,
    gig("first", spares=["spare"], house="house"),
)
PART = GigSlice(LIBRARY, GIG, RIG, 1)


@pytest.mark.parametrize("full", [False, True])
def test_sets_spares_and_house_sounds_are_proved_as_lists_of_their_own(full: bool) -> None:
    """A spare song is started from home, whatever was played last."""
    with open_link(prefer="loopback") as link:
        found = prove_list(PART, compiled_slice(PART, full=full), link)

    assert found.ok, found.failures
    assert [each.part for each in found.parts] == ["sets", "spare song 'spare'", "house sounds"]
    assert [each.proof.cues for each in found.parts] == [4, 2, 3]
    assert found.total("cues") == 9
    assert found.not_proved == {"fuzz": ("main",)}
    assert (found.gig, found.rig, found.full, found.port_kind) == (GIG, RIG, full, "built-in loopback")


def test_progress_counts_every_cue_of_every_list() -> None:
    """A long proof shows that it goes on, and where it ends."""
    seen: list[tuple[int, int]] = []
    with open_link(prefer="loopback") as link:
        prove_list(PART, compiled_slice(PART), link, progress=lambda done, count: seen.append((done, count)))

    assert seen == [(done, 9) for done in range(1, 10)]


def test_a_wait_counts_from_the_end_of_the_message_before_on_its_port() -> None:
    """Two ports, two clocks (C7); bytes take 320 µs each and are no wait."""
    cues = compiled_slice(PART).cues

    for cue, sent in zip(cues, sent_cues(cues), strict=True):
        clocks: dict[str, int] = {}
        for message, said in zip(cue.messages, sent.messages, strict=True):
            start = clocks.get(message.port, 0) + said.wait_us
            assert start == message.at_us
            assert said.wait_us >= 0
            clocks[message.port] = start + BYTE_US * len(message.data)


def test_home_has_no_place_in_the_gig() -> None:
    """The proof knows cue 0 by having neither entry nor form."""
    home, *others = sent_cues(compiled_slice(PART).cues)

    assert (home.number, home.entry, home.form, home.scene) == (0, None, None, None)
    assert [(cue.entry, cue.form, cue.scene) for cue in others] == [(0, 0, "a"), (0, 1, "b"), (0, 2, "a")]


@pytest.mark.parametrize("faulty", [DroppingIn, ChangingIn])
def test_whatever_message_is_lost_or_changed_fails_the_proof(faulty: "type[DroppingIn] | type[ChangingIn]") -> None:
    """Each message in turn; a proof that misses one proves nothing."""
    cue_list = compiled_slice(PART)
    spares: list[Cue] = [cue for spare in cue_list.spares for cue in (cue_list.cues[0], *spare.cues)]
    count = sum(len(cue.messages) for cue in [*cue_list.cues, *spares])
    assert count > 8

    for number in (1, 2, count // 2, count):
        out, back = loopback_pair()
        with Link(out, faulty(back, message=number), "faulty lead") as link:
            assert not prove_list(PART, cue_list, link).ok, number


def test_a_library_is_read_and_not_written(tmp_path: Path) -> None:
    """A proof may run while another window edits."""
    from scenebook.actions.libraries import create
    from scenebook.actions.proving import verify
    from scenebook.storage import open_library

    path = tmp_path / "library.scenebook"
    create(path)
    with open_library(path) as store, store.change("fill") as change:
        for kind, things in (
            ("unit", LIBRARY.units),
            ("rig", LIBRARY.rigs),
            ("song", LIBRARY.songs),
            ("gig", LIBRARY.gigs),
        ):
            for name, thing in things.items():
                change.put(kind, name, thing)  # type: ignore[arg-type]
    before = path.read_bytes()

    assert verify(path, "GIG", port="loopback").ok

    assert path.read_bytes() == before
