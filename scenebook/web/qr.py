"""QR codes of addresses (ISO/IEC 18004), made by segno: for a page, and for the terminal."""

import io

import segno

__all__ = ["qr_svg", "qr_text"]


def qr_svg(address: str) -> str:
    """Return an SVG element, dark on light with the quiet zone of four modules that the standard asks for."""
    return segno.make_qr(address, error="m").svg_inline(
        border=4, scale=4, dark="#000", light="#fff", omitsize=True, svgclass="qr", lineclass=None
    )


def qr_text(address: str) -> str:
    """Return a code for a terminal, in half blocks, two modules high."""
    out = io.StringIO()
    segno.make_qr(address, error="m").terminal(out=out, border=2, compact=True)
    return out.getvalue()
