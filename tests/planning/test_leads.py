"""What is joined to what by the leads of a rig's chain."""

from typing import Any

from scenebook.planning.joins import chain_joins
from scenebook.planning.leads import links, midi_leads
from scenebook.planning.signal_path import tangled, tangles
from tests.support.build import rig


def joined(of: Any) -> list[str]:
    return [f"{start} {a} > {stop} {b}" for start, a, stop, b in links(of)]


def test_leads_follow_loops_sends_and_paths_side_by_side() -> None:
    """Through the switcher and back, to the send and from the return, to each path and from each."""
    of = rig(
        chain=[
            *("tuner", "fuzz", "drive", "wah", "multi", "ring", "multi"),
            {"parallel": [["delay"], ["reverb"], []]},
            "looper",
        ],
        loops={"switcher": {"loop 1": ["fuzz"], "loop 2": ["drive", "wah"]}},
        sends={"multi": {"send": ["ring"]}},
    )  # fmt: skip

    assert joined(of) == [
        "tuner out > switcher in",
        "switcher loop 1 send > fuzz in",
        "fuzz out > switcher loop 1 return",
        "switcher loop 2 send > drive in",
        "drive out > wah in",
        "wah out > switcher loop 2 return",
        "switcher out > multi in",
        "multi send > ring in",
        "ring out > multi return",
        "multi out > delay in",
        "multi out > reverb in",
        "delay out > looper in",
        "reverb out > looper in",
        "multi out > looper in",
    ]


def test_each_port_has_a_line_of_its_own_along_the_chain_and_what_is_out_is_passed() -> None:
    """What is taken for granted where nothing is noted."""
    ports = {"fuzz": "a", "drive": "b", "wah": "a", "multi": "b", "ring": "a"}
    heard = {name: {"port": port, "channel": at} for at, (name, port) in enumerate(ports.items(), 1)}
    of = rig(*ports, units=heard)

    said = [(lead.port or lead.thru, lead.to) for lead in midi_leads(of, {"wah"})]

    assert said == [("a", "fuzz"), ("fuzz", "ring"), ("b", "drive"), ("drive", "multi")]


def test_a_chain_that_ends_in_a_loop_goes_back_to_its_switcher() -> None:
    """Its output is where the amplifier is plugged in."""
    assert joined(rig("fuzz", loops={"switcher": {"loop 1": ["fuzz"]}})) == [
        "switcher loop 1 send > fuzz in",
        "fuzz out > switcher loop 1 return",
    ]


def test_what_stands_between_two_loops_and_in_none_cannot_be_plugged() -> None:
    """The switcher's in would take two leads, and so would its out; no lead is joined in its place either."""
    of = rig("a", "tuner", "b", loops={"switcher": {"loop 1": ["a"], "loop 2": ["b"]}})

    (tangle,) = tangles(of)

    assert (tangle.holder, tangle.between, tangle.jacks) == ("switcher", ("tuner",), ("in", "out"))
    assert "since 'tuner' stands between two of its loops and in none" in tangled(of)[0]
    assert chain_joins(of, frozenset({"tuner"})) == ()


def test_a_loop_that_would_be_gone_into_twice_cannot_be_plugged() -> None:
    """Only neighbours share a loop; paths that meet between two loops do not go through one switcher either."""
    twice = rig("a", "b", "c", loops={"switcher": {"loop 1": ["a", "c"], "loop 2": ["b"]}})
    parted = rig(chain=[{"parallel": [["a"], []]}, "b"], loops={"switcher": {"loop 1": ["a"], "loop 2": ["b"]}})

    assert tangles(twice)[0].jacks == ("loop 1 send", "loop 1 return")
    assert "one of its loops twice" in tangled(twice)[0]
    assert "since paths side by side part or meet" in tangled(parted)[0]


def test_what_one_switcher_can_hold_is_no_tangle() -> None:
    """Neighbours in its loops, a path beside the dry signal, and what stands before and behind."""
    able = [
        rig("x", "a", "b", "c", "y", loops={"switcher": {"loop 2": ["a", "b"], "loop 1": ["c"]}}),
        rig(chain=["x", {"parallel": [["a", "b"], []]}, "y"], loops={"switcher": {"one": ["a"], "two": ["b"]}}),
        rig(chain=["x", {"parallel": [["a"], ["b"]]}, "y"], loops={"switcher": {"one": ["a"], "two": ["b"]}}),
        rig("multi", "a", "multi", loops={"switcher": {"one": ["a"]}}, sends={"multi": {"send": ["a"]}}),
        rig("a", "x", "b", loops={"one": {"loop": ["a"]}, "two": {"loop": ["b"]}}),
    ]

    assert [tangles(of) for of in able] == [()] * len(able)
