"""Draw the logo of the demo's invented company: ``python tests/draw_logo.py``."""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

CLAY, SLATE = "#8A4B2A", "#34495A"
LARGE = 4  # drawn so many times larger than it is kept, which makes its edges smooth


def drawn() -> Image.Image:
    """Return bands with a panel left open between them, and the name beside."""
    image = Image.new("RGB", (340 * LARGE, 104 * LARGE), "white")
    pen = ImageDraw.Draw(image)
    for number in range(3):
        inset = number * 17
        box = [LARGE * side for side in (2 + inset, 2 + inset, 102 - inset, 102 - inset)]
        pen.rectangle(box, outline=(CLAY, SLATE, CLAY)[number], width=9 * LARGE)
    for words, top, size, color in (("TOLLIVER", 10, 46, CLAY), ("FLATWORK", 62, 34, SLATE)):
        pen.text((118 * LARGE, top * LARGE), words, color, ImageFont.load_default(size * LARGE))
    small = image.resize((340, 104), Image.Resampling.LANCZOS)
    return small.quantize(32)


if __name__ == "__main__":
    drawn().save(Path(__file__).parents[1] / "templates" / "company" / "demo.png", optimize=True)
