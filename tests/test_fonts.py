"""The fonts that the sheet is set in are shipped whole, with their licence."""

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from tests.support.checkout import ROOT

FONTS = ROOT / "scenebook" / "sheets" / "fonts"
FILES = sorted(FONTS.glob("*.ttf"))


def test_five_faces_are_shipped() -> None:
    """Text, headings, long chains and lists each have a face, so no machine's own fonts are needed."""
    assert {path.stem for path in FILES} == {
        "DejaVuSans",
        "DejaVuSans-Bold",
        "DejaVuSansCondensed",
        "DejaVuSansCondensed-Bold",
        "DejaVuSansMono",
    }


def words(text: str) -> str:
    """Return the text on one line; one of the faces has a word of its licence twice."""
    return " ".join(text.split()).replace("or or ", "or ")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_licence_beside_a_font_is_the_one_that_it_carries(path: Path) -> None:
    """Whoever passes the fonts on has to pass on exactly these words, and name each file."""
    licence = (FONTS / "LICENSE-DejaVu.txt").read_text(encoding="utf-8")

    # The first paragraph only says which of the licences below apply to this face.
    _, *paragraphs = TTFont(path)["name"].getDebugName(13).replace("\r", "").split("\n\n")

    assert len(paragraphs) > 5
    assert [text for text in paragraphs if words(text) not in words(licence)] == []
    assert path.name in licence


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_font_draws_the_marks_and_letters_of_a_sheet(path: Path) -> None:
    """On and off are told by shape, keys have flats and sharps, and lyrics are not all English."""
    drawn = set(TTFont(path).getBestCmap())

    assert {character for character in "●○■□◆◇▲△→←♭♯×–—½°ÄéßøŁžŒΩЖя" if ord(character) not in drawn} == set()
