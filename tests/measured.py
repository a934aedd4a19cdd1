"""How much room words take in the letters of a workbook: Carlito's are as wide as Calibri's."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from PIL import ImageFont

FONTS = Path("/usr/share/fonts/truetype/crosextra")
"""Where Carlito stands; package fonts-crosextra-carlito."""
LINE = 1.22  # of a letter's size: how tall a line is


@cache
def _letters(bold: bool, size: float) -> ImageFont.FreeTypeFont:
    path = FONTS / ("Carlito-Bold.ttf" if bold else "Carlito-Regular.ttf")
    if not path.exists():
        pytest.skip("Carlito is not installed here; on Debian: fonts-crosextra-carlito")
    return ImageFont.truetype(str(path), round(size * 40))


@cache
def wide(text: str, bold: bool, size: float) -> float:
    """Return the pixels a text takes in letters of so many points."""
    return _letters(bold, size).getlength(text) / 40 / 0.75


def lines_of(text: str, bold: bool, size: float, room: float) -> int:
    """Return how many lines a text takes in so many pixels, broken at its words."""
    lines = 0
    for paragraph in text.split("\n"):
        line, lines = "", lines + 1
        for word in paragraph.split(" "):
            longer = f"{line} {word}".strip()
            if line and wide(longer, bold, size) > room:
                lines, longer = lines + 1, word
            line = longer
    return lines
