"""What a workbook is made of: parts, fields, blocks, sheets, a book.

Nothing here knows how a file is written or what concrete is.  Every object is
frozen and checked when made, so the rooms after this one need not ask again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, get_args

Scalar = float | str | None
"""What one cell can hold: a number, a text, or nothing."""

Entries = dict[str, list[Scalar]]
"""What a person typed: {part key: one value a line}.

Dates are day numbers, times of the day shares of a day.
"""

PartKind = Literal["entry", "formula", "text", "link"]
EntryKind = Literal["number", "text", "choice", "date", "time"]
Shape = Literal["form", "table", "across", "words", "page"]
Units = Literal["us", "si"]
Size = Literal["small", "usual", "large"]
UNITS: tuple[Units, ...] = get_args(Units)
SIZES: tuple[Size, ...] = get_args(Size)
"""How much a workbook has room for, the least first."""

PRICE_COLUMNS = ("unit", "date", "source", "supplier")
"""The columns of a price file that say something of its figure."""

STATES = ("fine", "look", "stop")
"""What a check can find; in a workbook a state is its place here, 0, 1 or 2."""

WORKINGS = "Workings"
"""The sheet that takes every part marked as a working."""


class TemplateError(Exception):
    """A mistake in the files under ``templates/``; the text says where and what to do."""


class Words(dict[str, str]):
    """The program's own words, as ``sheets.toml`` has them."""

    def __missing__(self, name: str) -> str:
        """Say which word the file lacks."""
        raise TemplateError(f"sheets.toml: words: lacks {name}")


@dataclass(frozen=True)
class Local:
    """What the program asks of the place a workbook is for.

    The ``sign`` of money stands ``after`` a figure or before it; ``dates`` is "month first",
    "day first" or nothing, where a date in figures could be either; ``paper`` is Letter or A4.
    """

    key: str
    name: str
    sign: str = ""
    after: bool = False
    dates: str = ""
    paper: str = "A4"

    def money(self, figure: str) -> str:
        """Return an amount with the sign of money, where there is one."""
        if not self.sign:
            return figure
        if self.after:
            return f"{figure} {self.sign}"
        return f"{self.sign}{' ' * self.sign[-1].isalpha()}{figure}"


@dataclass(frozen=True)
class Limits:
    """What an entry accepts.

    ``least`` and ``most`` bound numbers (dates as day numbers); ``choices`` names the
    part whose lines are the list to choose from; ``optional`` lets a form cell stay blank.
    A ``whole`` number has nothing behind its point.
    """

    least: float = 0.0
    most: float = 0.0
    choices: str = ""
    optional: bool = False
    whole: bool = False


@dataclass(frozen=True)
class Part:
    """One cell a line: the smallest thing that has a key.

    ``formulas`` holds one formula for every line alike, or one for each line, empty where
    that line is no formula.  ``values`` holds, a line each, the default of an entry, the
    words of a text, or what stands where a formula is empty; ``also`` the same words in the
    second language.  ``given`` is the key, in another book, of what it holds or starts from.
    ``former`` is the key of the list whose former names it holds, a line each; ``formerly``
    the words of older files, each with the word that stands in its place now.  A cell runs
    over ``span`` columns; on a page its first line stands ``at`` an address.  Fixed words, a line
    each, may be links that go to a key or a sheet (``goes``); where a part ``tells`` something,
    its values are keys, and its cells say that of the cell that a link to each of them goes to.
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
    former: str = ""
    formerly: tuple[tuple[str, str], ...] = ()
    span: int = 1
    at: str = ""
    goes: tuple[str, ...] = ()
    tells: str = ""

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
    figure ``weight``, 0 where nothing was learned.  ``width`` is what each of its cells asks
    of its column, in characters; 0 is the usual width.  ``over`` stands over the heads of fields
    side by side that say the same.
    """

    key: str
    label: str
    parts: tuple[Part, ...]
    note: str = ""
    source: str = ""
    heading: str = ""
    over: str = ""
    also: str = ""
    csv: str = ""
    once: bool = False
    teaches: str = ""
    weight: str = ""
    width: float = 0.0

    @property
    def explained(self) -> str:
        """Return what it means and where its figure comes from, in one line."""
        return "  ·  ".join(t for t in (self.note, self.source) if t)

    @cached_property
    def typed(self) -> tuple[Part, ...]:
        """Return the cells a person types it in: two for feet and inches, none for a result."""
        return tuple(part for part in self.parts if part.kind == "entry")

    @property
    def is_length(self) -> bool:
        """Tell whether it is typed as a length: in feet and inches, or in meters."""
        return bool(self.typed) and self.typed[0].key in (f"{self.key}.ft", f"{self.key}.m")


@dataclass(frozen=True)
class Run:
    """Cells in a row: from a line of one part to a line of another (lines from 0)."""

    first: str
    first_line: int
    last: str
    last_line: int


@dataclass(frozen=True)
class Series:
    """One line of a drawing, or one of its areas: where its x and y stand, and its look.

    A line has a ``width`` in points and a ``tone``, an area a ``fill``; ``name`` is the cell
    whose words stand at the line's last point, if any, and ``name_at`` where.  ``layer`` is
    what kind of thing it draws, for programs that draw: there equal sides of a ``round`` line
    are arcs, an area has a string along its ``center``, and what stands ``elsewhere`` is drawn
    by them alone.
    """

    x: Run
    y: Run
    width: float = 1.0
    tone: str = "dark"
    name: Run | None = None
    fill: str = ""
    layer: str = ""
    name_at: str = "above"
    round: bool = False
    center: str = ""
    elsewhere: bool = False


@dataclass(frozen=True)
class Chart:
    """A line drawing; without ``axis`` both axes run from 0 to 1, so that it stays to scale.

    It stands under the head of one ``line`` (from 1) of a block that runs across, and to
    the right of that line of a table.
    Beside words it stands under them, in the block's ``drawing_rows``; there and beside a form
    ``column`` is the key of what stands in the column that it begins at; a form is as tall
    as its ``drawing_rows`` at least.
    With ``axis``, the words under a level axis from 0 to 1, it is wide and stands over the
    head of the block, in its ``drawing_rows``; ``rows`` is where its upright axis ends.

    One that is ``wide`` and ``tall``, in pixels, has one scale too: its upright axis ends at
    tall over wide.  It may stand ``at`` an address, or ``over`` the one before it, exactly.
    With ``fills`` its series are areas, each on top of the one before; their x are whole
    numbers from 1 to ``FILL_STEPS`` and one.  With ``bars`` x are names and y figures of level
    bars, and ``axis`` is said over them.  What is the ``same`` as
    the drawings of a block repeats them in its own size and place.
    """

    words: str
    line: int
    series: tuple[Series, ...]
    axis: str = ""
    rows: float = 1.0
    column: str = ""
    wide: int = 0
    tall: int = 0
    at: str = ""
    over: bool = False
    fills: bool = False
    bars: bool = False
    same: str = ""


FILL_STEPS = 10_000
"""Into how many steps the level axis of a drawing of areas is divided."""


@dataclass(frozen=True)
class Block:
    """A form, a table, a table turned on its side, a few lines of words, or a page.

    The cells of a page stand where each says, down its lines; a table may say ``at`` which
    address its title stands, or its head where it is ``untitled``.

    ``beside``: a table that stands to the right of the one before it and shares its lines'
    numbers, so it has as many lines.  ``codes``: what the lines of a block that collects
    are called in files, empty where a giver has no key.  ``used``: the part that is 1 where
    a line is in use; elsewhere a word that is in no list any more does no harm.
    ``numbered``: its lines have numbers beside them, where its sheet shows them.
    ``carried``: what is typed in it is the company's, as on a sheet that is; ``in_order``: its
    lines are carried by their place, not by their names.
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
    used: str = ""
    numbered: bool = True
    fresh: bool = False
    at: str = ""
    untitled: bool = False
    carried: bool = False
    in_order: bool = False

    def parts(self, working: bool) -> list[Part]:
        """Return the parts that stand on the block's own sheet, or on the workings."""
        return [p for f in self.fields for p in f.parts if p.working is working]

    @property
    def single(self) -> bool:
        """Tell whether it has one line in every size: a table to fill in may have more."""
        typed = any(f.typed for f in self.fields) or self.group != self.key
        return self.lines == 1 and (self.shape == "form" or not typed)


@dataclass(frozen=True)
class Sheet:
    """One sheet: its name, what it says at the top, and how it is laid out.

    Sheets of a ``group`` stand side by side and have tabs of one color; one that is ``hidden``
    is shown by the spreadsheet's own menu.  The block that is ``frozen`` stands first, and its
    head stays in sight.  One may be ``wide``, so many pixels, where it needs more than a window.

    ``language`` is the key of the choice by which its words are said in the first
    language, the second, or both; notes are left out there.  ``letters`` is the size of its
    letters in points, ``row_height`` of a usual row, if not 3 / 2 of them; a ``paper`` is
    printed on at most so many pages, down to the block
    ``printed`` where one is named; a form's labels run over ``label_columns`` columns.
    What is typed on a ``carried`` sheet is the company's, and goes from job to job.
    With ``logo`` the company's stands at its head; it ends where the column of the number
    ``logo_column`` does (1 for A), usually the last one that prints.
    One that goes ``outside`` the company shows neither the state of the checks nor the
    numbers of lines.  Where all is ``money``, its state tells also of what holds only that.
    A field says itself how wide it is; what is no field is as wide as the
    sheet says of its numbers of lines, its forms' labels, units and notes, and of all else;
    ``columns`` says how wide the first columns are, whatever stands in them.  A ``bare``
    sheet has no title, state or links but those it brings itself; one that goes outside prints
    at its own size.  A printed page ends after each row of ``breaks``.
    """

    name: str
    title: str
    intro: str
    landscape: bool = False
    group: str = ""
    hidden: bool = False
    wide: int = 0
    frozen: str = ""
    language: str = ""
    also: str = ""
    letters: float = 10.0
    row_height: float = 0.0
    paper: int = 0
    label_columns: int = 1
    printed: str = ""
    carried: bool = False
    outside: bool = False
    money: bool = False
    logo: bool = False
    logo_column: int = 0
    line_width: float = 0.0
    label_width: float = 0.0
    unit_width: float = 0.0
    note_width: float = 0.0
    usual_width: float = 0.0
    columns: tuple[float, ...] = ()
    bare: bool = False
    breaks: tuple[int, ...] = ()


@dataclass(frozen=True)
class Ledger:
    """What a file for the bookkeeper holds: a row for each line where one ``of`` its keys is not 0.

    ``columns`` are headings, each with the keys whose figures are added up; one with a - before
    it is taken off.  With ``once`` equal rows are one.
    """

    file: str
    of: tuple[str, ...]
    columns: dict[str, tuple[str, ...]]
    once: bool = False


@dataclass(frozen=True)
class Book:
    """Everything one workbook holds, in one system of units and one size, before it is filled in.

    One that is ``kept`` is read back later: its cells have names, and it says who made it.
    ``keys`` says which parts the program itself looks at, by what they are to it, and
    ``summary`` which ones tell a job on one page; ``ledgers`` are what goes to the bookkeeper.
    ``said`` are blocks and parts whose words are printed on papers that go outside; what stands
    there after a - is looked up, so its words stay.
    ``local`` is the place it is for.
    """

    title: str
    version: str
    units: Units
    sheets: tuple[Sheet, ...]
    blocks: tuple[Block, ...]
    words: Words
    kept: bool = True
    keys: dict[str, str] = field(default_factory=dict)
    size: Size = "usual"
    summary: tuple[str, ...] = ()
    ledgers: tuple[Ledger, ...] = ()
    said: tuple[str, ...] = ()
    local: Local = Local("", "")

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

    @cached_property
    def fields(self) -> dict[str, Field]:
        """Return {key: field}: what is meant where a thing is named, not one of its cells."""
        return {item.key: item for block in self.blocks for item in block.fields}

    def typed(self, key: str) -> tuple[Part, ...]:
        """Return the cells typed for the field or the part of a key."""
        if key in self.fields:
            return self.fields[key].typed
        part = self.parts[key][2] if key in self.parts else None
        return (part,) if part and part.kind == "entry" else ()

    def goal(self, key: str) -> Part | None:
        """Return the part that a link to a field or a part goes to: what is typed, else shown."""
        if typed := self.typed(key):
            return typed[0]
        if key in self.fields:
            parts = self.fields[key].parts
            return next((p for p in parts if not p.working), parts[0])
        return self.parts[key][2] if key in self.parts else None

    def pointed(self, link: str) -> tuple[str, int]:
        """Return the key and the line, from 0, that a link names.

        A line is named by its code or its number: ``prices.price[stakes]``, ``mixes.waste[2]``;
        without one it is the first.  Raises ``LookupError`` where there is none.
        """
        key, _, rest = link.partition("[")
        line = rest.rstrip("]")
        if key not in self.fields and key not in self.parts:
            raise LookupError(key)
        block = next(b for b in self.blocks if b.key == key.partition(".")[0])
        if not line:
            return key, 0
        if line.isdecimal() and 1 <= int(line) <= block.lines:
            return key, int(line) - 1
        if line not in block.codes:
            raise LookupError(f"line '{line}' of {key}")
        return key, block.codes.index(line)

    def entries(self) -> dict[str, tuple[Block, Field, Part]]:
        """Return the parts that a person fills in."""
        return {k: t for k, t in self.parts.items() if t[2].kind == "entry"}
