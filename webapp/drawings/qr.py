"""A link as a square that a phone's camera reads."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import segno

QUIET_ZONE = 4


def qr_svg(link: str) -> str:
    """An <svg> element (no script, no style), dark on light whatever the page's colours are."""
    drawn: str = _code(link).svg_inline(
        border=QUIET_ZONE, dark="#000", light="#fff", omitsize=True, svgclass="qr", lineclass=None
    )
    return drawn


def qr_text(link: str) -> str:
    """The same for a terminal, dark on light."""
    out = io.StringIO()
    _code(link).terminal(out, border=QUIET_ZONE, compact=True)
    return out.getvalue()


def _code(link: str) -> segno.QRCode:
    """Level M: a tenth and more of it may be hidden by a scratch or a reflection."""
    import segno

    return segno.make_qr(link, error="m")
