"""Addresses as QR codes in SVG, dark on light in either theme."""

import io

import segno
from markupsafe import Markup

QUIET_ZONE = 4
"""Free modules around a code that is printed, as ISO/IEC 18004 asks (from memory)."""


def qr_code(address: str, title: str, border: int = QUIET_ZONE) -> Markup:
    """The address as a QR code; the title is read out in its place."""
    written = io.BytesIO()
    segno.make_qr(address, error="m").save(
        written, kind="svg", xmldecl=False, svgns=True, border=border, omitsize=True, title=title
    )
    return Markup(written.getvalue().decode())  # noqa: S704 - made by segno of our own address
