"""The fonts that the sheet is set in, and whether they can draw a text.

The setter draws a box for a character that no font has and says nothing, so every text is held against the fonts'
character maps before.
"""

import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path

from scenebook.errors import OutputError

__all__ = ["CAP_HEIGHT", "FAMILY", "FONTS", "check_drawable", "point_size", "visual_height"]

FONTS = Path(__file__).resolve().parent / "fonts"
FAMILY = "DejaVu Sans"
CAP_HEIGHT = 1493 / 2048  # em: the height of H in the shipped faces (a test reads it from each file)

_MM = 72 / 25.4  # points in a mm
# Marks that steer other characters and are never drawn: joiners, directions, variation selectors, line ends.
_SILENT = ("Cc", "Cf", "Zl", "Zp")


def visual_height(distance_mm: float, arcmin: float = 16.0) -> float:
    """Return the height in mm that is seen under `arcmin` from `distance_mm`: h = 2 d tan(a/2), as in ISO 9241-3."""
    from math import radians, tan

    return 2 * distance_mm * tan(radians(arcmin / 60) / 2)


def point_size(distance_mm: float, arcmin: float = 16.0) -> float:
    """Return the font size in points whose capitals are seen under `arcmin` from `distance_mm`, rounded up to 0.1."""
    from math import ceil

    return ceil(visual_height(distance_mm, arcmin) * _MM / CAP_HEIGHT * 10) / 10


def check_drawable(texts: Iterable[str], more: Sequence[Path] = ()) -> None:
    """See that every character of `texts` is in a font.

    Raises:
        OutputError: a character is in none of them, or a further font cannot be read.
    """
    wanted = {character: text for text in texts for character in text if unicodedata.category(character) not in _SILENT}
    # The plain letters are in our own faces (a test says so), and looking them up would cost more than setting a page.
    missing = {character for character in wanted if not " " <= character <= "~"}
    for path in more:
        missing -= _characters(path)
    for path in (FONTS / "DejaVuSans.ttf", FONTS / "DejaVuSans-Bold.ttf"):
        if missing:
            missing -= _characters(path)
    if missing:
        first = min(missing)
        name = unicodedata.name(first, "a character without a name")
        raise OutputError(
            f"no font can draw {first!r} (U+{ord(first):04X}, {name})",
            where=f"text {wanted[first]!r}",
            accepted="what the shipped fonts or those given draw",
            remedy="Give a font file that has it (--font FILE), a .ttf, .otf or .ttc",
        )


def _characters(path: Path) -> set[str]:
    """Return the characters that a font file draws.

    The bold face lacks some of the plain face's, and a text may be set in either: but where a weight has no glyph the
    setter takes the other, so one of them is enough.
    """
    from fontTools.ttLib import TTCollection, TTFont, TTLibError  # late: only printing needs it

    try:
        with path.open("rb") as file:
            if path.suffix.lower() in (".ttc", ".otc"):
                faces = list(TTCollection(file, lazy=True))
            else:
                faces = [TTFont(file, lazy=True)]
            return {chr(code) for face in faces for code in face.getBestCmap() or ()}
    except (OSError, TTLibError) as error:
        raise OutputError(
            f"the font file cannot be read: {error}", where=str(path), accepted="a .ttf, .otf or .ttc font"
        ) from None
