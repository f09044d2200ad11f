"""Where the two folders lie that are not Python: the migrations and the demo library.

In a checkout, editable installs included, both stand at the repository's top level, beside the package. An installed
wheel carries them inside the package, under names with an underscore, since a wheel may not lay folders of its own
beside other people's packages. Nothing here opens or reads them.
"""

from pathlib import Path

__all__ = ["demo_library_folder", "migrations_folder"]

_PACKAGE = Path(__file__).resolve().parent


def migrations_folder() -> Path:
    """Return the folder of alembic revisions that bring a library to this version's tables."""
    return _folder("migrations")


def demo_library_folder() -> Path:
    """Return the folder of the invented library, in the neutral format, that the demo imports."""
    return _folder("demo_library")


def _folder(name: str) -> Path:
    """Prefer the wheel's copy: beside an installed package a folder of this name would be somebody else's."""
    installed = _PACKAGE / f"_{name}"
    return installed if installed.is_dir() else _PACKAGE.parent / name
