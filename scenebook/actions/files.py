"""Write the files that a player asks for: whole or not at all."""

import secrets
from collections.abc import Mapping
from pathlib import Path

from scenebook.errors import OutputError

__all__ = ["file_name", "write_file", "write_files"]


def write_file(path: Path, data: bytes) -> Path:
    """Write `data` beside `path` and give it the name at the end; what was there stays until then.

    Raises:
        OutputError: the folder is not there, is full or cannot be written.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    except OSError as error:
        raise _output_error(error, path) from error
    finally:
        _let_go(part)
    return path


def write_files(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write several files into a folder, which is made if it is not there; return their paths.

    Raises:
        OutputError: the folder cannot be made or written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _output_error(error, folder) from error
    return tuple(write_file(folder / name, data) for name, data in files.items())


def file_name(*words: str) -> str:
    """Return a file name, without its ending, that is safe everywhere: letters and digits of any script, hyphens."""
    text = " ".join(words).casefold()
    kept = "".join(letter if letter.isalnum() else " " for letter in text)
    return "-".join(kept.split())[:80] or "unnamed"


def _output_error(error: OSError, path: Path) -> OutputError:
    if isinstance(error, FileNotFoundError):
        return OutputError(
            f"cannot be written: there is no folder {str(path.parent)!r}",
            where=str(path),
            remedy="Make the folder first, or choose another place",
        )
    return OutputError(
        f"cannot be written: {error.strerror or error}", where=str(path), remedy="Choose another place, or make room"
    )


def _let_go(part: Path) -> None:
    try:
        part.unlink(missing_ok=True)
    except OSError:  # the place is gone or is no folder: then nothing was written
        return
