"""Every rule of the house is met somewhere in the demo library."""

import re
from functools import cache
from pathlib import Path

import pytest

from scenebook.model import Library
from tests.demo_library.cue_rules import CUE_RULES, PROOF_RULES
from tests.demo_library.reading import demo_library
from tests.demo_library.rules import STATE_RULES, Found

RULES = STATE_RULES | CUE_RULES | PROOF_RULES


@cache
def found(rule: str) -> Found:
    return RULES[rule](demo_library())


def test_the_rules_looked_for_are_those_of_the_house() -> None:
    """A rule that is added to the house must be met in the demo library too."""
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")

    assert list(RULES) == re.findall(r"(?m)^- \*\*([SCP]\d+)", text)


@pytest.mark.parametrize("rule", RULES)
def test_the_demo_library_meets(rule: str) -> None:
    """Each thing that the rule speaks of is found, and is no accident of one file: the places can be looked up."""
    assert [what for what, places in found(rule).items() if not places] == []


def test_a_thing_that_is_not_there_is_not_found() -> None:
    """The search itself is worth something: an empty library meets no rule."""
    for rule, search in RULES.items():
        assert not any(search(Library()).values()), rule
