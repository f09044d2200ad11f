"""The plot of reach against one limit: SVG text of our own, and the same as PNG."""

from collections.abc import Iterator
from html import escape

from scenebook.model.amounts import share_words
from scenebook.planning.curve import Curve
from scenebook.planning.limits import LIMITS, Limit

__all__ = ["curve_png", "curve_svg"]

_WIDE, _HIGH = 640, 400
_LEFT, _RIGHT, _TOP, _BOTTOM = 64, 24, 40, 56
_LETTER = 7.3  # wide, at most, of the size in which the plot speaks
_INK, _FAINT = "#222", "#bbb"
_DOTS_AN_INCH = 144.0
_BEYOND = 1.08  # so much further than the last step, to show that the line goes on

_NO_LENGTH = 1.0  # of the axis, where the only step is at 0

_PAGE = b"""#set page(width: auto, height: auto, margin: 0pt)
#set text(font: "DejaVu Sans")
#image(bytes(sys.inputs.drawing), format: "svg")
"""


def curve_svg(curve: Curve) -> bytes:
    """Return a plot of a curve's steps: what is carried across, the share reached upward.

    A filled point is proved best; a hollow one has a stroke up to what is still possible. The line breaks off where the
    limit that was given ends it, and goes on where more gives nothing.
    """
    body = "\n".join(_drawn(curve))
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE}" height="{_HIGH}" viewBox="0 0 {_WIDE} {_HIGH}"'
    style = f'font-family="DejaVu Sans, sans-serif" font-size="12" fill="{_INK}"'
    return f'{head} {style}>\n<rect width="{_WIDE}" height="{_HIGH}" fill="white"/>\n{body}\n</svg>\n'.encode()


def curve_png(curve: Curve) -> bytes:
    """Return the same plot as PNG, white behind."""
    import typst  # late: most commands never set a page

    from scenebook.sheets.faces import FONTS

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONTS])
    drawing = curve_svg(curve).decode()
    found = typst.compile(
        _PAGE,
        format="png",
        ppi=_DOTS_AN_INCH,
        font_paths=fonts,
        ignore_system_fonts=True,
        sys_inputs={"drawing": drawing},
    )
    assert isinstance(found, bytes), "one page is one picture"
    return found


def _drawn(curve: Curve) -> Iterator[str]:
    name, last = escape(curve.limit.name), curve.points[-1]
    most = last.most * _BEYOND or _NO_LENGTH
    yield f'<text x="{_LEFT}" y="24" font-size="14">Reach against {name}: the best rig at each limit</text>'
    yield from _frame(curve.limit, most)
    yield from _steps(curve, most)
    for point in curve.points:
        x, y = _across(point.most, most), _up(point.worth, point.whole)
        if not point.proved:
            yield f'<path d="M{x} {y}V{_up(point.bound, point.whole)}" stroke="{_INK}"/>'
        fill = _INK if point.proved else "white"
        yield f'<circle cx="{x}" cy="{y}" r="4" fill="{fill}" stroke="{_INK}"/>'
    words = f"{share_words(last.worth, last.whole)} at {_end_words(curve)}"
    yield _label(words, _across(last.most, most), _up(last.worth, last.whole))


def _label(words: str, x: float, y: float) -> str:
    """Return what is said of the last point: above it, or below it where the title is; never over the left edge."""
    below = y - 22 < _TOP
    wide = len(words) * _LETTER
    ends = x - 8 if below else x
    if ends - wide < _LEFT + 8:
        return f'<text x="{max(x, _LEFT) + 10}" y="{y + 22 if below else y - 10}">{words}</text>'
    return f'<text x="{ends}" y="{y + 22 if below else y - 10}" text-anchor="end">{words}</text>'


def _frame(limit: Limit, most: float) -> Iterator[str]:
    for percent in range(0, 101, 20):
        height = _up(percent, 100)
        yield f'<path d="M{_LEFT} {height}H{_WIDE - _RIGHT}" stroke="{_FAINT}" stroke-width="0.5"/>'
        yield f'<text x="{_LEFT - 8}" y="{height + 4}" text-anchor="end">{percent} %</text>'
    base = _up(0, 1)
    for value in _marks(limit, most):
        x = _across(value, most)
        words = escape(limit.figure(value))
        yield f'<path d="M{x} {base}v6" stroke="{_INK}"/>'
        yield f'<text x="{x}" y="{base + 22}" text-anchor="middle">{words}</text>'
    yield f'<path d="M{_LEFT} {_TOP}V{base}H{_WIDE - _RIGHT}" fill="none" stroke="{_INK}"/>'
    measure = LIMITS[limit.name].shown
    title = escape(f"{limit.name} at most{f', {measure}' if measure else ''}")
    yield f'<text x="{(_LEFT + _WIDE - _RIGHT) / 2}" y="{_HIGH - 12}" text-anchor="middle">{title}</text>'


def _steps(curve: Curve, most: float) -> Iterator[str]:
    """Yield the line from step to step: between two of them the reach is at least that of the lower."""
    first = curve.points[0]
    line = f"M{_across(first.most, most)} {_up(first.worth, first.whole)}"
    for point in curve.points[1:]:
        line += f"H{_across(point.most, most)}V{_up(point.worth, point.whole)}"
    line += f"H{_WIDE - _RIGHT}" if curve.ends else ""
    yield f'<path d="{line}" fill="none" stroke="{_INK}" stroke-width="1.5"/>'


def _end_words(curve: Curve) -> str:
    """Return where a curve ends, as it is written into the plot."""
    return escape(curve.limit.words(curve.points[-1].most)) + (", more gives nothing" if curve.ends else "")


def _across(value: float, most: float) -> float:
    return round(_LEFT + (_WIDE - _LEFT - _RIGHT) * value / most, 1)


def _up(part: float, whole: float) -> float:
    share = min(1.0, part / whole) if whole else 1.0
    return round(_HIGH - _BOTTOM - (_HIGH - _TOP - _BOTTOM) * share, 1)


def _marks(limit: Limit, most: float) -> list[float]:
    """Return four to ten round values along the limit, in the measure that it is told in; 0 alone if all is at 0."""
    if most == _NO_LENGTH:
        return [0.0]
    kind = LIMITS[limit.name]
    factor = kind.writings.get(kind.shown.lower(), 1.0)
    step = 10.0 ** len(str(int(most / factor))) / 10
    for part in (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1):
        if most / factor / (step * part) >= 4:
            step *= part
            break
    step = max(step, 1.0) if limit.name == "units" else step
    return [number * step * factor for number in range(int(most / factor / step + 1e-9) + 1)]
