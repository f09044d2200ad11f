"""Set the sheet as PDF: black on white, fonts embedded, the same bytes from the same view.

The words go to the setter as data and are never read as markup. No other font than ours and those given is looked at.
"""

import json
import shutil
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from scenebook.errors import OutputError
from scenebook.sheets.breaking import for_the_setter
from scenebook.sheets.faces import FAMILY, FONTS, check_drawable, point_size
from scenebook.sheets.view import GigView, texts_of

if TYPE_CHECKING:
    import typst

__all__ = ["DO_POINTS", "FLOOR_MM", "NEAR_MM", "pdf"]

FLOOR_MM = 1600.0  # from a standing player's eyes to the floor
NEAR_MM = 700.0  # to a music stand
DO_POINTS = 18.0  # what hands and feet do, on a song's page: 22 minutes of arc from a music stand


def pdf(view: GigView, *, fonts: Sequence[Path] = ()) -> bytes:
    """Return the sheet as PDF.

    Capitals are seen under at least 16 minutes of arc (ISO 9241-3): on the floor page from 1.6 m, elsewhere from 0.7 m.

    Args:
        view: what the sheet says.
        fonts: further font files, for scripts that the shipped fonts lack.

    Raises:
        OutputError: a character is in no font, or a font file cannot be read.
    """
    check_drawable(texts_of(view), fonts)
    if not fonts:
        return _set(_data(view, ()), FONTS)
    with TemporaryDirectory() as place:  # the setter looks through folders, and the file's own may hold others
        folders = [_folder_of(path, Path(place) / str(index)) for index, path in enumerate(fonts)]
        families = [family for folder in folders for family in _fonts(folder).families()]
        return _set(_data(view, families), FONTS, *folders)


def _data(view: GigView, families: Sequence[str]) -> str:
    said = for_the_setter(view)
    said["sizes"] = {"floor": point_size(FLOOR_MM), "near": point_size(NEAR_MM), "do": DO_POINTS}
    said["fonts"] = [FAMILY, *families]
    return json.dumps(said, ensure_ascii=False)


def _set(data: str, *folders: Path) -> bytes:
    import typst  # late: most commands never set a page

    try:
        return typst.compile(
            _template(),
            format="pdf",
            font_paths=_fonts(*folders),
            ignore_system_fonts=True,
            sys_inputs={"view": data},
        )
    except typst.TypstError as error:
        raise OutputError(f"the sheet could not be set: {error}") from error


@lru_cache(maxsize=1)
def _template() -> bytes:
    return (files("scenebook.sheets") / "sheet.typ").read_bytes()


def _fonts(*folders: Path) -> "typst.Fonts":
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=list(folders))


def _folder_of(path: Path, folder: Path) -> Path:
    """Put a font file alone into a new folder; one that the setter would pass over in silence is an error."""
    folder.mkdir()
    shutil.copyfile(path, folder / path.name)
    if not _fonts(folder).families():
        raise OutputError(
            "the sheet cannot be set in this font", where=str(path), remedy="Give another font, a .ttf, .otf or .ttc"
        )
    return folder
