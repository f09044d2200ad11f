"""The chain of a chosen rig: as few order preferences broken as can be."""

from itertools import permutations

from hypothesis import given, settings
from hypothesis import strategies as st

from scenebook.model import Library, Practice, Role, Unit
from scenebook.model.practice import Preference
from scenebook.planning.kinds import parts_of
from scenebook.planning.naming import rig_of
from tests.demo_library.reading import demo_library
from tests.support.build import unit

ROLES = st.lists(st.sampled_from([str(role) for role in Role]), max_size=3, unique=True)
UNITS = st.lists(
    st.builds(
        unit,
        roles=ROLES,
        bypass=st.sampled_from(["buffered", "mechanical", None]),
        input_kohm=st.sampled_from([5, 1000, None]),
        input=st.just("mono"),
        output=st.sampled_from(["mono", "stereo"]),
    ),
    min_size=1,
    max_size=6,
)


def broken(order: tuple[str, ...], units: dict[str, Unit]) -> int:
    """Count the preferences that an order breaks, pair by pair."""
    practice = Practice()
    kinds = {name: {part.kind for part in parts_of(name, each, practice)} for name, each in units.items()}

    def against(each: Preference, one: str, other: str) -> bool:
        return each.then in kinds[one] and each.first in kinds[other]

    pairs = [(one, other) for at, one in enumerate(order) for other in order[at + 1 :]]
    return sum(against(each, *pair) for each in practice.order for pair in pairs)


@settings(max_examples=60, deadline=None)
@given(UNITS)
def test_no_other_chain_of_a_few_units_breaks_less(units: list[Unit]) -> None:
    """Every order is tried."""
    named = {f"unit {number}": each for number, each in enumerate(units)}

    chain = tuple(str(link) for link in rig_of(Library(units=named), list(named)).chain)

    assert broken(chain, named) == min(broken(order, named) for order in permutations(named))


def test_a_switcher_stands_beside_the_chain_with_its_own_channel() -> None:
    """In the signal it would do nothing: what it switches hangs in its loops."""
    chosen = rig_of(demo_library(), ["loop switcher", "drive, soft", "delay, tape voiced"])

    assert chosen.chain == ("drive, soft", "delay, tape voiced")
    assert chosen.carried[-1] == "loop switcher"
    assert [chosen.units[name].channel for name in ("delay, tape voiced", "loop switcher")] == [1, 2]


def test_a_tuner_goes_early_and_volume_before_what_repeats() -> None:
    """By common practice, whatever order the units are named in."""
    names = ["reverb, plate", "delay, digital", "drive, soft", "volume pedal", "octave down", "tuner, stage"]

    chain = [str(link) for link in rig_of(demo_library(), names).chain]

    assert chain[0] == "tuner, stage"
    assert chain.index("volume pedal") < min(chain.index("delay, digital"), chain.index("reverb, plate"))


def test_units_that_no_preference_parts_stay_as_they_are_named() -> None:
    """The library's order is as good as any."""
    named = {name: unit(roles=["filter"]) for name in ("b", "a", "c")}

    assert rig_of(Library(units=named), ["b", "a", "c"]).chain == ("b", "a", "c")
