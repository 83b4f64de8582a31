"""The page's own small picture: a drop over a board, drawn here so that no file or host is needed."""

from __future__ import annotations

from PIL import Image, ImageDraw


def page_icon() -> Image.Image:
    """Draw the icon, 64 × 64 pixels."""
    picture = Image.new("RGBA", (64, 64), (0, 0, 0, 0))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((4, 50, 60, 58), fill="#16606B")
    pen.polygon(((32, 4), (18, 28), (46, 28)), fill="#1D5D9B")
    pen.ellipse((16, 18, 48, 46), fill="#1D5D9B")
    return picture
