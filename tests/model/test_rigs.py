"""A rig says who is carried, and in which order."""

from tests.support.build import rig


def test_units_come_in_chain_order_each_once_then_those_outside() -> None:
    """Paths side by side one after the other; a switcher stands outside the chain, and so does a tuner."""
    made = rig(
        "wah",
        {"parallel": [["octave"], ["fuzz", "delay"], []]},  # type: ignore[arg-type]
        "wah",
        loops={"switcher": {"one": ["fuzz"]}},
        units={"tuner": {}, "fuzz": {"port": "front", "channel": 2}},
    )

    assert made.carried == ("wah", "octave", "fuzz", "delay", "switcher", "tuner")
    assert made.ports == ("front",)


def test_what_a_unit_hears() -> None:
    """Its own channel always, others where the rig says so, and nothing without a port."""
    channels = {"front": 2, "all": 3, "both": 4}
    said = {name: {"port": "front", "channel": channel} for name, channel in channels.items()}
    made = rig(
        *said, "deaf", units=said | {"all": said["all"] | {"hears": "omni"}, "both": said["both"] | {"hears": [7]}}
    )

    heard = {name: sorted(made.placement(name).channels) for name in made.carried}

    assert heard == {"front": [2], "all": list(range(1, 17)), "both": [4, 7], "deaf": []}
