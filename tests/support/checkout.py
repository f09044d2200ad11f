"""The project as a checkout: where it lies, and which files belong to it."""

import subprocess
from pathlib import Path

from tests.support.parts import needs

__all__ = ["ROOT", "project_files"]

ROOT = Path(__file__).resolve().parents[2]


def project_files() -> list[Path]:
    """Return the files that git keeps, relative to the top; a new file counts unless it is ignored.

    A file that was deleted but is still in git's index does not count. Skips the test where git is missing.
    """
    needs("git")
    # A checkout that belongs to another user (a mounted folder in a container) is still this project.
    command = ["git", "-c", "safe.directory=*", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout.decode().split("\0")
    return sorted(Path(name) for name in set(listed) if name and (ROOT / name).is_file())
