"""The plot of reach against one limit: SVG text of our own, and the same as PNG."""

from collections.abc import Iterator, Sequence
from html import escape

from scenebook.model.amounts import share_words
from scenebook.planning.curve import Band, Curve
from scenebook.planning.limits import LIMITS, Limit

__all__ = ["curve_png", "curve_svg"]

_WIDE, _HIGH = 640, 432
_LEFT, _RIGHT, _TOP, _BOTTOM = 64, 24, 72, 56
_LINE, _LETTER = 13, 6.1  # high and wide, at most, of the small size in which the plot speaks inside a band
_INK, _FAINT, _SHADE = "#222", "#bbb", "#e4e4e4"
_DOTS_AN_INCH = 144.0
_BEYOND = 1.08  # so much further than the last step, to show that the line goes on

_NO_LENGTH = 1.0  # of the axis, where the only step is at 0

_PAGE = b"""#set page(width: auto, height: auto, margin: 0pt)
#set text(font: "DejaVu Sans")
#image(bytes(sys.inputs.drawing), format: "svg")
"""


def curve_svg(curve: Curve) -> bytes:
    """Return a plot of a curve's steps: what is carried across, the share reached upward.

    A filled point is proved best; a hollow one has a stroke up to what is still possible. A line stands only where the
    reach is proved; where nobody looked between two steps there is a band from the lower to the higher. The line breaks
    off where the limit that was given ends it, and goes on where more gives nothing.
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
    name, last, bands = escape(curve.limit.name), curve.points[-1], list(curve.bands)
    most = last.most * _BEYOND or _NO_LENGTH
    where = "at each point" if bands else "at each limit"
    yield f'<text x="{_LEFT}" y="24" font-size="14">Reach against {name}: the best rig {where}</text>'
    if bands:
        yield f'<text x="{_LEFT}" y="43">shaded: not known; at least its lower edge, at most its upper</text>'
    yield from (_shade(band, most, last.whole) for band in bands)
    yield from _frame(curve.limit, most)
    yield from _in_words(bands, most, last.whole)
    yield from _steps(curve, bands, most)
    for point in curve.points:
        x, y = _across(point.most, most), _up(point.worth, point.whole)
        if not point.proved:
            yield f'<path d="M{x} {y}V{_up(point.bound, point.whole)}" stroke="{_INK}"/>'
        fill = _INK if point.proved else "white"
        yield f'<circle cx="{x}" cy="{y}" r="4" fill="{fill}" stroke="{_INK}"/>'
    words = f"{share_words(last.worth, last.whole)} at {_end_words(curve)}"  # above the frame, where no line comes
    yield f'<text x="{_WIDE - _RIGHT}" y="{_TOP - 9}" text-anchor="end">{words}</text>'


def _shade(band: Band, most: float, whole: float) -> str:
    """Return a band, open to both sides: its upper and lower edge are dashed."""
    left, right, top, base = _corners(band, most, whole)
    inside = f'<rect x="{left}" y="{top}" width="{round(right - left, 1)}" height="{round(base - top, 1)}"'
    edges = f'<path d="M{left} {top}H{right}M{left} {base}H{right}" stroke="{_INK}" stroke-dasharray="3 3"/>'
    return f'{inside} fill="{_SHADE}"/>{edges}'


def _in_words(bands: Sequence[Band], most: float, whole: float) -> Iterator[str]:
    """Yield what is said inside the largest band that has room for it."""
    corners = [_corners(band, most, whole) for band in bands]
    said = "not known"
    room = [each for each in corners if each[1] - each[0] > len(said) * _LETTER + 8 and each[3] - each[2] > _LINE]
    if room:
        left, right, top, base = max(room, key=lambda each: (each[1] - each[0]) * (each[3] - each[2]))
        x, y = round((left + right) / 2, 1), round((top + base) / 2 + 3.5, 1)
        yield f'<text x="{x}" y="{y}" font-size="10" text-anchor="middle">{said}</text>'


def _corners(band: Band, most: float, whole: float) -> tuple[float, float, float, float]:
    """Return left, right, top and base of a band."""
    return _across(band.start, most), _across(band.end, most), _up(band.high, whole), _up(band.low, whole)


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


def _steps(curve: Curve, bands: Sequence[Band], most: float) -> Iterator[str]:
    """Yield the line where the reach is known: on from each step as far as it is proved, and up where the next is."""
    breaks = {band.end: band.start for band in bands}
    first = curve.points[0]
    line = f"M{_across(first.most, most)} {_up(first.worth, first.whole)}"
    for point in curve.points[1:]:
        x, y = _across(point.most, most), _up(point.worth, point.whole)
        start = breaks.get(point.most)
        line += f"H{x}V{y}" if start is None else f"H{_across(start, most)}M{x} {y}"
    line += f"H{_WIDE - _RIGHT}" if curve.ends else f"H{_across(max(curve.points[-1].most, *curve.flat[-1:]), most)}"
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
