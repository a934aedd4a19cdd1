"""How each role looks: one calm palette, readable without color.

Entries are sand with a border, results white, order figures bold; a header is dark with
light words.  Every pair of colors has a contrast of at least 4.5 to 1.
"""

from __future__ import annotations

from typing import Any

INK = "#22303A"
QUIET = "#52616B"
SLATE = "#34495A"
SAND = "#FBF1D9"
SAND_LINE = "#B79B5E"
MIST = "#EDF1F3"
LINE = "#C5CED3"
STOP = "#8E2A1E"
LOOK = "#7A5200"
FINE = "#2D5A3D"
PAPER = "#FFFFFF"

_BASE: dict[str, Any] = {
    "font_name": "Calibri",
    "font_size": 10,
    "font_color": INK,
    "valign": "vcenter",
    "locked": True,
}

ROLES: dict[str, dict[str, Any]] = {
    "title": {"font_size": 18, "bold": True, "font_color": SLATE},
    "intro": {"font_color": QUIET, "italic": True},
    "status": {"bold": True, "font_color": SLATE},
    "heading": {"font_size": 13, "bold": True, "font_color": SLATE},
    "note": {"font_color": QUIET, "font_size": 9},
    "words": {},
    "header": {"bold": True, "font_color": PAPER, "bg_color": SLATE, "text_wrap": True,
               "valign": "vcenter", "align": "center", "border": 1, "border_color": LINE},
    "caption": {"bold": True, "font_size": 8.5, "bg_color": MIST, "text_wrap": True,
                "align": "center", "border": 1, "border_color": LINE},
    "line": {"font_color": QUIET, "align": "center", "border": 1, "border_color": LINE},
    "label": {"bottom": 4, "bottom_color": LINE},
    "said": {"border": 1, "border_color": LINE},
    "unit": {"font_color": QUIET, "font_size": 9, "indent": 1},
    "entry": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "locked": False},
    "clause": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "locked": False,
               "text_wrap": True, "valign": "top"},
    "paragraph": {"text_wrap": True, "valign": "top"},
    "step": {"text_wrap": True, "valign": "top"},
    "passage": {"text_wrap": True, "valign": "top", "font_size": 9, "indent": 1},
    "signing": {"valign": "top", "font_size": 9, "bottom": 1, "bottom_color": QUIET},
    "item": {"font_size": 9, "align": "left"},
    "plain": {"align": "left"},
    "sum": {"bold": True, "font_size": 14},
    "yours": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "locked": False,
              "italic": True},
    "result": {"border": 1, "border_color": LINE},
    "order": {"border": 1, "border_color": LINE, "bold": True, "bg_color": MIST},
    "mark": {"border": 1, "border_color": LINE, "bold": True},
    "figure": {"border": 1, "border_color": LINE, "bold": True, "font_size": 12,
               "align": "center", "shrink": True},
    "told": {"bold": True, "align": "left", "bottom": 4, "bottom_color": LINE},
    "double": {"border": 1, "border_color": LINE, "text_wrap": True, "font_size": 9},
    "large": {"border": 1, "border_color": LINE, "bold": True, "font_size": 14,
              "align": "center", "shrink": True},
    "headline": {"border": 1, "border_color": LINE, "bold": True, "font_size": 12,
                 "align": "left"},
    "says": {"font_color": QUIET, "border": 1, "border_color": LINE},
    "state": {"border": 1, "border_color": LINE, "bold": True, "align": "center"},
    "wrap": {"text_wrap": True, "border": 1, "border_color": LINE},
    "fixed": {"border": 1, "border_color": LINE, "font_color": QUIET, "align": "center"},
    "effect": {"font_color": QUIET, "border": 1, "border_color": LINE, "align": "right",
               "indent": 1},
    "code": {"border": 1, "border_color": LINE, "font_color": QUIET, "font_size": 9},
    "constant": {"border": 1, "border_color": LINE, "bg_color": MIST},
    "linked": {"font_color": "#1F4E79", "underline": 1},
    "link": {"font_color": "#1F4E79", "underline": 1, "border": 1, "border_color": LINE},
}  # fmt: skip

TEXT = "@"
"""The number format of words."""

TONES = {"dark": SLATE, "mid": "#8496A1", "pale": LINE}
"""Lines of a drawing, told apart in grayscale too."""

TABS = ("#1F3A5F", "#3F6F8F", "#7FA8A0", "#8A6A1F", "#B79B5E", "#9A5A48", "#5B6B73")
"""Colors of tabs, one for each group of sheets."""

STATES = {"fine": FINE, "look": LOOK, "stop": STOP}
"""The tint of a state where its word is shown; the word alone is enough."""


def seen(role: str) -> bool:
    """Tell whether an empty cell of a role can be seen, or typed in."""
    return bool({"border", "bottom", "bg_color", "locked"} & ROLES[role].keys())


def properties(role: str, number_format: str, letters: float) -> dict[str, Any]:
    """Return the properties of one role with a number format, for the writer.

    ``letters`` is the usual size of the sheet's letters in points.
    """
    look = {**_BASE, **ROLES[role]}
    look["font_size"] = look["font_size"] * letters / _BASE["font_size"]
    if number_format != "General":
        look["num_format"] = number_format
    if number_format == TEXT:
        look["indent"] = 1  # words keep off the figure in the cell before
    return look
