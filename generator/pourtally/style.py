"""How each role looks: one calm palette, readable without color.

Entries are sand with a full border that is seen without color; results stand on a hair line,
order figures are bold; a header is pale with a rule under it.  Words have a contrast of at
least 4.5 to 1, and what tells an entry from a result one of 3 to 1.  One color more is for
the heads of papers, and a company may have its own in its place.
"""

from __future__ import annotations

from dataclasses import dataclass
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

_HAIR = {"bottom": 7, "bottom_color": LINE}
"""What a result stands on: the lines of a table can be followed, and empty ones are quiet."""


def _edges(*sides: str) -> dict[str, Any]:
    """Return the frame of an entry on some sides of a cell alone."""
    return {k: v for side in sides for k, v in ((side, 1), (f"{side}_color", SAND_LINE))}


ROLES: dict[str, dict[str, Any]] = {
    "way": {"font_color": LINKED, "font_size": 9, "underline": 1},
    "title": {"font_size": 16, "bold": True, "font_color": SLATE},
    "intro": {"font_color": QUIET, "italic": True},
    "status": {"bold": True, "font_color": SLATE},
    "heading": {"font_size": 13, "bold": True, "font_color": SLATE},
    "note": {"font_color": QUIET, "font_size": 9},
    "words": {},
    "masthead": {"font_size": 20, "bold": True, "font_color": _OWN, "shrink": True},
    "accent_head": {"bold": True, "font_color": _OWN, "valign": "top", "indent": 0},
    "topic": {"bold": True, "font_size": 9, "font_color": _OWN, "align": "left", "indent": 0},
    "header": {"bold": True, "font_size": 9, "font_color": SLATE, "bg_color": MIST,
               "text_wrap": True, "valign": "bottom", "align": "center", "bottom": 2,
               "bottom_color": SLATE, "left": 7, "left_color": LINE},
    "over": {"bold": True, "font_size": 9, "font_color": SLATE, "bottom": 1,
             "bottom_color": QUIET},
    "caption": {"font_color": QUIET, "text_wrap": True, "valign": "bottom", "align": "left",
                "bottom": 1, "bottom_color": INK},
    "line": {"font_color": QUIET, "align": "center", **_HAIR},
    "over_words": {"font_size": 8.5, "font_color": QUIET, "align": "left", "bottom": 1,
                   "bottom_color": LINE},
    "over_amount": {"font_size": 8.5, "font_color": QUIET, "align": "right", "bottom": 1,
                    "bottom_color": LINE},
    "label": {"bottom": 4, "bottom_color": LINE},
    "said": {**_HAIR, "shrink": True},
    "unit": {"font_color": QUIET, "font_size": 9, "indent": 1},
    "entry": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "locked": False},
    "clause": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "locked": False,
               "text_wrap": True, "valign": "top"},
    "remark": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "locked": False},
    "long": {"bg_color": SAND, **_edges("left", "top", "bottom"), "locked": False},
    "run": {"bg_color": SAND, **_edges("top", "bottom")},
    "run_end": {"bg_color": SAND, **_edges("right", "top", "bottom")},
    "paragraph": {"text_wrap": True, "valign": "top"},
    "step": {"text_wrap": True, "valign": "top"},
    "passage": {"text_wrap": True, "valign": "top", "font_size": 9, "indent": 0},
    "item": {"font_size": 9, "align": "left", "shrink": True},
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
    "fixed": {**_HAIR, "shrink": True, "font_color": QUIET, "align": "center"},
    "effect": {"font_color": QUIET, **_HAIR, "align": "right",
               "indent": 1},
    "code": {**_HAIR, "font_color": QUIET, "font_size": 9},
    "constant": {**_HAIR, "bg_color": MIST},
    "page_title": {"font_size": 20, "bold": True},
    "section": {"indent": 0, "font_size": 12, "bold": True, "bottom": 1, "bottom_color": INK},
    "eyebrow": {"font_size": 9, "font_color": QUIET, "indent": 0},
    "big": {"font_size": 20, "bold": True, "align": "left", "shrink": True},
    "under": {"font_size": 9, "font_color": QUIET, "align": "left", "indent": 0},
    "row_words": {"bottom": 4, "bottom_color": LINE},
    "row_quiet": {"bottom": 4, "bottom_color": LINE, "font_color": QUIET},
    "row_strong": {"bottom": 4, "bottom_color": LINE, "bold": True},
    "row_amount": {"bottom": 4, "bottom_color": LINE, "align": "right"},
    "job_name": {"font_size": 20, "bold": True, "shrink": True},
    "row_at": {"bottom": 4, "bottom_color": LINE, "align": "left"},
    "verdict": {"font_size": 12, "bold": True},
    "first_open": {"font_size": 9, "text_wrap": True, "valign": "top", "underline": 1},
    "rule": {"bottom": 2, "bottom_color": INK},
    "gap": {},
    "card_word": {"indent": 0, "font_size": 9, "font_color": QUIET, "top": 5, "top_color": ACCENT},
    "row_mark": {"bottom": 4, "bottom_color": LINE, "bold": True},
    "row_link": {"bottom": 4, "bottom_color": LINE, "font_color": "#1F4E79", "underline": 1},
    "door_head": {"indent": 0, "bold": True, "bottom": 1, "bottom_color": INK},
    "door": {"indent": 0, "font_color": "#1F4E79", "underline": 1},
    "open": {"font_size": 9, "text_wrap": True, "bottom": 4, "bottom_color": LINE},
    "row_state": {"bottom": 4, "bottom_color": LINE, "bold": True},
    "row_says": {"bottom": 4, "bottom_color": LINE, "shrink": True},
    "reach": {"font_size": 9, "font_color": QUIET, "align": "left", "shrink": True, "indent": 0},
    "reach_right": {"font_size": 9, "font_color": QUIET, "align": "right"},
    "at_right": {"align": "right", "shrink": True, "indent": 0},
    "told_name": {"bold": True, "align": "left", "shrink": True},
    "told_place": {"align": "left", "shrink": True, "indent": 0},
    "claim": {"font_size": 14, "bold": True, "align": "left", "shrink": True, "indent": 0},
    "side_words": {"font_size": 9, "text_wrap": True, "valign": "top", "indent": 0},
    "under_words": {"font_size": 9, "font_color": QUIET, "text_wrap": True, "valign": "top",
                    "indent": 0},
    "big_amount": {"font_size": 20, "bold": True, "align": "right", "shrink": True},
    "said_head": {"font_size": 12, "bold": True, "align": "left", "indent": 0},
    "said_words": {"align": "left", "shrink": True, "indent": 0},
    "said_amount": {"align": "right"},
    "fine": {"text_wrap": True, "valign": "top", "font_size": 9, "indent": 0},
    "small_print": {"font_size": 8.5, "font_color": QUIET, "text_wrap": True, "valign": "top",
                    "indent": 0},
    "care_what": {"bold": True, "align": "left", "valign": "top", "indent": 0},
    "care_when": {"align": "left", "valign": "top", "font_color": _OWN, "shrink": True},
    "pen_quiet": {"bottom": 4, "bottom_color": LINE, "font_color": QUIET, "indent": 0},
    "pen_line": {"bottom": 1, "bottom_color": INK},
    "pen_words": {"bottom": 4, "bottom_color": QUIET, "align": "left", "shrink": True},
    "foot": {"font_size": 9, "font_color": QUIET, "align": "left", "shrink": True},
    "total": {"font_size": 14, "bold": True, "align": "left"},
    "total_amount": {"font_size": 14, "bold": True, "align": "right"},
    "sample": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "align": "center"},
    "yours_shown": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "italic": True,
                    "align": "center"},
    "stop_shown": {"bold": True, "font_color": STOP},
    "look_shown": {"bold": True, "font_color": LOOK},
    "row_wrapped": {"bottom": 4, "bottom_color": LINE, "text_wrap": True, "valign": "top"},
    "name": {"font_size": 14, "bold": True, "align": "left", "shrink": True},
    "warning": {"bold": True, "font_color": STOP, "shrink": True},
    "column": {"font_color": QUIET, "shrink": True, "bottom": 1, "bottom_color": INK, "indent": 0},
    "tag": {"font_color": QUIET, "shrink": True, "bottom": 1, "bottom_color": LINE, "indent": 0},
    "fact": {"bold": True, "align": "left", "shrink": True, "bottom": 1, "bottom_color": LINE,
             "indent": 0},
    "plain_fact": {"align": "left", "shrink": True, "bottom": 1, "bottom_color": LINE, "indent": 0},
    "moment": {"font_size": 12, "bold": True, "align": "left", "shrink": True, "bottom": 1,
               "bottom_color": LINE},
    "line_fact": {"bold": True, "align": "left", "shrink": True, "indent": 0},
    "line_column": {"font_color": QUIET, "shrink": True, "indent": 0},
    "line_moment": {"font_size": 12, "bold": True, "align": "left", "shrink": True},
    "pen": {"bg_color": SAND, "border": 1, "border_color": SAND_LINE, "locked": False},
    "sentence": {"text_wrap": True, "valign": "top"},
    "caution": {"shrink": True, "indent": 0},
    "linked": {"font_color": LINKED, "underline": 1},
    "link": {"font_color": LINKED, "underline": 1, **_HAIR},
}  # fmt: skip

RULED = {
    "said_head": (1, INK), "said_words": (4, LINE), "said_amount": (4, LINE),
    "line_fact": (1, LINE), "line_moment": (1, LINE), "line_column": (1, INK),
}  # fmt: skip
"""Roles with a line under them only where something is said: its kind and its color."""
WHOLE = ("line_fact", "line_moment")
"""Those whose line goes all across, under empty cells too, where the first one says something."""

TEXT = "@"
"""The number format of words."""

TONES = {"dark": SLATE, "mid": "#8496A1", "pale": LINE, "accent": "#8A4B2A"}
"""Lines of a drawing, told apart in grayscale too."""

FILLS: dict[str, dict[str, Any]] = {
    "none": {"fill": {"none": True}},
    "paper": {"fill": {"color": PAPER}},
    "light": {"fill": {"color": "#EAE6DC"}},
    "middle": {"pattern": {"pattern": "light_horizontal", "fg_color": "#8A6A4F",
                           "bg_color": "#DCC3A6"}},
    "strong": {"pattern": {"pattern": "wide_upward_diagonal", "fg_color": "#8F5430",
                           "bg_color": "#A9683F"}},
    "middle_flat": {"fill": {"color": "#D3B390"}},
    "strong_flat": {"fill": {"color": "#A3613A"}},
    "dark": {"fill": {"color": SLATE}},
}  # fmt: skip
"""Areas of a drawing, from stone to clay: by lightness and pattern, so in gray too.

Those without a pattern are for areas with slanting sides: LibreOffice shows the pattern of
one that has no height.
"""

TABS = ("#DDE3E7", "#1F3A5F", "#8FB3C9", "#2F6F4F", "#D9B44A", "#8A3B2E", "#C9C2B0", "#5B6B73")
"""Colors of tabs, one for each group of sheets; those side by side differ in gray too."""

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
        look.setdefault("indent", 1)  # words keep off the figure in the cell before
        if "border" in look and role != "remark" and "text_wrap" not in look:
            look["shrink"] = True  # what is typed stays in its frame
    return look
