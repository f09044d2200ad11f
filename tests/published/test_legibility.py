"""What is printed can be read from where it is read: character height as a visual angle.

Sources, values copied by hand:

- ISO 9241-3 (ISO 9241-303 alike): characters of at least 16 minutes of arc, 20 to 22 preferred;
  height h = 2 d tan(a/2), the height being that of a capital letter.
- NUREG-0700 revision 2, 1.3.1-4: the same 16 as a minimum, 24 as the upper bound for text; h = 6.283 d a / 21 600 with
  a in minutes of arc.
- ISO 216: A4 is 210 x 297 mm.
"""

from collections.abc import Callable
from math import pi
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from scenebook.sheets import Paper, pdf, view_of
from scenebook.sheets.as_pdf import FLOOR_MM, NEAR_MM
from scenebook.sheets.faces import CAP_HEIGHT, FONTS, point_size, visual_height
from tests.support.cue_lists import a_gig, a_library, compiled
from tests.support.printed import Printed, ink_height, printed

MINIMUM, PREFERRED = 16.0, 20.0
AT_1600_MM = {16: 7.45, 20: 9.31, 22: 10.24, 24: 11.17}  # minutes of arc: mm


@pytest.fixture(autouse=True)
def poppler(needs: Callable[[str], None]) -> None:
    """The PDF is read back and drawn by another program."""
    needs("poppler")


def read_sheet(folder: Path, paper: Paper = Paper.A4) -> tuple[bytes, Printed]:
    library = a_library(a_gig(("HEITLX", "Kelp fire"), spares=("Limpet",)))
    data = pdf(view_of(library, compiled(library), revision=1, paper=paper))
    return data, printed(data, folder)


@pytest.mark.parametrize(("arcmin", "height"), AT_1600_MM.items())
def test_the_height_for_an_angle_is_that_of_the_published_formula(arcmin: int, height: float) -> None:
    """From standing height a capital of 7.45 mm is the least that ISO 9241-3 lets pass."""
    assert visual_height(1600, arcmin) == pytest.approx(height, abs=0.005)


@pytest.mark.parametrize("arcmin", AT_1600_MM)
def test_two_published_formulas_agree(arcmin: int) -> None:
    """NUREG-0700 writes the same thing without a tangent."""
    assert visual_height(1600, arcmin) == pytest.approx(2 * pi * 1600 * arcmin / 21_600, abs=0.001)


@pytest.mark.parametrize("path", sorted(FONTS.glob("*.ttf")), ids=lambda path: path.stem)
def test_the_cap_height_is_that_of_the_fonts_own_letter(path: Path) -> None:
    """What counts is how high an H is, not the point size; each file says so itself."""
    with TTFont(path) as font:
        assert font["glyf"]["H"].yMax / font["head"].unitsPerEm == pytest.approx(CAP_HEIGHT, abs=1e-9)


def test_the_floor_page_needs_29_points(tmp_path: Path) -> None:
    """16 minutes of arc at 1.6 m in a face whose capitals are 0.729 em high; a music stand at 0.7 m needs 12.7."""
    assert point_size(FLOOR_MM, MINIMUM) == 29.0
    assert point_size(NEAR_MM, MINIMUM) == 12.7
    assert 36.2 <= point_size(FLOOR_MM, PREFERRED) <= 36.3


@pytest.mark.parametrize("paper", Paper)
def test_everything_on_every_page_is_read_from_a_music_stand(paper: Paper, tmp_path: Path) -> None:
    """Nothing is fine print, the legend and the page number included."""
    _, read = read_sheet(tmp_path, paper)

    smallest = min(word.size for word in read.words) * CAP_HEIGHT * 25.4 / 72
    assert smallest >= visual_height(NEAR_MM, MINIMUM)


@pytest.mark.parametrize("paper", Paper)
def test_every_song_line_on_the_floor_is_read_standing(paper: Paper, tmp_path: Path) -> None:
    """All of a song's line has the large size; only the bearing and the note beside a heading are for closer eyes."""
    _, read = read_sheet(tmp_path, paper)

    small = " ".join(word.text for word in read.on(1) if word.size * CAP_HEIGHT * 25.4 / 72 < visual_height(FLOOR_MM))
    said = small.split("page 1 of ")[1]
    key = "● on ○ off → set □ hold or fire ▲ take care"
    assert said == f"{read.pages} boxed: slot of multi-effects then interval 20 min boxed: slot of multi-effects {key}"


@pytest.mark.parametrize("paper", Paper)
def test_what_hands_and_feet_do_is_the_largest_print_of_its_entry(paper: Paper, tmp_path: Path) -> None:
    """Read in passing: 20 minutes of arc and more from a music stand, above the preferred size of ISO 9241-3."""
    _, read = read_sheet(tmp_path, paper)
    page = read.pages - 2

    sizes = {word.size for word in read.on(page) if word.size < 20}
    pressed = [word for word in read.on(page) if word.text in ("press", "turn")]
    assert pressed
    assert {word.size for word in pressed} == {max(sizes)}
    assert max(sizes) * CAP_HEIGHT * 25.4 / 72 >= visual_height(NEAR_MM, PREFERRED)


def test_capitals_as_drawn_are_as_high_as_they_must_be(tmp_path: Path) -> None:
    """Measured with no font's help: the ink of a title in capitals, on the floor page and at the head of its pages."""
    data, read = read_sheet(tmp_path)
    floor, title, *_ = (word for word in read.words if word.text == "HEITLX")

    assert ink_height(data, tmp_path, floor) >= 7.45
    assert ink_height(data, tmp_path, title) >= visual_height(NEAR_MM, MINIMUM)


def test_capitals_of_the_smallest_print_are_as_high_as_they_must_be(tmp_path: Path) -> None:
    """The heading MIDI leads stands in the sheet's smallest size."""
    data, read = read_sheet(tmp_path)
    word = next(word for word in read.words if word.text == "MIDI")

    assert word.size == min(each.size for each in read.words)
    assert ink_height(data, tmp_path, word) == pytest.approx(visual_height(NEAR_MM, MINIMUM), abs=0.06)
