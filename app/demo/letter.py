"""A made-up letter as a scanner would give it: dark words on white paper."""

import io
from collections.abc import Sequence

from PIL import Image, ImageDraw, ImageFont

PAGE = (620, 877)  # A4 at 75 dots an inch


def letter_picture(lines: Sequence[str]) -> bytes:
    """The lines of a letter as a PNG."""
    page = Image.new("L", PAGE, 250)
    pen, font = ImageDraw.Draw(page), ImageFont.load_default(18)
    for number, line in enumerate(lines):
        pen.text((60, 90 + 44 * number), line, fill=30, font=font)
    out = io.BytesIO()
    page.save(out, "PNG")
    return out.getvalue()
