"""The battery falls out while the library is written: it is as before or as after, and whole."""

import os
from pathlib import Path

import pytest

from tests.storage.killing import kill_during


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is a signal of POSIX")
@pytest.mark.parametrize("work", ["import", "scene"])
def test_a_killed_process_leaves_the_library_as_before_or_as_after(work: str, tmp_path: Path, empty_file: Path) -> None:
    """Ten moments of an import and ten of a change to a scene; the benchmarks try two hundred."""
    left = list(kill_during(work, 12 if work == "import" else 8, tmp_path, empty_file))

    assert {one.state for one in left} <= {"before", "after"}
    assert {one.state for one in left if one.inside} == {"before"}
    assert [one.faults for one in left if one.faults] == []
    assert sum(one.inside for one in left) == len(left) // 4
