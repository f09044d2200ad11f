"""A short evening under fire, by the real command: ports lost, JACK restarted, pages dropped, the stand killed.

The long one, with the counts of a whole tour, is tests/benchmarks/bench_soak.py.
"""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from scenebook.storage.folder import read_folder
from tests.demo_library.reading import DEMO
from tests.support.checkout import ROOT
from tests.support.soaking import Soak
from tests.support.terminal import typed

pytestmark = [pytest.mark.jack, pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")]
GIG = "Pell Quay hall"


def test_a_gig_outlives_everything_and_stands_right_after_each(tmp_path: Path, tell: Callable[[str], None]) -> None:
    """The units stand as the scene asks, the journal says where, and no step that was answered is lost."""
    library = tmp_path / "library.scenebook"
    assert typed("library", "create", "--library", str(library)).code == 0
    assert typed("library", "import", str(ROOT / "demo_library"), "--library", str(library)).code == 0

    with Soak(library, read_folder(DEMO)[0], GIG, tmp_path, seed=7) as soak:
        for what, count in (("port lost", 3), ("page dropped", 8), ("JACK restarted", 1)):
            for _ in range(count):
                soak.fault(what)
        leaks = soak.leaks()
        for _ in range(2):
            soak.fault("SIGKILL")

    assert soak.wrong == []
    assert soak.survived == {"port lost": 3, "page dropped": 8, "JACK restarted": 1, "SIGKILL": 2}
    assert leaks <= 2
    tell(f"{soak.steps} steps, {soak.memory_mb:.0f} MB at the end")
