"""How each role looks: one calm palette, readable without color.

Entries are sand with a border, results white, order figures bold; a header is dark with
light words.  Every pair of colors has a contrast of at least 4.5 to 1.  One color more is for
the heads of papers, and a company may have its own in its place.
"""

from __future__ import annotations

from dataclasses import dataclass
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
ACCENT = "#8A4B2A"
"""The color of the heads of papers where a company has none of its own: burnt clay."""
_OWN = "accent"  # stands in a role for that color, or for the company's

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
    "masthead": {"font_size": 20, "bold": True, "font_color": _OWN},
    "accent_head": {"bold": True, "font_color": _OWN},
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
    "page_title": {"font_size": 20, "bold": True},
    "section": {"font_size": 12, "bold": True, "bottom": 1, "bottom_color": INK},
    "eyebrow": {"font_size": 9, "font_color": QUIET},
    "big": {"font_size": 20, "bold": True, "align": "left", "shrink": True},
    "under": {"font_size": 9, "font_color": QUIET, "align": "left"},
    "row_words": {"bottom": 4, "bottom_color": LINE},
    "row_quiet": {"bottom": 4, "bottom_color": LINE, "font_color": QUIET},
    "row_strong": {"bottom": 4, "bottom_color": LINE, "bold": True},
    "row_amount": {"bottom": 4, "bottom_color": LINE, "align": "right"},
    "total": {"font_size": 14, "bold": True, "align": "left"},
    "total_amount": {"font_size": 14, "bold": True, "align": "right"},
    "sample": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "align": "center"},
    "yours_shown": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "italic": True,
                    "align": "center"},
    "stop_shown": {"bold": True, "font_color": STOP},
    "look_shown": {"bold": True, "font_color": LOOK},
    "row_wrapped": {"bottom": 4, "bottom_color": LINE, "text_wrap": True, "valign": "top"},
    "linked": {"font_color": "#1F4E79", "underline": 1},
    "link": {"font_color": "#1F4E79", "underline": 1, "bottom": 4, "bottom_color": LINE},
}  # fmt: skip

TEXT = "@"
"""The number format of words."""

TONES = {"dark": SLATE, "mid": "#8496A1", "pale": LINE, "accent": "#8A4B2A"}
"""Lines of a drawing, told apart in grayscale too."""

FILLS: dict[str, dict[str, Any]] = {
    "none": {"fill": {"none": True}},
    "paper": {"fill": {"color": PAPER}},
    "light": {"fill": {"color": "#EAE6DC"}},
    "middle": {"pattern": {"pattern": "percent_20", "fg_color": "#8A6A4F", "bg_color": "#DCC3A6"}},
    "strong": {"pattern": {"pattern": "wide_upward_diagonal", "fg_color": "#8F5430",
                           "bg_color": "#A9683F"}},
    "dark": {"fill": {"color": SLATE}},
}  # fmt: skip
"""Areas of a drawing, from stone to clay: by lightness and pattern, so in gray too."""

TABS = ("#1F3A5F", "#3F6F8F", "#7FA8A0", "#8A6A1F", "#B79B5E", "#9A5A48", "#5B6B73")
"""Colors of tabs, one for each group of sheets."""

STATES = {"fine": FINE, "look": LOOK, "stop": STOP}
"""The tint of a state where its word is shown; the word alone is enough."""


@dataclass(frozen=True)
class Logo:
    """A picture at the head of papers: a PNG, and the pixels of a sheet that it stands in.

    ``scale`` is how much of its own width, and of its height, that is.
    """

    png: bytes
    width: int
    height: int
    scale: tuple[float, float]


@dataclass(frozen=True)
class Face:
    """The look of one company's papers: the color of their heads, and its logo if it has one."""

    accent: str = ACCENT
    logo: Logo | None = None


PLAIN = Face()
"""The look of papers without a company's own."""


def seen(role: str) -> bool:
    """Tell whether an empty cell of a role can be seen, or typed in."""
    return bool({"border", "bottom", "bg_color", "locked"} & ROLES[role].keys())


def properties(
    role: str, number_format: str, letters: float, accent: str = ACCENT
) -> dict[str, Any]:
    """Return the properties of one role with a number format, for the writer.

    ``letters`` is the usual size of the sheet's letters in points, ``accent`` the color of
    the heads of papers.
    """
    look: dict[str, Any] = {
        k: accent if v == _OWN else v for k, v in {**_BASE, **ROLES[role]}.items()
    }
    look["font_size"] = look["font_size"] * letters / _BASE["font_size"]
    if number_format != "General":
        look["num_format"] = number_format
    if number_format == TEXT:
        look["indent"] = 1  # words keep off the figure in the cell before
    return look
