"""Small files that only their owner may read: what lets its holder step a stand."""

import os
from contextlib import suppress
from pathlib import Path

from scenebook.errors import OutputError

__all__ = ["read_private", "write_private"]


def read_private(path: Path) -> str | None:
    """Return what such a file holds; None where there is none, or others may read it."""
    try:
        if os.name == "posix" and path.stat().st_mode & 0o077:
            return None
        return path.read_text(encoding="ascii")
    except (OSError, ValueError):
        return None


def write_private(path: Path, text: str, what: str) -> None:
    """Write such a file whole or not at all, closed to others from the beginning; `what` it is, for the error.

    Raises:
        OutputError: the folder cannot be written.
    """
    new = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileNotFoundError):
            new.unlink()
        with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
            file.write(text)
        new.replace(path)
    except OSError as error:
        raise OutputError(
            f"{what} cannot be kept: {error.strerror}",
            where=str(path),
            remedy="Give the folder to yourself, or make room on the disk",
        ) from None
