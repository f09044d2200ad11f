"""Strokes of a technical drawing as SVG, in mm on paper: lines, boxes, words, dimensions. Black on white."""

from xml.sax.saxutils import escape

__all__ = ["FACE", "arrow", "box", "circle", "line", "page", "words"]

FACE = "DejaVu Sans"


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def line(x1: float, y1: float, x2: float, y2: float, *, width: float = 0.18, dash: str = "") -> str:
    """Return a line; `dash` gives the lengths of its strokes and gaps."""
    x1_, y1_, x2_, y2_ = (_number(each) for each in (x1, y1, x2, y2))
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="M{x1_} {y1_}L{x2_} {y2_}" stroke-width="{width}"{dashed}/>'


def box(x: float, y: float, across: float, down: float, *, width: float = 0.35, dash: str = "") -> str:
    """Return an empty box by its upper left corner."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    at = f'x="{_number(x)}" y="{_number(y)}" width="{_number(across)}" height="{_number(down)}"'
    return f'<rect {at} stroke-width="{width}"{dashed}/>'


def circle(x: float, y: float, radius: float, *, width: float = 0.25, white: bool = False) -> str:
    """Return a circle, which covers what is below it if it is white."""
    fill = ' fill="#fff"' if white else ""
    return f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}" stroke-width="{width}"{fill}/>'


def arrow(x: float, y: float, dx: float, dy: float) -> str:
    """Return a dimension line's filled head, its tip at a point, that points along (dx, dy): 2.5 mm, 15 degrees."""
    back, half = 2.5, 0.33
    a, b = x - dx * back, y - dy * back
    points = ((x, y), (a - dy * half, b + dx * half), (a + dy * half, b - dx * half))
    path = "L".join(f"{_number(px)} {_number(py)}" for px, py in points)
    return f'<path d="M{path}Z" fill="#000" stroke="none"/>'


def words(
    x: float,
    y: float,
    text: str,
    *,
    size: float = 2.8,
    anchor: str = "start",
    bold: bool = False,
    upright: bool = False,
    room: float | None = None,
) -> str:
    """Return words on their base line; `upright` reads from the right; what is wider than its room is set smaller."""
    if room is not None:  # a letter of this face is 0.62 of its size wide, on the safe side
        size = min(size, room / (0.62 * max(len(text), 1)))
    weight = ' font-weight="bold"' if bold else ""
    turned = f' transform="rotate(-90 {_number(x)} {_number(y)})"' if upright else ""
    style = f'font-size="{_number(size)}" text-anchor="{anchor}"{weight}{turned}'
    return f'<text x="{_number(x)}" y="{_number(y)}" {style} fill="#000" stroke="none">{escape(text)}</text>'


def page(across: float, down: float, strokes: list[str]) -> str:
    """Return a page of so many mm that holds the strokes."""
    size = f'width="{_number(across)}mm" height="{_number(down)}mm" viewBox="0 0 {_number(across)} {_number(down)}"'
    body = "\n".join(strokes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} fill="none" stroke="#000" font-family="{FACE}, sans-serif">\n'
        f'<rect width="100%" height="100%" fill="#fff" stroke="none"/>\n{body}\n</svg>\n'
    )
