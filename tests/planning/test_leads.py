"""What is joined to what by the leads of a rig's chain."""

from typing import Any

from scenebook.planning.leads import links, midi_leads
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
