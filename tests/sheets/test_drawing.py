"""The workshop drawing of a board: to scale, complete, black on white, and the same on every run."""

import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import lru_cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont

from scenebook.errors import OutputError
from scenebook.planning.board import BoardPlan, plan_board, read_board
from scenebook.planning.packing import Board
from scenebook.sheets.board_place import Place
from scenebook.sheets.board_words import STOPPED, cut_rows, cut_total, parts_rows, remarks, verdict
from scenebook.sheets.drawing import SCALES, board_page, board_svg, scale_of
from scenebook.sheets.drawing_pdf import board_pdf
from scenebook.sheets.faces import FONTS, check_drawable
from tests.demo_library.reading import demo_library
from tests.support.boards import rig_of
from tests.support.build import RIG

SVG = "{http://www.w3.org/2000/svg}"
A_POINT = 25.4 / 72  # mm


@lru_cache
def planned(rig: str = "fly board", size: str = "600x320") -> BoardPlan:
    return plan_board(demo_library(), rig, read_board(size), seconds=60, effort=0.3)


def elements(svg: str | bytes, kind: str) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(svg).iter(SVG + kind))


def texts(svg: str | bytes) -> list[str]:
    return ["".join(each.itertext()) for each in elements(svg, "text")]


def solid_boxes(svg: str | bytes) -> list[tuple[float, ...]]:
    """Return x, y, width and height of each box that is drawn with a whole line."""
    return [
        tuple(float(each.attrib[key]) for key in ("x", "y", "width", "height"))
        for each in elements(svg, "rect")
        if "stroke-width" in each.attrib and "stroke-dasharray" not in each.attrib
    ]


def printed(data: bytes, tmp_path: Path, *options: str) -> str:
    """Return the words of a PDF as another program reads them."""
    (tmp_path / "board.pdf").write_bytes(data)
    command = ["pdftotext", "-layout", *options, str(tmp_path / "board.pdf"), "-"]
    return subprocess.run(command, capture_output=True, check=True, encoding="utf-8").stdout


@pytest.mark.parametrize(("rig", "size"), [("fly board", "600x320"), ("hall board", "800x400")])
def test_every_outline_is_drawn_to_scale_where_it_stands(rig: str, size: str) -> None:
    """Whoever lays a ruler on the paper gets the board's own mm."""
    plan = planned(rig, size)
    scale = scale_of(plan)

    _, board, *others = solid_boxes(board_page(plan))  # the frame first

    left, top, across, down = board
    assert (across * scale, down * scale) == pytest.approx((plan.board.width, plan.board.depth), abs=0.05 * scale)
    for each, (x, y, width, depth) in zip(plan.placed, others, strict=False):
        measured = (x - left) * scale, (top + down - y - depth) * scale, width * scale, depth * scale
        assert measured == pytest.approx((each.x, each.y, each.outline.width, each.outline.depth), abs=0.05 * scale)


def test_the_paper_holds_what_the_drawing_says(needs: Callable[[str], None], tmp_path: Path) -> None:
    """The board's four edges lie where the scale puts them, on A4, as another program draws the page."""
    needs("poppler")
    plan = planned()
    (tmp_path / "board.pdf").write_bytes(board_pdf(plan))
    dots = 254  # an inch: ten a mm
    command = ["pdftoppm", "-r", str(dots), "-gray", "-f", "1", "-l", "1", "-singlefile"]
    subprocess.run([*command, str(tmp_path / "board.pdf"), str(tmp_path / "page")], check=True)
    magic, size, most, ink = (tmp_path / "page.pgm").read_bytes().split(b"\n", 3)
    columns, rows = map(int, size.split())

    def dark(x: float, y: float) -> bool:
        return ink[round(y * 10) * columns + round(x * 10)] < 128

    assert (magic, most) == (b"P5", b"255")
    assert (columns, rows) == pytest.approx((2970, 2100), abs=2)
    left, top, across, down = solid_boxes(board_page(plan))[1]
    assert across == pytest.approx(plan.board.width / scale_of(plan), abs=0.01)
    edges = [(left, top + 2), (left + across, top + 2), (left + 2, top), (left + 2, top + down)]
    assert [dark(*edge) for edge in edges] == [True] * 4
    assert not dark(left + 2, top + 2)


@pytest.mark.parametrize("size", ["60x60", "300x150", "600x320", "1000x500", "3000x3000"])
def test_any_board_has_a_scale_that_a_ruler_knows(size: str) -> None:
    """The largest of the usual ones that A4 holds."""
    plan = replace(planned(), board=read_board(size), placed=(), leads=())

    page = board_page(plan)

    assert scale_of(plan) in SCALES or size == "3000x3000"
    _, (left, top, across, down), *_ = solid_boxes(page)
    assert left > 20
    assert top > 8
    assert left + across < 289
    assert top + down < 160
    assert any(text.startswith("scale 1 : ") for text in texts(page))


def test_each_unit_has_its_number_and_the_lists_say_all(needs: Callable[[str], None], tmp_path: Path) -> None:
    """On the drawing numbers alone, in the lists everything: in both files the same."""
    needs("poppler")
    plan = planned("hall board", "800x400")

    svg, paper = texts(board_svg(plan)), " ".join(printed(board_pdf(plan), tmp_path).split())

    assert {str(each.number) for each in plan.placed} <= set(texts(board_page(plan)))
    for row in (*parts_rows(plan), *cut_rows(plan)):
        assert set(row) <= set(svg)
        assert " ".join(row) in paper
    assert f"To cut: {cut_total(plan)}" in " ".join(svg)
    for remark in remarks(plan):
        assert remark in paper
        assert remark in " ".join(svg)


def test_the_running_dimensions_name_each_left_and_front_edge() -> None:
    """Whoever drills reads them off the edges."""
    plan = planned()

    said = set(texts(board_page(plan)))

    assert {str(each.x) for each in plan.placed if each.x} <= said
    assert {str(each.y) for each in plan.placed if each.y} <= said
    assert {"600", "320", "board 600 × 320 mm", "scale 1 : 4"} <= said


def test_the_parts_list_beside_the_board_names_every_unit_with_its_size() -> None:
    """On the drawing itself: nobody turns the page to learn what number 7 is."""
    plan = planned("hall board", "800x400")

    said = texts(board_page(plan))

    for each in plan.placed:
        assert each.unit in said
        assert f"{each.outline.width} × {each.outline.depth}" in said
    assert "under the frame: supply, ten outlets" in said


def test_the_title_says_rig_board_units_of_length_scale_sheet_and_day() -> None:
    """As on any drawing from a workshop."""
    said = set(texts(board_page(planned(), drawn=date(2026, 11, 25))))

    assert {"fly board", "board of the rig", "board 600 × 320 mm", "7 units and a supply; all lengths in mm"} <= said
    assert {"scale 1 : 4", "sheet 1: the board", "date 2026-11-25"} <= said


Area = tuple[float, float, float, float]


def text_areas(svg: str) -> list[tuple[str, Area]]:
    """Return where words stand, by the widths of the shipped face: left, top, right, bottom."""
    found = []
    for each in elements(svg, "text"):
        text, size = "".join(each.itertext()), float(each.attrib["font-size"])
        wide = width_of(text, "font-weight" in each.attrib) * size
        x, y = float(each.attrib["x"]), float(each.attrib["y"])
        before = {"start": 0.0, "middle": wide / 2, "end": wide}[each.attrib["text-anchor"]]
        area = (x - before, y - 0.73 * size, x - before + wide, y)
        if "transform" in each.attrib:
            area = (x - 0.73 * size, y - wide + before, x, y + before)
        found.append((text, area))
    return found


@lru_cache
def width_of(text: str, bold: bool) -> float:
    """Return how wide words are in the shipped face, in its own size."""
    with TTFont(FONTS / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")) as face:
        widths, letters = face["hmtx"], face.getBestCmap()
        return float(sum(widths[letters[ord(letter)]][0] for letter in text) / face["head"].unitsPerEm)


def overlap(one: Area, other: Area) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@lru_cache
def made_up(count: int, size: str) -> BoardPlan:
    return plan_board(rig_of(count), RIG, read_board(size), seconds=60, effort=0.3)


LEGIBLE = [(1, "300x200"), (3, "500x250"), (8, "900x300"), (8, "1200x600"), (12, "900x450"), (14, "1200x600")]


@pytest.mark.parametrize(("count", "size"), LEGIBLE)
def test_no_words_stand_on_other_words_or_on_a_footswitch(count: int, size: str) -> None:
    """From a small board with one unit to a large one with fourteen."""
    plan = made_up(count, size)
    page = board_page(plan)
    areas = text_areas(page)
    place = Place(plan)

    assert plan.fits
    assert [(a, b) for (a, one), (b, other) in combinations(areas, 2) if overlap(one, other)] == []
    centres = [(place.x(x), place.y(y)) for each in plan.placed for x, y in each.footswitches]
    assert [
        text for text, (left, top, right, foot) in areas if any(left < x < right and top < y < foot for x, y in centres)
    ] == []


@pytest.mark.parametrize(("count", "size"), LEGIBLE)
def test_each_number_stands_inside_its_own_outline(count: int, size: str) -> None:
    """Whichever unit it belongs to can be seen."""
    plan = made_up(count, size)
    place = Place(plan)
    rounds = [
        tuple(float(each.attrib[key]) for key in ("cx", "cy", "r"))
        for each in elements(board_page(plan), "circle")
        if each.attrib.get("fill") == "#fff"
    ][: len(plan.placed)]

    for each, (x, y, radius) in zip(plan.placed, rounds, strict=True):
        assert place.x(each.x) < x - radius
        assert x + radius < place.x(each.x + each.outline.width)
        assert place.y(each.y + each.outline.depth) < y - radius
        assert y + radius < place.y(each.y)


@pytest.mark.parametrize(("count", "size"), LEGIBLE)
def test_no_words_stand_on_a_dimension_line(count: int, size: str) -> None:
    """Extension lines, leaders and the two overall dimensions leave the numbers free."""
    plan = made_up(count, size)
    page = board_page(plan)
    place = Place(plan)
    left, low = place.x(0), place.y(0)
    lines = []
    for each in elements(page, "path"):
        numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", each.attrib["d"])]
        if len(numbers) == 4:
            x1, y1, x2, y2 = numbers
            lines.append((min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)))
    outside = [(text, area) for text, area in text_areas(page) if area[2] < left or low < area[1] < low + 24]

    assert len(outside) > 2
    assert [text for text, area in outside if any(overlap(area, each) for each in lines)] == []


def test_labels_at_an_edge_never_stand_on_each_other() -> None:
    """Twelve units have edges a mm apart."""
    plan = planned("hall board", "800x400")

    upright = [each for each in elements(board_page(plan), "text") if "transform" in each.attrib]
    at = sorted(float(each.attrib["x"]) for each in upright if each.attrib["text-anchor"] == "start")

    assert len(at) > 6
    assert min(b - a for a, b in pairwise(at)) > 3.2


def test_the_drawing_is_black_on_white_and_draws_no_leads() -> None:
    """It is a workshop drawing: no picture of a unit, nothing that a plain printer turns grey."""
    svg = board_svg(planned()).decode()

    assert set(re.findall(r"#[0-9a-f]{3,6}", svg)) == {"#000", "#fff"}
    assert {each.tag.removeprefix(SVG) for each in ElementTree.fromstring(svg).iter()} == {
        "svg", "rect", "circle", "path", "text"
    }  # fmt: skip


def test_the_same_plan_gives_the_same_bytes() -> None:
    """A file that has not changed needs no new print."""
    assert board_svg(planned()) == board_svg(planned())
    assert board_pdf(planned()) == board_pdf(planned())


def test_names_are_words_and_never_markup(needs: Callable[[str], None], tmp_path: Path) -> None:
    """And the longest name keeps to its column."""
    needs("poppler")
    plan = planned()
    odd, long = 'fuzz <b>&"#x', "a name of eighty letters, as long as the library takes it: " + "w" * 21
    placed = (plan.placed[0]._replace(unit=odd), plan.placed[1]._replace(unit=long), *plan.placed[2:])
    named = replace(plan, rig="#strong[rig] & <co>", placed=placed, leads=())

    assert {odd, long, "#strong[rig] & <co>"} <= set(texts(board_svg(named)))
    read = printed(board_pdf(named), tmp_path)
    assert odd in read
    assert "#strong[rig] & <co>" in read


def test_a_script_that_no_font_has_is_an_error_on_paper() -> None:
    """A box in place of a name would be found out on the workbench."""
    plan = replace(planned(), rig="板")

    with pytest.raises(OutputError, match="no font can draw"):
        board_pdf(plan)


def test_what_the_drawing_says_by_itself_is_in_the_shipped_fonts() -> None:
    """Multiplication signs and the rest of our own words."""
    check_drawable(texts(board_svg(planned())))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "fits on 600 × 320 mm"),
        ({"fits": None}, "neither fitted on 600 × 320 mm nor proved"),
        ({"fits": None, "larger": Board(700, 330)}, "700 × 330 mm would do (100 mm wider and 10 mm deeper)"),
        ({"fits": False, "fits_without_supply": True}, "With its supply under the frame or beside the board it would"),
        ({"fits": False}, "No larger board was found"),
        (
            {"fits": False, "larger": Board(610, 320)},
            "610 × 320 mm would do (10 mm wider), the least found in the time",
        ),
        (
            {"fits": False, "larger": Board(610, 320), "larger_is_least": True},
            "would do (10 mm wider), proved the least",
        ),
        ({"best": False, "stopped": True}, "fits on 600 × 320 mm; the arrangement is the best so far."),
        ({"fits": None, "stopped": True}, "until it was stopped 'fly board' was neither fitted on 600 × 320 mm nor"),
        ({"fits": False, "stopped": True}, "proved. Stopped early: no larger board is found yet."),
        (
            {"fits": False, "stopped": True, "larger": Board(610, 320)},
            "the least so far in steps of 10 mm. Stopped early: a smaller one may do.",
        ),
    ],
)
def test_the_verdict_says_what_is_proved_and_what_is_not(changed: dict[str, Any], said: str) -> None:
    """A board is bought on it."""
    assert said in verdict(replace(planned(), **changed))


def test_a_search_that_was_stopped_is_told_on_the_drawing_and_below_the_lists(
    needs: Callable[[str], None], tmp_path: Path
) -> None:
    """The paper outlives the terminal, and leads are cut by it."""
    needs("poppler")
    plan = replace(planned(), best=False, stopped=True)

    note = "stopped early: best arrangement so far"
    assert note in texts(board_page(plan))
    areas = text_areas(board_page(plan))
    assert [(a, b) for (a, one), (b, other) in combinations(areas, 2) if overlap(one, other)] == []
    assert remarks(plan)[0] == STOPPED
    first, rest = (printed(board_pdf(plan), tmp_path, *pages) for pages in (("-l", "1"), ("-f", "2")))
    assert note in first
    assert STOPPED in rest
    assert not [text for text in texts(board_svg(planned())) if "stopped" in text.lower()]


def test_who_is_missing_is_named_with_the_reason() -> None:
    """On the drawing's own page as well."""
    plan = replace(planned(), no_size=("looper",), no_jacks=("fuzz",), beside=("wah",), no_lead=("drone",))

    assert remarks(plan)[:4] == [
        "Size not known, so not on the board and not counted: looper.",
        "Jacks not known, so no room for plugs is counted: fuzz.",
        "Beside the board: wah.",
        "On the board, but no signal lead of the rig is known: drone.",
    ]
