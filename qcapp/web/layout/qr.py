"""An address as a picture that a phone's camera reads."""

import segno


def draw_code(address: str) -> str:
    """SVG of a QR code."""
    code = segno.make(address, error="m")
    return code.svg_inline(scale=5, dark="#201a15", light="#fffaf0", border=2)
