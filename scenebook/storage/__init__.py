"""The library: a SQLite file, and the folder of text files that it is read from and written to.

Each name is loaded when it is first asked for, since the store loads SQLAlchemy and the folders load YAML.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scenebook.storage.boxes import Box
    from scenebook.storage.change import Change
    from scenebook.storage.checking import check
    from scenebook.storage.exporting import export_folder
    from scenebook.storage.folder import read_folder
    from scenebook.storage.importing import Imported, import_folder
    from scenebook.storage.marks import KINDS, Kind
    from scenebook.storage.opening import backup, create_library, open_library
    from scenebook.storage.schema import json_schema
    from scenebook.storage.store import Before, Store
    from scenebook.storage.undoing import go_back

__all__ = [
    "KINDS",
    "Before",
    "Box",
    "Change",
    "Imported",
    "Kind",
    "Store",
    "backup",
    "check",
    "create_library",
    "export_folder",
    "go_back",
    "import_folder",
    "json_schema",
    "open_library",
    "read_folder",
]

_HOMES = {
    "boxes": ["Box"],
    "change": ["Change"],
    "checking": ["check"],
    "exporting": ["export_folder"],
    "folder": ["read_folder"],
    "importing": ["Imported", "import_folder"],
    "marks": ["KINDS", "Kind"],
    "opening": ["backup", "create_library", "open_library"],
    "schema": ["json_schema"],
    "store": ["Before", "Store"],
    "undoing": ["go_back"],
}


def __getattr__(name: str) -> Any:
    for module, names in _HOMES.items():
        if name in names:
            return getattr(import_module(f"{__name__}.{module}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
