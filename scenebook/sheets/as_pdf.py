"""Set the sheet as PDF: black on white, fonts embedded, the same bytes from the same view.

The words go to the setter as data and are never read as markup. No other font than ours and those given is looked at.
"""

import json
import shutil
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from scenebook.errors import OutputError
from scenebook.sheets.breaking import for_the_setter
from scenebook.sheets.faces import FAMILY, FONTS, check_drawable, point_size
from scenebook.sheets.view import GigView, texts_of

if TYPE_CHECKING:
    import typst

__all__ = ["DO_POINTS", "FLOOR_MM", "NEAR_MM", "pdf", "set_pages"]

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
    said = for_the_setter(view)
    said["sizes"] = {"floor": point_size(FLOOR_MM), "near": point_size(NEAR_MM), "do": DO_POINTS}
    return set_pages("sheet.typ", said, texts_of(view), fonts=fonts)


def set_pages(template: str, said: Mapping[str, Any], texts: Iterable[str], *, fonts: Sequence[Path] = ()) -> bytes:
    """Return the pages that a template of this room makes of plain JSON values, which it finds as `view`, as PDF.

    Args:
        template: the name of the template's file.
        said: what the pages say; the families of the fonts are put in as `fonts`.
        texts: every text in it, held against the fonts beforehand.
        fonts: further font files, for scripts that the shipped fonts lack.

    Raises:
        OutputError: a character is in no font, or a font file cannot be read.
    """
    check_drawable(texts, fonts)
    if not fonts:
        return _set(template, _data(said, ()), FONTS)
    with TemporaryDirectory() as place:  # the setter looks through folders, and the file's own may hold others
        folders = [_folder_of(path, Path(place) / str(index)) for index, path in enumerate(fonts)]
        families = [family for folder in folders for family in _fonts(folder).families()]
        return _set(template, _data(said, families), FONTS, *folders)


def _data(said: Mapping[str, Any], families: Sequence[str]) -> str:
    return json.dumps({**said, "fonts": [FAMILY, *families]}, ensure_ascii=False)


def _set(template: str, data: str, *folders: Path) -> bytes:
    import typst  # late: most commands never set a page

    try:
        return typst.compile(
            _template(template),
            format="pdf",
            font_paths=_fonts(*folders),
            ignore_system_fonts=True,
            sys_inputs={"view": data},
        )
    except typst.TypstError as error:
        raise OutputError(f"the sheet could not be set: {error}") from error


@lru_cache(maxsize=4)
def _template(name: str) -> bytes:
    return (files("scenebook.sheets") / name).read_bytes()


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
