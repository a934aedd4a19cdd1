"""What the files of the trade may say: one frozen declaration for each kind of table.

``schema`` reads them; what is said here and in ``rules`` is all there is to know about the
keys of a template.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time
from typing import Any, Literal

from .model import Shape

Value = float | str | date | time
"""What one cell may start with."""

EntryWord = Literal["number", "length", "text", "choice", "date", "time"]
Level = Literal["stop", "look"]


@dataclass(frozen=True, kw_only=True)
class Fixed:
    """Fixed numbers, a line each: a ``pattern`` repeated, or the line's number.

    The number goes over ``run`` lines, in a ``cycle``, and is 0 after ``most`` of them; each a
    number of lines, or the key of a block that has as many.
    """

    pattern: tuple[float, ...] = ()
    run: int | str = 1
    cycle: int | str = 0
    most: int | str = 0


@dataclass(frozen=True, kw_only=True)
class EffectSaid:
    """What a typed percentage comes to on this job, told in the cell beside it."""

    formula: str
    quantity: str = "number"


@dataclass(frozen=True, kw_only=True)
class Columns:
    """A column for each gift ``of`` a kind that says something under the name ``saying``."""

    of: str
    saying: str = ""


@dataclass(frozen=True, kw_only=True)
class Teaches:
    """What a figure of a finished job says something of: an ``entry``, of any block.

    Several jobs are pooled ``by`` a figure of the own block; where it is 0, nothing is learned.
    """

    entry: str
    by: str


@dataclass(frozen=True, kw_only=True)
class GoesSaid:
    """Where the words of a formula lead: ``to`` a key, at the ``line`` worked out where it is said.

    Or ``by`` a formula that gives an address, such as ``#Measure!B5``.
    """

    to: str = ""
    line: str = ""
    by: str = ""


@dataclass(frozen=True, kw_only=True)
class FieldSaid:
    """A field of a block; ``rules.KINDS`` says which options go with which kind."""

    key: str
    label: str
    entry: EntryWord | None = None
    formula: str | None = None
    text: str | tuple[str, ...] | None = None
    fixed: Fixed | None = None
    from_: str | None = None
    given: str | None = None
    collect: str | Columns = ""
    quantity: str = ""
    decimals: int | None = None
    zeros: bool = False
    min: float | None = None
    max: float | None = None
    default: Value | tuple[Value | tuple[float, ...], ...] | None = None
    optional: bool = False
    whole: bool = False
    effect: EffectSaid | None = None
    choices: str = ""
    empty: str = ""
    instead: str = ""
    where: Fixed | None = None
    mark: bool | Literal["words"] = False
    order: bool = False
    working: bool = False
    role: str = ""
    heading: str = ""
    over: str = ""
    note: str = ""
    source: str = ""
    also: str | tuple[str, ...] = ""
    width: float = 0.0
    span: int = 1
    at: str = ""
    goes: str | tuple[str, ...] | GoesSaid = ""
    tells: Literal["", "sheet", "row", "column"] = ""
    former: str | dict[str, str] = ""
    csv: Literal["", "unit", "date", "source", "supplier", "never"] = ""
    teaches: Teaches | None = None


@dataclass(frozen=True, kw_only=True)
class SeriesSaid:
    """A line of a drawing: the runs of its x and y, its width in points; or a filled area."""

    x: str
    y: str
    width: float = 1.0
    tone: Literal["dark", "mid", "pale", "accent"] = "dark"
    name: str = ""
    fill: Literal[
        "", "none", "light", "middle", "strong", "middle_flat", "strong_flat", "paper", "dark"
    ] = ""
    name_at: Literal["above", "below", "left", "right", "center"] = "above"
    layer: str = ""
    round: bool = False
    center: Literal["", "level", "upright"] = ""
    elsewhere: bool = False


@dataclass(frozen=True, kw_only=True)
class ChartSaid:
    """A drawing of a block; with ``each``, one for each line of the block of that key.

    What is said then is the drawing of its first line; each further one names as many lines
    further on as the blocks it draws have for each.
    """

    words: str
    series: tuple[SeriesSaid, ...] = ()
    line: int = 1
    each: str = ""
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


@dataclass(frozen=True, kw_only=True)
class Said:
    """A line of words in two languages."""

    say: str
    also: str = ""


@dataclass(frozen=True, kw_only=True)
class Packs:
    """A block whose lines are those of another that are ``on``, one after the other.

    ``of`` is the other block; ``on`` its column of 0 and 1.  Nothing is shown while the
    figure ``while_`` is 0.  With
    ``by``, a column of numbers, lines of a lesser number come first.
    """

    of: str
    on: str = "on"
    by: str = ""
    while_: str = ""


@dataclass(frozen=True, kw_only=True)
class BlockSaid:
    """A block of a sheet; its fields are read one by one, so each slip has its place."""

    key: str
    sheet: str
    title: str
    shape: Shape
    field: tuple[Any, ...] = ()
    note: str = ""
    lines: int | tuple[int | str, ...] | None = None
    with_: str = ""
    words: tuple[str | Said, ...] = ()
    chart: tuple[Any, ...] = ()
    collect: str | tuple[str, ...] = ()
    whole: bool = False
    packs: Packs | None = None
    drawing_rows: int = 0
    also: str = ""
    beside: bool = False
    numbered: bool = True
    fresh: bool = False
    used: str = ""
    at: str = ""
    untitled: bool = False
    carried: bool = False
    in_order: bool = False


@dataclass(frozen=True, kw_only=True)
class TakesSaid:
    """What blocks that collect one kind of thing want to know of each.

    ``needed`` must be said, ``usual`` is what else may be said and what it is where it is
    not; ``when`` names, for what may be said, what else must then be.
    """

    what: str
    needed: tuple[str, ...]
    usual: dict[str, Value] = field(default_factory=dict)
    when: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class GiftSaid:
    """A line given to whatever collects ``to``; with ``each``, one for each line of a block.

    It stands ``after`` the gift of that key, line by line, else in the order of the files.
    """

    to: str
    key: str
    each: str = ""
    after: str = ""
    says: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class CheckSaid:
    """A check: wrong where a figure or a line of a column is over 0, or the line is a ``value``.

    A stop ``holds`` everything, or only "money": then quantities, orders and days stay.  While
    the figure ``unless`` is not 0, a stop is no more than something to look at.
    """

    key: str
    level: Level
    say: str
    at: str
    count: str = ""
    lines: str = ""
    value: int = 0
    first: str = ""
    holds: Literal["", "money"] = ""
    unless: str = ""


@dataclass(frozen=True, kw_only=True)
class ExampleSaid:
    """A hand-worked example."""

    say: str
    source: str
    working: str
    job: dict[str, Any]
    expect: dict[str, Any]
    places: int = 0
    units: Literal["us", "si"] = "us"
    place: str = ""
    wrong: bool = False


@dataclass(frozen=True, kw_only=True)
class LedgerSaid:
    """A file for the bookkeeper: its rows are lines ``of`` some figures, by heading and key."""

    file: str
    of: tuple[str, ...]
    columns: dict[str, Any]
    once: bool = False


@dataclass(frozen=True, kw_only=True)
class QuantitySaid:
    """A quantity in one system: its unit, how it is shown, what the unit is called by pint.

    ``format`` shows what is worked out, ``typed`` what a person types: usually as he typed it.
    """

    unit: str
    pint: str
    decimals: int
    format: str = ""
    typed: str = "General"
    share: bool = False


@dataclass(frozen=True, kw_only=True)
class ConstantSaid:
    """A constant of nature, or of a standard, that nobody tunes."""

    key: str
    label: str
    value: float
    unit: str
    pint: str
    source: str
