"""Units out, units replaced and stand-ins, at random: what the compiler makes of them, the proof must accept."""

from collections import Counter
from collections.abc import Callable

import pytest

from scenebook.actions.proving import sent_cues
from scenebook.cueing.compile import compile_gig
from scenebook.errors import SceneError
from scenebook.model.checks import check_library
from scenebook.proof import prove
from tests.support.build import GIG, RIG
from tests.support.substitutions import with_substitutions


@pytest.mark.parametrize("full", [False, True], ids=["lean", "full"])
def test_lists_with_substitutions_are_proved(full: bool, tell: Callable[[str], None]) -> None:
    """A list may fail only where compiling has warned that two units hear the same message."""
    counted: Counter[str] = Counter()
    wrong = []
    for seed in range(600):
        library = with_substitutions(seed)
        if any(check_library(library)):
            continue
        try:
            compiled = compile_gig(library, GIG, full=full)
        except SceneError:
            counted["cannot be played"] += 1
            continue
        proof = prove(library, GIG, RIG, sent_cues(compiled.cues), full=full)
        disturbed = any("hears what is meant for" in warning for warning in compiled.warnings)
        counted["proved" if proof.ok else "warned of"] += 1
        if not proof.ok and not disturbed:
            wrong.append((seed, proof.failures[0]))

    tell(str(dict(counted)))
    assert wrong == []
    assert counted["proved"] > 200
