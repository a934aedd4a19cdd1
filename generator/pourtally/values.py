"""Every figure of a filled-in workbook, worked out in a fresh copy of the template."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

from .accept import label
from .files import release
from .hint import near
from .model import STATES, Block, Book, Entries, Part, Scalar
from .output import UseError
from .percent import told
from .read import read_workbook
from .scalar import day_number
from .template import Templates

_STOP = float(STATES.index("stop"))
_DAY_ZERO = datetime(2000, 1, 1) - timedelta(days=day_number(date(2000, 1, 1)))
DAY, TIME = "%Y-%m-%d", "%H:%M"


@dataclass(frozen=True)
class Figure:
    """One entry or result: a value, or a list with one for each line, known by its code."""

    block: Block
    part: Part
    label: str
    value: Scalar | list[Scalar]
    codes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Report:
    """What a workbook holds: figures by their key, everything wrong with it, and notes."""

    book: Book
    worked: Entries
    figures: dict[str, Figure]
    problems: list[str]
    notes: list[str]


def report(path: Path, templates: Templates) -> Report:
    """Read a workbook's entries, work them out afresh and return every figure."""
    filled = read_workbook(path, templates)
    book = filled.template.book
    worked = filled.template.results(filled.entries)
    codes = {block.key: block.codes for block in book.blocks}
    figures = {}
    for key, (block, item, part) in book.parts.items():
        if part.kind in ("entry", "formula"):
            lines = [plain(part, v) for v in worked[key]]
            value = lines[0] if block.single else lines
            own = codes.get(block.group, ())
            figures[key] = Figure(block, part, label(item, part), value, own)
    problems = filled.problems + open_stops(book, worked)
    return Report(book, worked, figures, problems, filled.notes)


def chosen(found: Report, names: tuple[str, ...]) -> Report:
    """Return a report with the figures of some blocks only, each told by its key or its sheet.

    Raises ``UseError`` where a name is neither.
    """
    blocks = {f.block.key: f.block for f in found.figures.values()}
    sheets = {b.sheet.casefold(): b.sheet for b in blocks.values()}
    unknown = [n for n in names if n not in blocks and n.casefold() not in sheets]
    if unknown:
        known = [*blocks, *sheets.values()]
        raise UseError("\n".join(
            f"{name!r} is no block and no sheet: {near(name, known)}; --all prints every block"
            for name in unknown
        ))  # fmt: skip
    wanted = {n for n in names if n in blocks}
    pages = {sheets[n.casefold()] for n in names if n not in blocks}
    return replace(found, figures={
        key: f for key, f in found.figures.items()
        if f.block.key in wanted or f.block.sheet in pages
    })  # fmt: skip


def open_stops(book: Book, worked: Entries, money: bool = True) -> list[str]:
    """Return what stops a job, in the words of its checks, from all its figures.

    Without ``money`` what holds only that is left out.
    """
    keys = [book.keys[f"check_{column}"] for column in ("say", "first", "state", "money")]
    checks = zip(*(worked[key] for key in keys), strict=True)
    limits = zip(worked["limits.say"], worked["limits.count"], strict=True)
    return [
        f"{book.parts[keys[0]][0].title}: {say}" + (f" ({_where(book, first)})" if first else "")
        for say, first, state, only in checks
        if state == _STOP and (money or not only)
    ] + [
        f"{book.words['limits_title']}: {say}: {count:g} wrong or missing"
        for say, count in limits
        if isinstance(count, float) and count > 0
    ]


def _where(book: Book, first: Scalar) -> str:
    """Return the first line a check concerns, in words."""
    return f"{book.words['at_line']} {first:g}" if isinstance(first, float) else str(first)


def json_text(found: Report) -> str:
    """Return a report as one JSON object; lines that items give are named by their codes."""
    values = {
        key: {"label": f.label, "unit": f.part.unit, "value": f.value}
        | ({"codes": f.codes} if f.codes else {})
        for key, f in found.figures.items()
    }
    whole = {"units": found.book.units, "version": release(), "values": values,
             "problems": found.problems, "notes": found.notes}  # fmt: skip
    return json.dumps(whole, indent=1)


def plain_text(found: Report) -> str:
    """Return a report as text: key, label, unit and value, block by block."""
    keys = max(len(k) for k in found.figures)
    labels = max(len(f.label) for f in found.figures.values())
    units = max(len(f.part.unit) for f in found.figures.values())
    lines, block = [], ""
    for key, figure in found.figures.items():
        if figure.block.title != block:
            block = figure.block.title
            lines += ["", block]
        words = f"  {key:<{keys}}  {figure.label:<{labels}}  {figure.part.unit:<{units}}  "
        lines.append((words + _said(figure.value)).rstrip())
    return "\n".join(lines).strip("\n")


def plain(part: Part, value: Scalar) -> Scalar:
    """Return a value as others read it: days and times by the clock, shares in percent.

    A worked-out 0 is no day and no time, and stays 0.
    """
    value = told(part, value)
    dated = "dd" in part.format or "mmm" in part.format
    timed = "h:mm" in part.format
    nothing = part.kind == "formula" and value == 0
    if nothing or not isinstance(value, float) or not (dated or timed):
        return value
    return by_clock(value, " ".join([DAY] * dated + [TIME] * timed))


def by_clock(value: float, pattern: str) -> str:
    """Return a day number, or a share of a day, as days and times are written."""
    return f"{_DAY_ZERO + timedelta(minutes=round(value * 24 * 60)):{pattern}}"


def _said(value: Scalar | list[Scalar]) -> str:
    if not isinstance(value, list):
        return number(value).rjust(12) if isinstance(value, float) else one_line(value)
    filled = [i for i, v in enumerate(value, 1) if v]
    return ", ".join(_listed(v) for v in value[: max(filled, default=0)])


def _listed(value: Scalar) -> str:
    """Return one value of a list; words with a comma of their own stand in quotes."""
    if isinstance(value, float):
        return number(value)
    words = one_line(value) or "-"
    if "," not in words and not words.startswith('"'):
        return words
    return '"' + words.replace('"', '""') + '"'


def one_line(words: str | None) -> str:
    """Return words without the line ends that a cell may hold."""
    return " ".join((words or "").split())


def number(value: float) -> str:
    """Return a number with up to four decimals, or three digits where it is very small."""
    if value and abs(value) < 0.001:
        return f"{value:.3g}"
    text = f"{value:,.4f}"
    return text.rstrip("0").rstrip(".")
