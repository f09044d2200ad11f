"""The workshop drawing of a board: to scale, complete, black on white, and the same on every run."""

import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from scenebook.errors import OutputError
from scenebook.planning.board import BoardPlan, plan_board, read_board
from scenebook.planning.packing import Board
from scenebook.sheets.board_words import cut_rows, cut_total, parts_rows, remarks, verdict
from scenebook.sheets.drawing import SCALES, board_page, board_svg, scale_of
from scenebook.sheets.drawing_pdf import board_pdf
from scenebook.sheets.faces import check_drawable
from tests.demo_library.reading import demo_library

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
    assert {"600", "320", "board 600 × 320 mm", "scale 1 : 3"} <= said


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
        ({"fits": False}, "No larger board was found"),
        ({"fits": False, "larger": Board(610, 320)}, "610 × 320 mm would do, the least found in the time"),
        ({"fits": False, "larger": Board(610, 320), "larger_is_least": True}, "would do, proved the least"),
    ],
)
def test_the_verdict_says_what_is_proved_and_what_is_not(changed: dict[str, Any], said: str) -> None:
    """A board is bought on it."""
    assert said in verdict(replace(planned(), **changed))


def test_who_is_missing_is_named_with_the_reason() -> None:
    """On the drawing's own page as well."""
    plan = replace(planned(), no_size=("looper",), no_jacks=("fuzz",), beside=("wah",), no_lead=("drone",))

    assert remarks(plan)[:4] == [
        "Size not known, so not on the board and not counted: looper.",
        "Jacks not known, so no room for plugs is counted: fuzz.",
        "Beside the board: wah.",
        "On the board, but no lead of the rig is known: drone.",
    ]
