"""How each role looks: one calm palette, readable without color.

Entries are sand with a full border that is seen without color; results stand on a hair line,
order figures are bold; a header is pale with a rule under it.  Words have a contrast of at
least 4.5 to 1, and what tells an entry from a result one of 3 to 1.
"""

from __future__ import annotations

from typing import Any

INK = "#22303A"
QUIET = "#52616B"
SLATE = "#34495A"
SAND = "#FBF1D9"
SAND_LINE = "#92793F"
MIST = "#EDF1F3"
LINE = "#C5CED3"
STOP = "#8E2A1E"
LOOK = "#7A5200"
FINE = "#2D5A3D"
LINKED = "#1F4E79"
PAPER = "#FFFFFF"

_BASE: dict[str, Any] = {
    "font_name": "Calibri",
    "font_size": 10,
    "font_color": INK,
    "valign": "vcenter",
    "locked": True,
}

_HAIR = {"bottom": 7, "bottom_color": LINE}
"""What a result stands on: the lines of a table can be followed, and empty ones are quiet."""

ROLES: dict[str, dict[str, Any]] = {
    "way": {"font_color": LINKED, "font_size": 9, "underline": 1},
    "title": {"font_size": 16, "bold": True, "font_color": SLATE},
    "intro": {"font_color": QUIET, "italic": True},
    "status": {"bold": True, "font_color": SLATE},
    "heading": {"font_size": 13, "bold": True, "font_color": SLATE},
    "note": {"font_color": QUIET, "font_size": 9},
    "words": {},
    "header": {"bold": True, "font_size": 9, "font_color": SLATE, "bg_color": MIST,
               "text_wrap": True, "valign": "bottom", "align": "center", "bottom": 2,
               "bottom_color": SLATE, "left": 7, "left_color": LINE},
    "over": {"bold": True, "font_size": 9, "font_color": SLATE, "bottom": 1,
             "bottom_color": QUIET},
    "caption": {"bold": True, "font_size": 8.5, "bg_color": MIST, "text_wrap": True,
                "align": "center", "bottom": 1, "bottom_color": SLATE},
    "line": {"font_color": QUIET, "align": "center", **_HAIR},
    "label": {"bottom": 4, "bottom_color": LINE},
    "said": {**_HAIR},
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
    "result": {**_HAIR},
    "order": {**_HAIR, "bold": True, "bg_color": MIST},
    "mark": {**_HAIR, "bold": True},
    "figure": {**_HAIR, "bold": True, "font_size": 12,
               "align": "center", "shrink": True},
    "told": {"bold": True, "align": "left", "bottom": 4, "bottom_color": LINE},
    "double": {**_HAIR, "text_wrap": True, "font_size": 9},
    "large": {**_HAIR, "bold": True, "font_size": 14,
              "align": "center", "shrink": True},
    "headline": {**_HAIR, "bold": True, "font_size": 12,
                 "align": "left"},
    "says": {"font_color": QUIET, **_HAIR},
    "state": {**_HAIR, "bold": True, "align": "center"},
    "wrap": {"text_wrap": True, **_HAIR},
    "fixed": {**_HAIR, "font_color": QUIET, "align": "center"},
    "effect": {"font_color": QUIET, **_HAIR, "align": "right",
               "indent": 1},
    "code": {**_HAIR, "font_color": QUIET, "font_size": 9},
    "constant": {**_HAIR, "bg_color": MIST},
    "linked": {"font_color": LINKED, "underline": 1},
    "link": {"font_color": LINKED, "underline": 1, **_HAIR},
}  # fmt: skip

TEXT = "@"
"""The number format of words."""

TONES = {"dark": SLATE, "mid": "#8496A1", "pale": LINE}
"""Lines of a drawing, told apart in grayscale too."""

TABS = ("#DDE3E7", "#1F3A5F", "#8FB3C9", "#2F6F4F", "#D9B44A", "#8A3B2E", "#C9C2B0", "#5B6B73")
"""Colors of tabs, one for each group of sheets; those side by side differ in gray too."""

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
