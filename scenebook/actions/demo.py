"""The main job on the demo library: import it, compile a gig, prove it, write all that a player takes along."""

from dataclasses import dataclass
from pathlib import Path

from scenebook.actions.compiling import compiled_slice, gig_slice
from scenebook.actions.exporting import export_lists
from scenebook.actions.files import write_file
from scenebook.actions.libraries import create, import_from
from scenebook.actions.proving import Progress, Verified, prove_list
from scenebook.actions.sheet import sheet_bytes, view
from scenebook.errors import OutputError
from scenebook.midi import open_link
from scenebook.resources import demo_library_folder

__all__ = ["DEMO_GIG", "Demo", "run_demo"]

DEMO_GIG = "Pell Quay hall"
_LIBRARY = "library.scenebook"


@dataclass(frozen=True, slots=True)
class Demo:
    """What the demo did. `kept` says that the library was there from an earlier run and is as the player left it."""

    folder: Path
    library: Path
    kept: bool
    lean: Verified
    full: Verified
    sheet: Path
    files: tuple[Path, ...]

    @property
    def ok(self) -> bool:
        """Whether both lists are proved."""
        return self.lean.ok and self.full.ok


def run_demo(folder: Path, *, progress: Progress | None = None) -> Demo:
    """Do the main job in `folder`, which is new, empty, or that of an earlier demo: then its library is used as it is.

    Raises:
        OutputError: the folder holds something else, or cannot be written.
        ScenebookError: the gig of a library that was there cannot be compiled any more.
    """
    library = folder / _LIBRARY
    kept = _has_library(folder)
    if not kept:
        _make_library(library)
    part = gig_slice(library, DEMO_GIG)
    lean, full = compiled_slice(part), compiled_slice(part, full=True)
    with open_link() as link:
        proved = [prove_list(part, cue_list, link, progress=progress) for cue_list in (lean, full)]
    page = folder / "sheet.pdf"
    write_file(page, sheet_bytes(view(part, lean), page))
    files = export_lists(part, lean, full, folder / "messages").files
    return Demo(folder, library, kept, proved[0], proved[1], page, files)


def _make_library(library: Path) -> None:
    """Make the demo's library whole or not at all: what stopped half-way must not look like an earlier demo."""
    part = library.with_name(f"{library.stem}.part{library.suffix}")
    for left in (part, part.with_name(f"{part.name}-wal"), part.with_name(f"{part.name}-shm")):
        left.unlink(missing_ok=True)
    create(part)
    import_from(part, demo_library_folder())
    part.rename(library)


def _has_library(folder: Path) -> bool:
    """Tell whether an earlier demo was here; a folder with anything else in it is not ours to write to."""
    if (folder / _LIBRARY).is_file():
        return True
    try:
        taken = folder.exists() and (not folder.is_dir() or any(".part." not in each.name for each in folder.iterdir()))
    except OSError as error:
        raise OutputError(f"cannot be read: {error.strerror}", where=str(folder)) from error
    if taken:
        raise OutputError(
            "there is something else here already", where=str(folder), remedy="Name a new folder with --to"
        )
    return False
