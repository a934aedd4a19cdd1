"""What a workbook is made of: parts, fields, blocks, sheets, a book.

Nothing here knows how a file is written or what concrete is.  Every object is
frozen and checked when made, so the rooms after this one need not ask again.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

Scalar = float | str | None
"""What one cell can hold: a number, a text, or nothing."""

Entries = dict[str, list[Scalar]]
"""What a person typed: {part key: one value a line}.

Dates are day numbers, times of the day shares of a day.
"""

PartKind = Literal["entry", "formula", "text", "link"]
EntryKind = Literal["number", "text", "choice", "date", "time"]
Shape = Literal["form", "table", "across", "words"]
Units = Literal["us", "si"]

PRICE_COLUMNS = ("unit", "date", "source", "supplier")
"""The columns of a price file that say something of its figure."""

WORKINGS = "Workings"
"""The sheet that takes every part marked as a working."""


EFFECT = ".effect"
"""What the key of a cell ends in that says what the entry before it comes to."""


class TemplateError(Exception):
    """A mistake in the files under ``templates/``; the text says where and what to do."""


@dataclass(frozen=True)
class Limits:
    """What an entry accepts.

    ``least`` and ``most`` bound numbers (dates as day numbers); ``choices`` names the
    part whose lines are the list to choose from; ``optional`` lets a form cell stay blank.
    """

    least: float = 0.0
    most: float = 0.0
    choices: str = ""
    optional: bool = False


@dataclass(frozen=True)
class Part:
    """One cell a line: the smallest thing that has a key.

    ``formulas`` holds one formula for every line alike, or one for each line, empty where
    that line is no formula.  ``values`` holds, a line each, the default of an entry, the
    words of a text, or what stands where a formula is empty; ``also`` the same words in the
    second language.  ``given`` is the key, in another book, of what it holds or starts from.
    """

    key: str
    heading: str
    kind: PartKind
    unit: str = ""
    format: str = "General"
    formulas: tuple[str, ...] = ()
    values: tuple[Scalar, ...] = ()
    entry: EntryKind = "number"
    limits: Limits = Limits()
    working: bool = False
    role: str = "result"
    pint: str = ""
    also: tuple[str, ...] = ()
    given: str = ""

    def formula(self, line: int) -> str:
        """Return the formula of one line, still with its ``{keys}``."""
        return self.formulas[0] if len(self.formulas) == 1 else self.formulas[line]

    def value(self, line: int) -> Scalar:
        """Return the default or the words of one line; nothing past the last one."""
        return self.values[line] if line < len(self.values) else None


@dataclass(frozen=True)
class Field:
    """One thing with a name: a length is one field though it takes two cells.

    ``csv`` is the column of a price file it stands in, beside the other figures of its line
    instead of in a row of its own; what is ``once`` is not saved in one.  A figure that
    ``teaches`` an entry is what a finished job says of it; several jobs are pooled by the
    figure ``weight``, 0 where nothing was learned.
    """

    key: str
    label: str
    parts: tuple[Part, ...]
    note: str = ""
    source: str = ""
    heading: str = ""
    also: str = ""
    csv: str = ""
    once: bool = False
    teaches: str = ""
    weight: str = ""


@dataclass(frozen=True)
class Run:
    """Cells in a row: from a line of one part to a line of another (lines from 0)."""

    first: str
    first_line: int
    last: str
    last_line: int


@dataclass(frozen=True)
class Series:
    """One line of a drawing: where its x and y stand, its width in points and its tone.

    ``name`` is the cell whose words stand beside the line's last point, if any.
    """

    x: Run
    y: Run
    width: float
    tone: str = "dark"
    name: Run | None = None


@dataclass(frozen=True)
class Chart:
    """A line drawing; without ``axis`` both axes run from 0 to 1, so that it stays to scale.

    It stands under the head of one ``line`` (from 1) of a block that runs across, and to
    the right of that line of a table; beside a form it begins at the ``column`` named.
    Beside words it stands under them, in the block's ``drawing_rows``.
    With ``axis``, the words under a level axis from 0 to 1, it is wide and stands over the
    head of the block, in its ``drawing_rows``; ``rows`` is where its upright axis ends.
    """

    words: str
    line: int
    series: tuple[Series, ...]
    axis: str = ""
    rows: float = 1.0
    column: str = ""


@dataclass(frozen=True)
class Block:
    """A form, a table, a table turned on its side, or a few lines of words.

    ``beside``: a table that stands to the right of the one before it and shares its lines'
    numbers, so it has as many lines.  ``codes``: what the lines of a block that collects
    are called in files, empty where a giver has no key.
    """

    key: str
    sheet: str
    title: str
    shape: Shape
    lines: int
    fields: tuple[Field, ...]
    group: str
    note: str = ""
    words: tuple[str, ...] = ()
    charts: tuple[Chart, ...] = ()
    drawing_rows: int = 0
    also: str = ""
    words_also: tuple[str, ...] = ()
    beside: bool = False
    codes: tuple[str, ...] = ()

    def parts(self, working: bool) -> list[Part]:
        """Return the parts that stand on the block's own sheet, or on the workings."""
        return [p for f in self.fields for p in f.parts if p.working is working]


@dataclass(frozen=True)
class Sheet:
    """One sheet: its name, what it says at the top, and how it is laid out.

    ``language`` is the key of the choice by which its words are said in the first
    language, the second, or both; notes are left out there.  ``letters`` is the size of its
    letters in points; a ``paper`` is printed on at most so many pages, down to the row
    ``printed`` where one is named; a form's labels run over ``label_columns`` columns.
    What is typed on a ``carried`` sheet may be "loaded" from a price file, or is also "saved".
    One that goes ``outside`` the company shows neither the state of the checks nor the
    numbers of lines.
    """

    name: str
    title: str
    intro: str
    landscape: bool = False
    widths: tuple[tuple[str, float], ...] = ()
    tint: str = "#5B6B73"
    language: str = ""
    also: str = ""
    letters: float = 10.0
    paper: int = 0
    label_columns: int = 1
    printed: int = 0
    carried: Literal["", "loaded", "saved"] = ""
    outside: bool = False


@dataclass(frozen=True)
class Book:
    """Everything one workbook holds, in one system of units, before it is filled in.

    One that is ``kept`` is read back later: its cells have names, and it says who made it.
    """

    title: str
    version: str
    units: Units
    sheets: tuple[Sheet, ...]
    blocks: tuple[Block, ...]
    words: dict[str, str]
    kept: bool = True

    @cached_property
    def parts(self) -> dict[str, tuple[Block, Field, Part]]:
        """Return {key: (block, field, part)} in reading order; every room asks for it."""
        parts: dict[str, tuple[Block, Field, Part]] = {}
        for block in self.blocks:
            for item in block.fields:
                for part in item.parts:
                    if part.key in parts:
                        raise TemplateError(f"{part.key}: declared twice; keep one of them")
                    parts[part.key] = (block, item, part)
        return parts

    def entries(self) -> dict[str, tuple[Block, Field, Part]]:
        """Return the parts that a person fills in."""
        return {k: t for k, t in self.parts.items() if t[2].kind == "entry"}
