"""The plot of reach against one limit: SVG text of our own, and the same as PNG."""

from collections.abc import Iterator, Sequence
from html import escape

from scenebook.planning.limits import LIMITS, Limit
from scenebook.planning.picking import CurvePoint

__all__ = ["curve_png", "curve_svg"]

_WIDE, _HIGH = 640, 400
_LEFT, _RIGHT, _TOP, _BOTTOM = 64, 24, 40, 56
_INK, _FAINT = "#222", "#bbb"
_DOTS_AN_INCH = 144.0

_PAGE = b"""#set page(width: auto, height: auto, margin: 0pt)
#set text(font: "DejaVu Sans")
#image(bytes(sys.inputs.drawing), format: "svg")
"""


def curve_svg(limit: Limit, points: Sequence[CurvePoint]) -> bytes:
    """Return a plot of points in the order of their limit: what is carried across, the share reached upward.

    A filled point is proved best; a hollow one has a stroke up to what is still possible.
    """
    body = "\n".join(_drawn(limit, points))
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE}" height="{_HIGH}" viewBox="0 0 {_WIDE} {_HIGH}"'
    style = f'font-family="DejaVu Sans, sans-serif" font-size="12" fill="{_INK}"'
    return f'{head} {style}>\n<rect width="{_WIDE}" height="{_HIGH}" fill="white"/>\n{body}\n</svg>\n'.encode()


def curve_png(limit: Limit, points: Sequence[CurvePoint]) -> bytes:
    """Return the same plot as PNG, white behind."""
    import typst  # late: most commands never set a page

    from scenebook.sheets.faces import FONTS

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONTS])
    drawing = curve_svg(limit, points).decode()
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


def _drawn(limit: Limit, points: Sequence[CurvePoint]) -> Iterator[str]:
    most = max((point.most for point in points), default=1.0) or 1.0

    def x(value: float) -> float:
        return round(_LEFT + (_WIDE - _LEFT - _RIGHT) * value / most, 1)

    def y(share: float) -> float:
        return round(_HIGH - _BOTTOM - (_HIGH - _TOP - _BOTTOM) * share, 1)

    name = escape(limit.name)
    yield f'<text x="{_LEFT}" y="24" font-size="14">Reach against {name}: the best rig at each limit</text>'
    for percent in range(0, 101, 20):
        height = y(percent / 100)
        yield f'<path d="M{_LEFT} {height}H{_WIDE - _RIGHT}" stroke="{_FAINT}" stroke-width="0.5"/>'
        yield f'<text x="{_LEFT - 8}" y="{height + 4}" text-anchor="end">{percent} %</text>'
    for value in _marks(limit, most):
        words = escape(limit.words(value))
        yield f'<path d="M{x(value)} {y(0)}v6" stroke="{_INK}"/>'
        yield f'<text x="{x(value)}" y="{y(0) + 22}" text-anchor="middle">{words}</text>'
    yield f'<path d="M{_LEFT} {_TOP}V{y(0)}H{_WIDE - _RIGHT}" fill="none" stroke="{_INK}"/>'
    middle = (_LEFT + _WIDE - _RIGHT) / 2
    yield f'<text x="{middle}" y="{_HIGH - 12}" text-anchor="middle">{name}, at most</text>'
    shares = [point.worth / point.whole if point.whole else 1.0 for point in points]
    if points:
        steps = "".join(f"H{x(point.most)}V{y(share)}" for point, share in zip(points, shares, strict=True))
        line = f"M{x(points[0].most)} {y(shares[0])}{steps}H{_WIDE - _RIGHT}"
        yield f'<path d="{line}" fill="none" stroke="{_INK}" stroke-width="1.5"/>'
    for point, share in zip(points, shares, strict=True):
        if not point.proved and point.whole:
            yield f'<path d="M{x(point.most)} {y(share)}V{y(min(1.0, point.bound / point.whole))}" stroke="{_INK}"/>'
        fill = _INK if point.proved else "white"
        yield f'<circle cx="{x(point.most)}" cy="{y(share)}" r="4" fill="{fill}" stroke="{_INK}"/>'


def _marks(limit: Limit, most: float) -> list[float]:
    """Return four to ten round values along the limit, in the measure that it is told in."""
    kind = LIMITS[limit.name]
    factor = kind.writings.get(kind.shown.lower(), 1.0)
    step = 10.0 ** len(str(int(most / factor))) / 10
    for part in (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1):
        if most / factor / (step * part) >= 4:
            step *= part
            break
    step = max(step, 1.0) if limit.name == "units" else step
    return [number * step * factor for number in range(int(most / factor / step + 1e-9) + 1)]
