"""What a plan says of recalls is what compiling does: a slot that nothing calls up is not spoken of as if it were."""

import pytest

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import CueList, MessageKind
from scenebook.model import Library, Unit
from scenebook.planning.programming import programming
from scenebook.planning.recalls import with_recalls
from scenebook.planning.slot_plans import UnitProgramming
from scenebook.sheets.plain_pages import pages_text
from scenebook.sheets.programming_sheet import programming_pages
from tests.demo_library.reading import demo_library
from tests.planning.test_programming import MULTI, ON_PORT, TWO, multi, on, one_unit
from tests.support.build import RIG, library, rig, song

NAMED = {"plain": {MULTI: {"preset": "plain"}}, **TWO}


def told(of: Library, *, copies: bool | None = None) -> tuple[UnitProgramming, str]:
    """Return the plan of the one unit, and its sheet in one line."""
    plan = with_recalls(of, programming(of, RIG, copies=copies))
    return plan.units[0], " ".join(pages_text(programming_pages(plan, revision=1)).split())


def sent(cues: CueList, unit: str) -> set[str]:
    """Return the slots that a gig's messages recall in a unit."""
    recalls = (m for cue in cues.cues for m in cue.messages if m.unit == unit and m.kind is MessageKind.RECALL)
    return {message.value.split(" ")[0] for message in recalls}


def test_where_messages_work_the_switches_no_recall_is_heard_of_slots_that_nothing_recalls() -> None:
    """A control change is sent instead: the sheet warned of holes that no one hears."""
    found, text = told(one_unit(multi(silence_ms=40), song=NAMED))

    assert [
        (hole.before, hole.after)
        for hole in programming(one_unit(multi(silence_ms=40), song=NAMED), RIG).units[0].holes
    ]
    assert (found.holes, found.recalled) == ((), frozenset({"1A"}))
    assert "heard inside a song" not in text


def test_the_sheet_says_one_thing_of_slots_that_messages_could_recall() -> None:
    """What compile recalls, and that the slots to store are not among it."""
    _, text = told(one_unit(multi(), song=NAMED))

    assert "Messages recall them" not in text
    assert (
        "2 to store. Each sound is stored once; --copies gives each song its own, for feet. "
        "What compile does on this rig: it recalls 1A plain, and works all else by switch and knob. "
        "It recalls none of the slots to store:"
    ) in text


def test_feet_that_follow_the_sheet_hear_its_recalls() -> None:
    """The plan is for them, whatever compile would press."""
    which: Unit = multi(silence_ms=40)
    assert which.programs is not None
    which = which.model_copy(update={"programs": which.programs.model_copy(update={"foot": True})})
    found, text = told(library({MULTI: which}, rig(MULTI), song(TWO)))

    assert [(hole.before, hole.after) for hole in found.holes] == [("verse", "chorus")]
    assert "Recalls that are heard inside a song where feet follow this sheet: 40 ms each" in text


def test_so_do_feet_for_which_copies_are_asked_of_a_unit_on_a_port() -> None:
    """Then the slots are laid out for a walk."""
    found, _ = told(one_unit(multi(silence_ms=40), song=TWO), copies=True)

    assert [(hole.before, hole.after) for hole in found.holes] == [("verse", "chorus")]


def test_a_gig_that_cannot_be_compiled_leaves_what_is_recalled_unsaid() -> None:
    """Rather than that nothing is."""
    deaf = Unit.model_validate({"switches": {"main": {}}})
    scenes = {"a": {"deaf": "on"}, "b": on("drive")}
    of = library({MULTI: multi(), "deaf": deaf}, rig(MULTI, "deaf", units=ON_PORT), song(scenes))

    found, text = told(of)

    assert found.recalled is None
    assert "What compile does on this rig: It recalls none of the slots to store" in text


@pytest.mark.parametrize("name", ["hall board", "fly board", "studio wall"])
def test_the_demo_rigs_recall_what_their_sheets_say(name: str) -> None:
    """Slot by slot, gig by gig."""
    of = demo_library()
    for gig in of.gigs:
        cues = compile_gig(of, gig, name)
        for each in with_recalls(of, programming(of, name, [gig]), [gig]).units:
            assert each.recalled is not None
            assert sent(cues, each.unit) <= each.recalled
            if each.by_message:
                assert each.recalled <= {slot.label for slot in each.kept}
