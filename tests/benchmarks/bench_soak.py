"""The soak: a real stand on real JACK ports, and far more mishaps than a tour has."""

import sys
import tempfile
from pathlib import Path

from scenebook.storage.folder import read_folder
from tests.benchmarks.table import Row
from tests.demo_library.reading import DEMO
from tests.support.checkout import ROOT
from tests.support.soaking import Soak
from tests.support.terminal import typed

__all__ = ["COUNTS", "run"]

GIG = "Pell Quay hall"
COUNTS = {"port lost": 50, "JACK restarted": 5, "page dropped": 200, "SIGKILL": 20}


def run() -> list[Row]:
    """Return what was not right after a fault, and what the stand held on to."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        library = folder / "library.scenebook"
        typed("library", "create", "--library", str(library))
        typed("library", "import", str(ROOT / "demo_library"), "--library", str(library))
        leaks = 0
        with Soak(library, read_folder(DEMO)[0], GIG, folder) as soak:
            for what, count in COUNTS.items():
                for _ in range(count):
                    soak.fault(what)
                leaks = max(leaks, soak.leaks())
    print("\n".join(soak.wrong), file=sys.stderr)
    survived = ", ".join(f"{what} {soak.survived[what]} of {count} times" for what, count in COUNTS.items())
    note = f"{survived}; {soak.steps} steps, none lost" if not soak.wrong else survived
    return [
        Row("soak: faults after which something was wrong", sum(COUNTS.values()) - soak.survived.total(), 0, note),
        Row(
            "soak: files and sockets that the stand did not let go of", leaks, 2, f"{soak.memory_mb:.0f} MB at its end"
        ),
    ]
