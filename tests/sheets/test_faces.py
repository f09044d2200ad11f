"""Any script prints, or the player is told which character has no font and what to do: never a silent box."""

from collections.abc import Callable
from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from scenebook.errors import OutputError
from scenebook.sheets import GigView, pdf, view_of
from scenebook.sheets.faces import FONTS, check_drawable
from tests.support.cue_lists import a_gig, a_library, compiled
from tests.support.printed import packed, printed

HARBOUR = "港の灯"  # "harbour light" in Japanese


def view(name: str) -> GigView:
    library = a_library(a_gig((name, "Kelp fire")))
    return view_of(library, compiled(library), revision=1)


def a_font(path: Path, characters: str, *, ps_name: str = "Blocks-Regular") -> Path:
    """Build a font that draws a block for each character; without a PostScript name the setter passes it over."""
    pen = TTGlyphPen(None)
    pen.moveTo((100, 0))
    for corner in ((100, 700), (900, 700), (900, 0)):
        pen.lineTo(corner)
    pen.closePath()
    glyphs = [".notdef", *(f"uni{ord(character):04X}" for character in characters)]
    font = FontBuilder(1000, isTTF=True)
    font.setupGlyphOrder(glyphs)
    font.setupCharacterMap({ord(character): name for character, name in zip(characters, glyphs[1:], strict=True)})
    font.setupGlyf(dict.fromkeys(glyphs, pen.glyph()))
    font.setupHorizontalMetrics(dict.fromkeys(glyphs, (1000, 100)))
    font.setupHorizontalHeader(ascent=880, descent=-120)
    names = {"familyName": "Blocks", "styleName": "Regular", "fullName": "Blocks Regular"}
    font.setupNameTable({**names, "psName": ps_name} if ps_name else names)
    font.setupOS2(sTypoAscender=880, sTypoDescender=-120, sCapHeight=700)
    font.setupPost()
    font.save(path)
    return path


def test_a_character_without_a_font_is_an_error_that_names_it() -> None:
    """A box on the floor page is found at ten to eight."""
    with pytest.raises(OutputError) as caught:
        pdf(view(HARBOUR))

    assert str(caught.value) == (
        "text '港の灯': no font can draw 'の' (U+306E, HIRAGANA LETTER NO); accepted: what the shipped fonts or those "
        "given draw. Give a font file that has it (--font FILE), a .ttf, .otf or .ttc."
    )


def test_a_font_that_is_given_prints_its_script(needs: Callable[[str], None], tmp_path: Path) -> None:
    """One further file is enough, and it is embedded like ours."""
    needs("poppler")
    font = a_font(tmp_path / "blocks.ttf", HARBOUR)

    read = printed(pdf(view(HARBOUR), fonts=[font]), tmp_path)

    assert HARBOUR in packed("".join(word.text for word in read.on(1)))
    assert {name for name, embedded in read.fonts if embedded} >= {"DejaVuSansCondensed", "Blocks-Regular"}


def test_a_font_that_the_setter_passes_over_is_an_error(tmp_path: Path) -> None:
    """It draws the characters, by its own word, but the setter would print boxes all the same."""
    font = a_font(tmp_path / "nameless.ttf", HARBOUR, ps_name="")

    with pytest.raises(OutputError, match=r"nameless\.ttf: the sheet cannot be set in this font"):
        pdf(view(HARBOUR), fonts=[font])


def test_a_font_that_lacks_one_character_is_not_enough(tmp_path: Path) -> None:
    """The check looks at every character, not at the script."""
    font = a_font(tmp_path / "blocks.ttf", HARBOUR[:2])

    with pytest.raises(OutputError, match=r"U\+706F"):
        pdf(view(HARBOUR), fonts=[font])


@pytest.mark.parametrize("name", ["אור הנמל", "ضوء الميناء", "Ωμέγα", "Ночной порт", "Łódź, Ærø, Þór", "♪ 5½° – “так”"])
def test_scripts_that_our_fonts_have_print_from_the_box(
    name: str, needs: Callable[[str], None], tmp_path: Path
) -> None:
    """Hebrew and Arabic run from right to left; the reader gives the letters back, joined or not."""
    needs("poppler")

    read = printed(pdf(view(name)), tmp_path)

    text = packed("".join(word.text for word in read.on(1)))
    assert all(character in text or character[::-1] in text for character in packed(name))


def test_a_letter_that_only_the_plain_weight_has_is_drawn_in_it(needs: Callable[[str], None], tmp_path: Path) -> None:
    """Titles are bold; where the bold face has no glyph the setter takes the plain one, never a box."""
    needs("poppler")
    with TTFont(FONTS / "DejaVuSans.ttf") as plain, TTFont(FONTS / "DejaVuSans-Bold.ttf") as bold:
        only_plain = sorted(set(plain.getBestCmap()) - set(bold.getBestCmap()))
    odd = chr(only_plain[0])

    read = printed(pdf(view(f"Night {odd}")), tmp_path)

    assert odd in packed("".join(word.text for word in read.on(1)))


def test_the_letters_that_are_never_looked_up_are_in_every_face() -> None:
    """Plain letters skip the look into the files, which would cost more than setting a page."""
    for path in FONTS.glob("*.ttf"):
        with TTFont(path) as font:
            assert set(range(ord(" "), ord("~") + 1)) <= set(font.getBestCmap()), path.name


def test_marks_that_are_never_drawn_need_no_font() -> None:
    """Joiners, directions and line ends steer other letters."""
    check_drawable(["a\u200bb\u200dc\u200e\n\u2069"])


@pytest.mark.parametrize("content", [None, b"not a font"])
def test_a_font_file_that_cannot_be_read_is_an_error(content: bytes | None, tmp_path: Path) -> None:
    """A wrong path after --font says so, and names the file."""
    path = tmp_path / "wrong.ttf"
    if content:
        path.write_bytes(content)

    with pytest.raises(OutputError, match=r"wrong\.ttf: the font file cannot be read"):
        pdf(view(HARBOUR), fonts=[path])


def test_a_given_font_that_is_not_needed_is_looked_at_all_the_same(tmp_path: Path) -> None:
    """A mistyped path is told even where our own fonts would do."""
    with pytest.raises(OutputError, match="cannot be read"):
        pdf(view("Lamp room"), fonts=[tmp_path / "missing.ttf"])
