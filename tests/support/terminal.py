"""Type commands and see what comes back: in the test's own process, or as a real process."""

import io
import os
import resource
import sqlite3
import subprocess
import sys
from contextlib import closing, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import NamedTuple

from tests.support.checkout import ROOT

__all__ = ["Printed", "contents", "typed", "typed_in_a_process", "write_folder"]


class Printed(NamedTuple):
    """What a command left: its exit code, and what it printed on standard output and standard error."""

    code: int
    out: str
    err: str


def typed(*arguments: str) -> Printed:
    """Run a command in this process."""
    from scenebook.cli import run

    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run(arguments)
    return Printed(code, out.getvalue(), err.getvalue())


def typed_in_a_process(
    *arguments: str, cwd: Path | None = None, largest_file: int | None = None, **environment: str
) -> Printed:
    """Run a command as its own process; no file that it writes may grow beyond `largest_file` bytes."""

    def full_disk() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest_file or 0, resource.RLIM_INFINITY))

    env = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"} | environment
    done = subprocess.run(
        [sys.executable, "-m", "scenebook", *arguments],
        capture_output=True,
        encoding="utf-8",
        env=env,
        cwd=cwd,
        timeout=120,
        preexec_fn=full_disk if largest_file is not None else None,
    )
    return Printed(done.returncode, done.stdout, done.stderr)


def contents(library: Path) -> list[str]:
    """Return all that a library holds, as SQL; equal lists mean that nothing was changed."""
    with closing(sqlite3.connect(library)) as connection:
        return list(connection.iterdump())


def write_folder(folder: Path, **files: str) -> Path:
    """Write a folder of the neutral format; `units__fuzz="..."` is the file units/fuzz.yaml."""
    for name, text in files.items():
        path = folder / f"{name.replace('__', '/')}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder
