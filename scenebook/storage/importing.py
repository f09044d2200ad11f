"""Take a folder of the neutral format into a library, in one transaction."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from scenebook.storage.change import Source, spoken
from scenebook.storage.folder import raise_first, read_folder
from scenebook.storage.marks import KINDS, Kind

if TYPE_CHECKING:
    from scenebook.storage.store import Store

__all__ = ["Imported", "import_folder"]


class Imported(NamedTuple):
    """How many of each kind came new, took the place of one of the same name, or were there just so already."""

    new: dict[Kind, int]
    replaced: dict[Kind, int]
    unchanged: dict[Kind, int]


def import_folder(store: "Store", path: Path) -> Imported:
    """Put everything that a folder holds into the library; what has the same name is replaced, and history keeps it.

    Raises:
        FormatError: a file is not as it must be.
        ScenebookError: what a file says does not fit the rest; the place is file and line. Nothing has been changed.
    """
    library, texts = read_folder(path)
    wholes: dict[Kind, dict[str, Any]] = {
        "unit": library.units,
        "rig": library.rigs,
        "song": library.songs,
        "gig": library.gigs,
    }
    with store.change(f"import {path.name}") as change:
        if texts.settings is not None:
            change.put_settings(library.settings, texts.settings)
        for kind in KINDS:
            for name, aggregate in wholes[kind].items():
                file = texts.files[kind][name]
                change.put(kind, name, aggregate, Source(file.file, file.text))
        raise_first(
            [
                texts.located(kind, name, fault) if name in texts.files[kind] else spoken(kind, name, fault)
                for kind, name, fault in change.faults()
            ]
        )
    new = {kind: sum(one == kind and is_new for one, _, is_new in change.written) for kind in KINDS}
    replaced = {kind: sum(one == kind and not is_new for one, _, is_new in change.written) for kind in KINDS}
    return Imported(new, replaced, {kind: len(wholes[kind]) - new[kind] - replaced[kind] for kind in KINDS})
