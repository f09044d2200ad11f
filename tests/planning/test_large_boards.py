"""A rig on a board that is much too large for it: then nothing stands against what is liked, and all of it is kept."""

import pytest

from scenebook.planning.board import plan_board, read_board
from scenebook.planning.leads import signal_order
from scenebook.planning.packing import Board
from tests.demo_library.reading import demo_library
from tests.planning.test_board import PATIENT, faults, with_plugs
from tests.support.boards import backward_steps, rig_of
from tests.support.build import RIG


@pytest.mark.parametrize("count", [3, 8, 12, 14])
def test_on_a_board_much_too_large_all_wishes_are_met(count: int) -> None:
    """What is pressed most in front, the signal from right to left, all in the middle and leads short."""
    plan = plan_board(rig_of(count), RIG, Board(1200, 600), seconds=PATIENT)

    assert faults(plan) == []
    assert sum(backward_steps(plan)) <= 5 * count
    most = max(each.presses for each in plan.placed)
    assert {each.y for each in plan.placed if each.presses == most} == {0}
    in_front, behind = ([each.presses for each in plan.placed if bool(each.y) is back] for back in (False, True))
    assert max(behind) <= sum(in_front) / len(in_front)
    boxes = [with_plugs(each) for each in plan.placed]
    assert abs(min(box.left for box in boxes) + max(box.right for box in boxes) - 1200) <= 1
    assert max(box.back for box in boxes) <= 450
    signal = [lead.way_mm for lead in plan.leads if lead.kind == "signal"]
    assert sum(signal) / len(signal) < 180


@pytest.mark.parametrize(("name", "size"), [("fly board", "1000x500"), ("hall board", "1200x600")])
def test_the_demos_rigs_on_large_boards_press_in_front_and_run_from_right_to_left(name: str, size: str) -> None:
    """Loops, paths side by side and all: what the chain says comes next stands further left."""
    library_ = demo_library()
    plan = plan_board(library_, name, read_board(size), seconds=PATIENT)

    at = {each.unit: each for each in plan.placed}
    steps = [(at[a], at[b]) for a, b in signal_order(library_.rigs[name], at)]
    back = [b.x + b.outline.width / 2 - a.x - a.outline.width / 2 for a, b in steps]
    assert max(back) <= 10
    assert {each.unit for each in plan.placed if each.presses and each.y} == set()


def test_a_pedal_that_is_rocked_stands_in_front_although_nobody_presses_it() -> None:
    """Nobody rocks a pedal across a row of switches."""
    plan = plan_board(demo_library(), "fly board", Board(700, 400), seconds=PATIENT)

    assert {each.unit: each.y for each in plan.placed}["volume pedal"] == 0
