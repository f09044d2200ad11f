"""Places in a chain: before, after and beside."""

from scenebook.model import Rig
from scenebook.planning.chain import is_before, put_in, spots_of, spots_today, stands_of, without
from tests.support.build import rig

CHAIN: Rig = rig("a", {"parallel": [["b", "c"], []]}, "d")  # type: ignore[arg-type]


def test_a_unit_could_stand_between_any_two_and_in_every_path() -> None:
    """Four places in the row; three and one in the paths."""
    spots = list(spots_of(CHAIN.chain))

    assert [(each.link, each.path, each.position) for each in spots] == [
        (0, None, 0),
        (1, None, 0),
        (1, 0, 0),
        (1, 0, 1),
        (1, 0, 2),
        (1, 1, 0),
        (2, None, 0),
        (3, None, 0),
    ]
    assert [spots[3].after, spots[3].before] == ["b", "c"]
    assert spots[1].before == "the parallel paths of b"


def test_what_runs_beside_comes_neither_before_nor_after() -> None:
    """Only within a path, and before or after the whole parallel, is there an order."""
    stands = stands_of(CHAIN.chain)
    order = {
        (each.link, each.path, each.position): [is_before(each, stands[name][0]) for name in "abcd"]
        for each in spots_of(CHAIN.chain)
    }

    assert order[1, None, 0] == [False, True, True, True]
    assert order[1, 0, 1] == [False, False, True, True]
    assert order[1, 1, 0] == [False, None, None, True]
    assert order[2, None, 0] == [False, False, False, True]


def test_taking_a_unit_out_leaves_its_path_dry_and_remembers_its_places() -> None:
    """A multi-effects with a send and return stands at two places."""
    twice = rig("a", "m", "b", "m", "c")

    assert without(twice, "m") == ("a", "b", "c")
    assert [(each.after, each.before) for each in spots_today(twice, "m")] == [("a", "b"), ("b", "c")]
    assert [(each.path, each.position) for each in spots_today(CHAIN, "c")] == [(0, 1)]
    assert spots_today(CHAIN, "nobody") == ()


def test_a_unit_is_put_in_wherever_it_could_stand() -> None:
    """At each place it stands where the place says; at two, before the send and after the return."""
    spots = list(spots_of(CHAIN.chain))

    for spot in spots:
        there = put_in(CHAIN.chain, "x", [spot])
        assert without(Rig(chain=there), "x") == CHAIN.chain
        assert spots_today(Rig(chain=there), "x") == (spot,)
    assert put_in(("a", "b"), "x", [next(spots_of(("a", "b"))), list(spots_of(("a", "b")))[2]]) == ("x", "a", "b", "x")
