"""What ten thousand steps leave behind in memory: run as a script it prints the growth in MB, whole and by halves."""

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.table import Row
from tests.support.checkout import ROOT

__all__ = ["run"]

STEPS, WARM = 10_000, 1_000
MB = 1024 * 1024


def run(folder: Path) -> list[Row]:
    """Return the growth over all steps and over the last half of them, in a process that does nothing else."""
    command = [sys.executable, "-m", "tests.benchmarks.stand_memory", str(folder / "steps.jsonl")]
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, check=True)
    first, second, a_step = json.loads(done.stdout)
    note = f"first half {first:.2f} MB, second {second:.2f} MB; {a_step:.2f} ms a step"
    return [
        Row(f"{STEPS:,} steps: memory growth in MB", first + second, 5.0, note),
        Row(f"{STEPS:,} steps: growth of the second half in MB", second, 1.0, "flat"),
    ]


def measured(journal: Path) -> tuple[float, float, float]:
    """Step through a gig from end to end, again and again, with a real journal; return growths and ms a step."""
    import time

    import psutil

    from scenebook.live.acts import Act, Verb
    from scenebook.live.caller import Caller
    from scenebook.live.engine import Engine
    from scenebook.live.places import HOME
    from scenebook.model.on_stage import Wire
    from scenebook.storage.journal import Journal
    from tests.benchmarks.gigs import large_gig
    from tests.support.running import MemoryPorts

    library, ports = large_gig(400), MemoryPorts(("box",))
    engine = Engine(
        Caller(library, "gig", "wall"),
        ports,
        Journal(journal),
        {"main": Wire(midi="box", plug="usb")},
        library=library,
        gig="gig",
        rig="wall",
    )
    engine.start()

    def stepped(count: int) -> float:
        for _ in range(count):
            if engine.ask(Act(Verb.NEXT, "key")).refused:
                engine.ask(Act(Verb.GO, "key", place=HOME))
            ports.sent.clear()
        return psutil.Process(os.getpid()).memory_info().rss / MB

    warm = stepped(WARM)
    begun = time.perf_counter()
    half = stepped(STEPS // 2)
    whole = stepped(STEPS // 2)
    taken = time.perf_counter() - begun
    engine.close()
    return half - warm, whole - half, taken / STEPS * 1000


if __name__ == "__main__":
    print(json.dumps(measured(Path(sys.argv[1]))))
