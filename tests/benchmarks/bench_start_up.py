"""Start-up: the bare command against its terminal library, and a whole compile against importing what it stands on.

Whole processes are timed, side by side, as a player waits for them. The gig has 40 songs of the demo library, 210 cues.
"""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.table import Row, medians
from tests.support.checkout import ROOT

__all__ = ["run"]

_SONGS = 40
_RUNS = 15


def run() -> list[Row]:
    """Return the rows of the table."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "library.scenebook"
        _fill(path)
        return [
            _row("--version, against importing typer", 1.3, ["--version"], "import typer"),
            _row(
                f"compile of a {_SONGS}-song gig, against importing its libraries",
                1.5,
                ["compile", "Forty", "--library", str(path)],
                "import typer, sqlalchemy.orm, pydantic, mido",
            ),
        ]


def _row(what: str, goal: float, command: list[str], imports: str) -> Row:
    ours, other, ratio = medians(_process("-m", "scenebook", *command), _process("-c", imports), runs=_RUNS)
    return Row(what, ratio, goal, f"{ours * 1000:.0f} ms against {other * 1000:.0f} ms, {_RUNS} runs in turn")


def _process(*arguments: str) -> Callable[[], object]:
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return lambda: subprocess.run([sys.executable, *arguments], env=environment, check=True, stdout=subprocess.DEVNULL)


def _fill(path: Path) -> None:
    from scenebook.actions.gigs import add_gig, order_songs
    from scenebook.actions.libraries import create, import_from
    from scenebook.actions.songs import list_songs

    create(path)
    import_from(path, ROOT / "demo_library")
    add_gig(path, "Forty", rig="hall board")
    songs = [name for name in list_songs(path) if name != "House sounds"]
    order_songs(path, "Forty", (songs * 2)[:_SONGS])
