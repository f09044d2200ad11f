"""A sender's lists from library to proof and paper: what is proved, what the sheet says, and that a fault is found."""

from dataclasses import replace
from pathlib import Path

import pytest

from scenebook.actions.compiling import GigSlice, compiled_slice
from scenebook.actions.proving import FROM_UNKNOWN, IN_ORDER, Verified, prove_list, prove_sender
from scenebook.actions.sender import has_sender, pressed, sender_plan
from scenebook.actions.sheet import view
from scenebook.cli.verify import failure_lines, proof_json, summary_lines
from scenebook.cueing.sender import sender_lists
from scenebook.cueing.sender_presses import each_alone
from scenebook.errors import BadValueError
from scenebook.midi import Link, loopback_pair, open_link
from scenebook.model import Gig
from scenebook.sheets import text
from tests.demo_library.reading import demo_library
from tests.support.deaf import DroppingIn

GIG, RIG = "Pell Quay hall", "fly board, foot controller"
PART = GigSlice(demo_library(), GIG, RIG, 1)


def proved(link: Link) -> Verified:
    return prove_sender(PART, compiled_slice(PART), compiled_slice(PART, full=True), link)


def test_the_demo_rig_is_proved_from_what_its_foot_controller_stores() -> None:
    """Each list from unknown, then all that is pressed in the order of the evening; spares and house sounds too."""
    with open_link(prefer="loopback") as link:
        found = proved(link)

    assert found.ok, found.failures[:3]
    assert [each.how for each in found.parts] == [FROM_UNKNOWN] * 6 + [IN_ORDER] * 6
    assert found.total("cues") == 2 * sum(each.proof.cues for each in found.parts[:6])
    assert (found.sender, found.lists) == ("foot controller, programmable", 69)
    said = list(summary_lines(found))
    assert said[0] == f"Proved: {GIG} on {RIG}, lists of its sender: sets, 4 spare songs, house sounds"
    assert said[1] == "  from 69 lists of foot controller, programmable: each from unknown, and all in order"
    assert proof_json(found)["sender"] == {"unit": "foot controller, programmable", "lists": 69}


def test_a_byte_that_does_not_arrive_fails_the_proof_and_the_line_says_how_it_was_pressed() -> None:
    """Nothing false is proved."""
    out, back = loopback_pair()
    with Link(out, DroppingIn(back, message=40), "built-in loopback") as link:
        found = proved(link)

    assert not found.ok
    assert any(line.startswith(f"FAIL  {FROM_UNKNOWN}, cue ") for line in failure_lines(found))


def test_a_list_that_was_stored_wrongly_fails_at_every_cue_that_presses_it() -> None:
    """One slip in the chorus is a slip in each chorus."""
    full = compiled_slice(PART, full=True)
    stored = sender_lists(PART.library, compiled_slice(PART), full)
    place = next(at for at, each in enumerate(stored.lists) if len(each.cues) == 4 and len(each.messages) > 6)
    spoiled = list(stored.lists)
    spoiled[place] = replace(spoiled[place], messages=spoiled[place].messages[:-1])
    with open_link(prefer="loopback") as link:
        found = prove_list(PART, each_alone(PART.library, full, replace(stored, lists=tuple(spoiled))), link)

    wrong = {f"cue {failure.number}, {failure.song}: {failure.scene}" for _, failure in found.failures}
    assert wrong == set(stored.lists[place].cues)


def test_the_switching_sheet_says_what_to_press_at_each_cue() -> None:
    """And not what goes by message: that is stored."""
    said = text(view(PART, pressed(PART, compiled_slice(PART))))

    assert "→ press foot controller bank 1, switch 2\n" in said
    assert "By message:" not in said
    assert "By message:" in text(view(PART, compiled_slice(PART)))


def test_a_rig_without_a_sender_is_as_it_was() -> None:
    """The hall's board is sent to by the laptop."""
    part = GigSlice(PART.library, GIG, "hall board", 1)
    lean = compiled_slice(part)

    assert not has_sender(part)
    assert pressed(part, lean) is lean


def test_a_sender_that_is_out_leaves_its_ports_to_the_computer() -> None:
    """Forgotten at home: then the laptop sends after all."""
    gig: Gig = Gig.model_validate(PART.library.gigs[GIG].model_dump() | {"out": ["foot controller, programmable"]})
    part = PART._replace(library=PART.library.model_copy(update={"gigs": {GIG: gig}}))

    assert not has_sender(part)
    assert compiled_slice(part).cues[1].messages


def test_a_rig_that_names_no_sender_says_so(demo_path: Path) -> None:
    """With what to write."""
    with pytest.raises(BadValueError) as caught:
        sender_plan(demo_path, "Pell", "hall board")

    assert str(caught.value) == (
        "rig 'hall board': the rig names no sender. Write sender into the rig's file, with its unit and the ports "
        "that it serves."
    )


@pytest.fixture
def demo_path(tmp_path: Path) -> Path:
    """Give a library file with the demo in it."""
    from scenebook.actions.libraries import create, import_from
    from tests.support.checkout import ROOT

    path = tmp_path / "demo.scenebook"
    create(path)
    import_from(path, ROOT / "demo_library")
    return path
