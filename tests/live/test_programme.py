"""The evening as it is called: every cue at its place, lean and full; spare songs, house sounds, the safe state."""

from pathlib import Path
from typing import Any

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Cue
from scenebook.errors import ScenebookError
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.programme import Step, programme_of
from scenebook.live.tonight import Tonight, tonight_of
from scenebook.model import Library, Rig
from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.build import GIG, RIG
from tests.support.calling import evening
from tests.support.on_stage import readings


@pytest.fixture(scope="module")
def demo() -> Library:
    """The demo library, read once."""
    return read_folder(Path(DEMO))[0]


def with_rig(of: Library, **said: Any) -> Library:
    board = Rig.model_validate({**of.rigs[RIG].model_dump(), **said})
    return of.model_copy(update={"rigs": {RIG: board}})


def with_house(of: Library, house: str | None) -> Library:
    gig = of.gigs[GIG].model_copy(update={"house": house})
    return of.model_copy(update={"gigs": {GIG: gig}})


def hexes(cue: Cue) -> list[str]:
    return [message.data.hex(" ").upper() for message in cue.messages]


def test_every_cue_of_the_demo_has_its_place(demo: Library) -> None:
    """The lists are the compiler's own, lean and full, cue by cue."""
    for gig, each in demo.gigs.items():
        programme = programme_of(demo, gig, each.rig or "")
        lean, full = compile_gig(demo, gig), compile_gig(demo, gig, full=True)

        assert [step.lean for step in programme.steps] == list(lean.cues)
        assert [step.full for step in programme.steps] == list(full.cues)
        assert [[step.lean for step in row] for row in programme.spares] == [list(s.cues) for s in lean.spares]
        assert [step.full for step in programme.house] == list(full.house.cues if full.house else ())
        assert programme.warnings == lean.warnings
        at = [step.place for step in programme.steps]
        assert at == [HOME, *(Place(Part.SET, cue.entry or 0, cue.form or 0) for cue in lean.cues[1:])]
        assert len(programme.by_place) == len(at) + sum(map(len, programme.spares)) + len(programme.house) + 1


def test_every_place_of_the_demo_is_read_as_it_is_compiled(demo: Library) -> None:
    """The plain reading of the scenes names the same scene at each place, cut verses or not."""
    for gig, each in demo.gigs.items():
        cut = frozenset(Place(Part.SET, entry, 1) for entry in range(0, 6, 2))
        for tonight in (tonight_of(each), Tonight(cut=cut)):
            programme = programme_of(demo, gig, each.rig or "", tonight)
            asked = readings(demo, gig, each.rig or "", tonight, programme)
            for step in programme.steps:
                assert (asked[step.place].scene or "home") == step.full.scene


def test_neighbours_are_within_the_sets_or_one_spare_song() -> None:
    """A house sound has none, nor has the safe state."""
    programme = programme_of(evening(), GIG, RIG)

    def after(place: Place, by: int = 1) -> Place | None:
        step = programme.neighbour(place, by)
        return step.place if step else None

    assert after(HOME) == Place(Part.SET, 0, 0)
    assert after(Place(Part.SET, 0, 1)) == Place(Part.SET, 1, 0)
    assert after(Place(Part.SET, 1, 1)) is None
    assert after(HOME, -1) is None
    assert after(Place(Part.SPARE, 0, 0)) == Place(Part.SPARE, 0, 1)
    assert after(Place(Part.SPARE, 0, 1)) is None
    assert after(Place(Part.HOUSE, 0, 0)) is None
    assert after(SAFE) is None


def test_the_safe_state_is_the_rigs_own() -> None:
    """Compiled like a scene, full; what it does not name stands as at home."""
    library = with_rig(evening(), safe={"delay": {"main": "on", "level": "20 %"}})

    safe = programme_of(library, GIG, RIG).safe

    assert isinstance(safe, Step)
    assert (safe.place, safe.full.song, safe.full.scene) == (SAFE, "safe", "safe")
    assert hexes(safe.full) == ["B0 14 19", "B0 50 7F", "B0 51 00"]
    assert safe.lean == safe.full
    assert len(programme_of(library, GIG, RIG).spares) == 1


def test_without_one_the_quiet_house_sound_serves_else_home() -> None:
    """There is always somewhere to be quiet."""
    quiet, home = programme_of(evening(), GIG, RIG).safe, programme_of(with_house(evening(), None), GIG, RIG).safe

    assert (quiet.place, quiet.full.scene, hexes(quiet.full)) == (SAFE, "quiet", ["B0 50 00", "B0 51 7F"])
    assert (home.place, home.full.scene) == (SAFE, "home")


def test_a_song_called_safe_is_no_trouble() -> None:
    """The safe state finds itself another name."""
    base = evening()
    songs = {**base.songs, "safe": base.songs["spare"]}
    library = with_rig(base.model_copy(update={"songs": songs}), safe={"delay": {"main": "on"}})

    assert programme_of(library, GIG, RIG).safe.full.song == "safe state"


def test_a_place_that_is_not_played_is_nearest_to_the_one_before_it() -> None:
    """In its own song, or in the sets; elsewhere there is nothing near."""
    programme = programme_of(evening(), GIG, RIG)

    def near(*place: Any) -> Place | None:
        step = programme.nearest(Place(*place))
        return step.place if step else None

    assert near(Part.SET, 0, 5) == Place(Part.SET, 0, 1)
    assert near(Part.SET, 9, 0) == Place(Part.SET, 1, 1)
    assert near(Part.SPARE, 0, 7) == Place(Part.SPARE, 0, 1)
    assert near(Part.SPARE, 4, 0) is None
    assert near(Part.HOUSE, 0, 9) is None


def test_tempos_are_tonights_then_the_gigs_then_the_songs(demo: Library) -> None:
    """What the clock goes by; a song without one is not in it."""
    gig = demo.gigs["Pell Quay hall"]
    place = Place(Part.SET, 0, 0)

    own = programme_of(demo, "Pell Quay hall", "hall board").tempos
    changed = programme_of(demo, "Pell Quay hall", "hall board", Tonight(tempos={place: 77.0})).tempos

    assert own[place] == demo.songs[gig.entries[0].song].tempo
    assert changed == {**own, place: 77.0}
    assert own[Place(Part.HOUSE, 0, 0)] == demo.songs["House sounds"].tempo
    assert programme_of(evening(), GIG, RIG).tempos == {}


def test_a_deaf_unit_that_hands_cannot_work_stays_and_the_others_are_pressed() -> None:
    """The reverb has a footswitch, the delay has none: it counts as out, and is named."""
    deaf = Tonight(deaf=frozenset({"delay", "reverb"}))

    programme = programme_of(evening(), GIG, RIG, deaf)

    assert programme.stays == ("delay",)
    assert {state.unit for step in programme.steps for state in step.full.states} == {"reverb"}
    assert [step.lean.messages for step in programme.steps] == [()] * 5
    assert [len(step.lean.by_hand) > 0 for step in programme.steps] == [True, False, True, False, True]
    assert [step.lean.lacks for step in programme.steps if step.lean.lacks] != []


def test_a_gig_that_cannot_be_played_says_why() -> None:
    """Before anything starts."""
    library = with_rig(evening(), safe={"delay": {"level": "loud"}})

    with pytest.raises(ScenebookError, match="loud"):
        programme_of(library, GIG, RIG)
