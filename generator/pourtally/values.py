"""Every figure of a filled-in workbook, worked out in a fresh copy of the template."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from .accept import label
from .files import release
from .model import STATES, Book, Entries, Part, Scalar, Units
from .percent import told
from .read import read_workbook
from .scalar import day_number
from .template import Templates

_STOP = float(STATES.index("stop"))
_DAY_ZERO = datetime(2000, 1, 1) - timedelta(days=day_number(date(2000, 1, 1)))
DAY, TIME = "%Y-%m-%d", "%H:%M"


@dataclass(frozen=True)
class Figure:
    """One entry or result: a value, or a list with one for each line."""

    block: str
    label: str
    unit: str
    value: Scalar | list[Scalar]


@dataclass(frozen=True)
class Report:
    """What a workbook holds: figures by their key, everything wrong with it, and notes."""

    units: Units
    version: str
    figures: dict[str, Figure]
    problems: list[str]
    notes: list[str]


def report(path: Path, templates: Templates) -> Report:
    """Read a workbook's entries, work them out afresh and return every figure."""
    filled = read_workbook(path, templates)
    template = filled.template
    worked = template.results(filled.entries)
    figures = {}
    for key, (block, item, part) in template.book.parts.items():
        if part.kind in ("entry", "formula"):
            lines = [plain(part, v) for v in worked[key]]
            value = lines[0] if block.single else lines
            figures[key] = Figure(block.title, label(item, part), part.unit, value)
    problems = filled.problems + open_stops(template.book, worked)
    return Report(template.units, release(), figures, problems, filled.notes)


def open_stops(book: Book, worked: Entries) -> list[str]:
    """Return what stops a job, in the words of its checks, from all its figures."""
    keys = [book.keys[f"check_{column}"] for column in ("say", "first", "state")]
    checks = zip(*(worked[key] for key in keys), strict=True)
    limits = zip(worked["limits.say"], worked["limits.count"], strict=True)
    return [
        f"{book.parts[keys[0]][0].title}: {say}" + (f" ({first})" if first else "")
        for say, first, state in checks
        if state == _STOP
    ] + [
        f"{book.words['limits_title']}: {say}: {count:g} wrong or missing"
        for say, count in limits
        if isinstance(count, float) and count > 0
    ]


def json_text(found: Report) -> str:
    """Return a report as one JSON object."""
    values = {
        key: {"label": f.label, "unit": f.unit, "value": f.value}
        for key, f in found.figures.items()
    }
    whole = {"units": found.units, "version": found.version, "values": values,
             "problems": found.problems, "notes": found.notes}  # fmt: skip
    return json.dumps(whole, indent=1)


def plain_text(found: Report) -> str:
    """Return a report as text: key, label, unit and value, block by block."""
    keys = max(len(k) for k in found.figures)
    labels = max(len(f.label) for f in found.figures.values())
    units = max(len(f.unit) for f in found.figures.values())
    lines, block = [], ""
    for key, figure in found.figures.items():
        if figure.block != block:
            block = figure.block
            lines += ["", block]
        words = f"  {key:<{keys}}  {figure.label:<{labels}}  {figure.unit:<{units}}  "
        lines.append((words + _said(figure.value)).rstrip())
    return "\n".join(lines).strip("\n")


def plain(part: Part, value: Scalar) -> Scalar:
    """Return a value as others read it: days and times by the clock, shares in percent.

    A worked-out 0 is no day and no time, and stays 0.
    """
    value = told(part, value)
    dated, timed = "dd" in part.format, "h:mm" in part.format
    nothing = part.kind == "formula" and value == 0
    if nothing or not isinstance(value, float) or not (dated or timed):
        return value
    return by_clock(value, " ".join([DAY] * dated + [TIME] * timed))


def by_clock(value: float, pattern: str) -> str:
    """Return a day number, or a share of a day, as days and times are written."""
    return f"{_DAY_ZERO + timedelta(minutes=round(value * 24 * 60)):{pattern}}"


def _said(value: Scalar | list[Scalar]) -> str:
    if not isinstance(value, list):
        return _number(value).rjust(12) if isinstance(value, float) else value or ""
    filled = [i for i, v in enumerate(value, 1) if v]
    return ", ".join(_number(v) if v != "" else "-" for v in value[: max(filled, default=0)])


def _number(value: Scalar) -> str:
    if not isinstance(value, float):
        return "-" if value is None else value
    if value and abs(value) < 0.001:
        return f"{value:.3g}"
    text = f"{value:,.4f}"
    return text.rstrip("0").rstrip(".")
