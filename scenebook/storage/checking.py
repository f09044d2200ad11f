"""Look a whole library over: the file, the references in it, every aggregate, and what they say of each other."""

from pathlib import Path

from scenebook.errors import LibraryError, ScenebookError
from scenebook.model.checks import check_library
from scenebook.storage.change import spoken
from scenebook.storage.opening import open_library

__all__ = ["check"]


def check(path: Path) -> list[ScenebookError]:
    """Return every fault of a library; an empty list means that all is well. Nothing is changed.

    Raises:
        LibraryError: the file cannot be opened at all (as for `open_library`).
    """
    with open_library(path, read_only=True) as store:
        try:
            broken: list[ScenebookError] = [
                LibraryError(found, where=str(path), remedy="Go back to a backup of it") for found in store.broken()
            ]
            if broken:
                return broken
            library = store.library()
        except ScenebookError as error:
            return [error]
    return [spoken(kind, name, fault) for kind, name, fault in check_library(library)]
