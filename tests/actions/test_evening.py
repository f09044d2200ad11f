"""The evening is told from its journal alone, and what was changed is kept where a player wants it."""

import time
from pathlib import Path
from typing import Any

import pytest

from scenebook.actions.evening import EveningTold, evening_told, keep_evening
from scenebook.actions.gigs import order_songs
from scenebook.actions.libraries import create, import_from, undo
from scenebook.actions.set_changes import set_record
from scenebook.live import records
from scenebook.live.places import HOME
from scenebook.live.snapshot import Learned, Role
from scenebook.live.stepping import Standing
from scenebook.storage import open_library
from scenebook.storage.evenings import evening_for
from scenebook.storage.journal import Journal
from tests.support.checkout import ROOT

GIG = "Pell Quay hall"


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """Give the demo library."""
    path = tmp_path / "tour.scenebook"
    create(path)
    import_from(path, ROOT / "demo_library")
    return path


def step(song: str, scene: str, entry: int, form: int, **more: Any) -> dict[str, Any]:
    said = {"kind": "step", "verb": "next", "by": "footswitch note 60", "place": ["set", entry, form], "left": None}
    return {**said, "back": None, "song": song, "scene": scene, "forms": {}, "jump": False, **more}


def told(library: Path, *written: dict[str, Any], begin: float = 0.0) -> EveningTold:
    """Write an evening and tell it; a record each second."""
    begin = begin or time.time() - 600
    with Journal(evening_for(library, GIG, begin).path) as journal:
        with open_library(library, read_only=True) as store:
            journal.write(set_record(store.gig_slice(GIG), GIG, begin))
        journal.write(dict(records.opened(GIG, "hall board", Standing(), Role.CALLING, begin)))
        for seconds, record in enumerate(written, 1):
            journal.write({"at": begin + seconds, **record})
    return evening_told(library, "Pell")


def tonight(**said: Any) -> dict[str, Any]:
    empty = {"out": [], "played_by": {}, "deaf": [], "keys": [], "tempos": [], "cut": []}
    place = {"place": ["set", 0, 0], "left": None, "back": None}
    return {"kind": "tonight", "verb": "out", "by": "touch", **place, "tonight": {**empty, **said}}


def test_what_was_sent_stands_by_the_step_that_it_was_sent_for(library: Path) -> None:
    """When, which cue, by which trigger, what to which port; and what never went since a newer step came."""
    found = told(
        library,
        step("Lamp room", "drone", 0, 0, forms={"front": "full", "wet": "full"}),
        {"kind": "sent", "port": "front", "bytes": ["C1 00", "B2 66 00"]},
        {"kind": "dropped", "port": "wet", "bytes": ["B4 14 40"]},
        step("Lamp room", "verse", 0, 1, forms={"front": "lean", "wet": "full"}, by="key"),
        {"kind": "sent", "port": "front", "bytes": ["B1 14 40"]},
        {"kind": "sent", "port": "front", "bytes": ["B1 15 40"]},
    )

    begun, first, second = found.happenings
    assert begun.words == "begun on hall board (calling)"
    assert first.words == "next by footswitch note 60: Lamp room, drone; full to front, wet"
    assert (first.sent, first.dropped) == ({"front": ("C1 00", "B2 66 00")}, {"wet": ("B4 14 40",)})
    assert second.words == "next by key: Lamp room, verse; lean to front; full to wet"
    assert second.sent == {"front": ("B1 14 40", "B1 15 40")}
    assert second.at - first.at == pytest.approx(3)


def test_faults_changes_and_everything_else_are_told_in_words(library: Path) -> None:
    """The van's conversation afterwards, settled."""
    at = time.time()
    found = told(
        library,
        dict(records.port_changed("front", "box A", "gone", at)),
        dict(records.noticed("the log cannot be written", "journal", at)),
        tonight(out=["octave down"], **{}) | {"unit": "octave down"},
        {**tonight(), "verb": "cut", "asked": ["set", 3, 1]},
        dict(records.learned([Learned("pedal", b"\x9f\x3c\x40", "next")], at)),
        dict(records.role_changed(Role.FOLLOWING, "key", at)),
        {"kind": "of a newer program", "what": 1},
        {"kind": "step"},
        dict(records.closed("closed", at)),
        dict(records.opened(GIG, "hall board", Standing(HOME), Role.CALLING, at)),
        dict(records.opened(GIG, "hall board", Standing(HOME), Role.CALLING, at)),
    )

    assert [each.words for each in found.happenings[1:]] == [
        "port front (box A) is gone",
        "notice: the log cannot be written",
        "tonight by touch: octave down out",
        "tonight by touch: cut, set 4, part 2",
        "learned: 9F 3C 40 does next",
        "this stand is following now by key",
        "ended",
        "begun on hall board (calling)",
        "begun again: it had been cut off (calling)",
    ]


def test_what_another_stand_has_done_is_told_as_its_doing(library: Path) -> None:
    """The second laptop's log says who stepped."""
    at = time.time()
    other = dict(records.opened(GIG, "hall board", Standing(), Role.CALLING, at)) | {"copied": True}
    found = told(library, other, step("Lamp room", "drone", 0, 0, copied=True))

    assert [each.words for each in found.happenings] == [
        "begun on hall board (calling)",
        "the other stand: begun on hall board (calling)",
        "the other stand: next by footswitch note 60: Lamp room, drone; nothing to send",
    ]


def test_the_newest_evening_is_told_and_others_are_named(library: Path) -> None:
    """Any of them is told by its date."""
    long_ago = 1_700_000_000.0
    told(library, step("Lamp room", "drone", 0, 0), begin=long_ago)
    found = told(library, step("Lamp room", "verse", 0, 1))

    assert found.others == (time.strftime("%Y-%m-%d", time.localtime(long_ago)),)
    assert "drone" in evening_told(library, "Pell", found.others[0]).happenings[1].words


def test_what_was_changed_is_kept_in_one_change_that_can_be_undone(library: Path) -> None:
    """Units out and played by others, keys, tempos, cut parts; songs and rigs stay as they are."""
    changes = {
        "out": ["ring modulator"],
        "played_by": {"octave down": "octave down, hired"},
        "keys": [[["set", 0, 0], "D minor"]],
        "tempos": [[["set", 2, 0], 101.0]],
        "cut": [["set", 0, 1]],
    }
    told(library, tonight(**changes))

    kept = keep_evening(library, "Pell")

    assert kept.gig.out == ("ring modulator",)
    assert kept.gig.played_by == {"octave down": "octave down, hired"}
    assert (kept.gig.entries[0].key, kept.gig.entries[2].tempo) == ("D minor", 101)
    assert kept.gig.entries[0].form is not None
    assert kept.before.entries[0].form is None
    assert keep_evening(library, "Pell").before == kept.gig
    undo(library)
    assert keep_evening(library, "Pell").before == kept.before


def test_an_evening_in_which_nothing_was_changed_changes_nothing(library: Path) -> None:
    """No revision, no history."""
    told(library, step("Lamp room", "drone", 0, 0))

    kept = keep_evening(library, "Pell")

    assert kept.gig == kept.before


def test_of_a_song_that_is_gone_nothing_is_kept(library: Path) -> None:
    """The set was put in another order since: what was said of song 21 would be said of another."""
    told(library, tonight(keys=[[["set", 20, 0], "D minor"]], cut=[["set", 20, 0]]))
    order_songs(library, "Pell", ["Lamp room"], part="first")
    order_songs(library, "Pell", ["Limpet"], part="second")

    kept = keep_evening(library, "Pell")

    assert kept.gig == kept.before
