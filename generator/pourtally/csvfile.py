"""Rows to a CSV file that any spreadsheet opens and none runs, and back from what it saved.

A text that a spreadsheet would take for a formula is written with an apostrophe before it,
which is taken off again when it is read.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time
from itertools import zip_longest
from pathlib import Path

from .opened import UnopenedError, start

_LARGEST = 2_000_000  # bytes; a full price file has about 30,000
_MOST_COLUMNS, _MOST_ROWS = 100, 5_000  # a full one has 11, and about 800
_MONTHS = 12
_MONTH_NAMES = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_RUNS = re.compile(r"'*(\s*[=+\-@\uff1d\uff0b\uff0d\uff20]| *[\t\r\n])")
_REWRITTEN = re.compile(
    r"'*\s*(0\d|\d{12}|\d+[/.:-]\d|\d+\s*$|true$|false$)", re.IGNORECASE
)  # what a spreadsheet takes for a number, a date or a time, and saves in its own way
_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)
_GROUPED = re.compile(r"[1-9]\d{0,2}(,\d{3})+(\.\d*)?")
_GROUPED_BY_DOTS = re.compile(r"[1-9]\d{0,2}(\.\d{3})+")
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})")
_DAY_LETTERS = re.compile(r"(\d{1,2})[-. ]+([a-z]{3,9})[-., ]+(\d{4})", re.IGNORECASE)
_LETTERS_DAY = re.compile(r"([a-z]{3,9})[-. ]+(\d{1,2})[-., ]+(\d{4})", re.IGNORECASE)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?\s*(?:([ap])\.?m\.?)?", re.IGNORECASE)
_NOON = 12

Row = dict[str, str]
"""One line of a file: {column: its cell}."""


@dataclass(frozen=True)
class Sheet:
    """What a file holds: rows with the number of their line, and columns nobody knows.

    With ``commas`` a comma is the decimal sign, as where semicolons stand between the cells.
    """

    rows: list[tuple[int, Row]]
    unknown: list[str]
    commas: bool


def text(columns: Sequence[str], rows: Iterable[Row], mark: bool = True) -> str:
    """Return rows as the text of a CSV file, with a mark that it is UTF-8 unless told not to."""
    out = io.StringIO()
    if mark:
        out.write("\ufeff")  # without it Excel takes ft² for another alphabet
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([row.get(c, "") for c in columns] for row in rows)
    return out.getvalue()


def guarded(words: str) -> str:
    """Return words so that no spreadsheet takes them for a formula."""
    quoted = words.startswith("'") and _REWRITTEN.match(words)
    return f"'{words}" if quoted or _RUNS.match(words) else words


def untouched(words: str) -> str:
    """Return words so that a spreadsheet saves them as they are: 00123 stays no number."""
    return f"'{words}" if _REWRITTEN.match(words) else guarded(words)


def bare(words: str) -> str:
    """Return guarded words as they were."""
    marked = words.startswith("'") and (_RUNS.match(words) or _REWRITTEN.match(words))
    return words[1:] if marked else words


def read(path: Path, needed: Sequence[str], known: Sequence[str]) -> tuple[Sheet, list[str]]:
    """Return what stands in a CSV file, however a spreadsheet saved it, and all problems."""
    nothing = Sheet([], [], False)
    words, problem = _decoded(path)
    if problem:
        return nothing, [f"{path}: {problem}"]
    head = next((line for line in words.splitlines() if line.strip()), "")
    between = max(",;\t", key=lambda d: len({*known} & {*_names(head.split(d))}))
    lines, problems = _cells(path, words, between)
    if not lines:
        return nothing, problems or [f"{path}: holds nothing; expected {', '.join(needed)}"]
    (number, first), *rest = lines
    columns = _names(first)
    where = f"{path}, line {number}"
    if len(columns) > _MOST_COLUMNS or len(rest) > _MOST_ROWS:
        return nothing, [f"{path}: {len(columns):,} columns and {len(rest):,} lines; a price file "
                         f"has at most {_MOST_COLUMNS} and {_MOST_ROWS:,}"]  # fmt: skip
    if missing := [n for n in needed if n not in columns]:
        came = ", ".join(c for c in columns if c)
        problems.append(f"{where}: lacks the column {', '.join(missing)}; came {came}: "
                        "the first line names the columns")  # fmt: skip
    if twice := sorted({c for c in columns if c and columns.count(c) > 1}):
        problems.append(f"{where}: the column {', '.join(twice)} stands there twice; keep one")
    for at, cells in rest:
        if any(c.strip() for c in cells[len(columns) :]):
            problems.append(
                f"{path}, line {at}: {len(cells)} cells, expected {len(columns)}: words with a "
                f"{'comma' if between == ',' else 'separator'} in them need quotation marks"
            )
    unknown = [c for c in columns if c and c not in known]
    rows = [
        (at, dict(zip_longest(columns, cells[: len(columns)], fillvalue=""))) for at, cells in rest
    ]
    return Sheet(rows, unknown, between == ";"), problems


def _names(cells: Iterable[str]) -> list[str]:
    return [c.strip().strip('"').casefold() for c in cells]


def _decoded(path: Path) -> tuple[str, str]:
    """Return the words of a file, or why there are none."""
    try:
        raw = start(path, _LARGEST)
    except UnopenedError as error:
        return "", str(error)
    if len(raw) > _LARGEST:
        return "", f"over {_LARGEST:,} bytes; a price file is a short list"
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif b"\0" in raw or raw.startswith((b"PK\x03\x04", b"%PDF")):
        return "", "not a text; open it in your spreadsheet program and save it as CSV"
    else:
        encodings = ["utf-8-sig", "cp1252"]  # the second is what Excel saves where not told
    for encoding in encodings:
        try:
            return raw.decode(encoding), ""
        except UnicodeDecodeError:
            continue
    return "", "its letters cannot be read; save it as CSV in UTF-8"


def _cells(path: Path, words: str, between: str) -> tuple[list[tuple[int, list[str]]], list[str]]:
    """Return the cells of every line that holds any, each line with its number."""
    reader = csv.reader(io.StringIO(words, newline=""), delimiter=between, strict=True)
    lines: list[tuple[int, list[str]]] = []
    number = 1
    try:
        for cells in reader:
            if any(c.strip() for c in cells):
                lines.append((number, cells))
            number = reader.line_num + 1
    except csv.Error as error:
        return lines, [f"{path}, line {number}: {error}; compare its quotation marks"]
    return lines, []


def number(words: str, commas: bool, sign: str = "") -> float | None:
    """Return a number as people write it, or nothing where it is none or could be two.

    The ``sign`` of money may stand with it.
    """
    words = re.sub(r"\s", "", words)
    for money in filter(None, ("$", sign)):
        words = words.removeprefix(money).removesuffix(money)
    if commas and _TWO_WAYS.fullmatch(words):
        return None
    if _GROUPED.fullmatch(words):
        words = words.replace(",", "")
    elif commas and words.count(",") == 1:
        whole, _, part = words.partition(",")
        words = f"{whole.replace('.', '') if _GROUPED_BY_DOTS.fullmatch(whole) else whole}.{part}"
    return float(words) if _PLAIN.fullmatch(words) else None


def day(words: str, order: str = "") -> date | None:
    """Return a date, or nothing where it is none or could be two: 04/05/2026, 05/04/26.

    Where an ``order`` is known, "month first" or "day first", a year of four digits is enough.
    """
    words = words.strip()
    if match := _YEAR_FIRST.fullmatch(words):
        year, month, number_of_day = map(int, match.groups())
    elif match := _YEAR_LAST.fullmatch(words):
        month, number_of_day, year = map(int, match.groups())
        two_ways = month != number_of_day and max(month, number_of_day) <= _MONTHS
        if two_ways and (not order or ("." in words and order == "month first")):
            return None  # with dots nobody writes the month first
        if month > _MONTHS or (two_ways and order == "day first"):
            month, number_of_day = number_of_day, month
    elif match := _DAY_LETTERS.fullmatch(words):
        number_of_day, month, year = int(match[1]), _month(match[2]), int(match[3])
    elif match := _LETTERS_DAY.fullmatch(words):
        month, number_of_day, year = _month(match[1]), int(match[2]), int(match[3])
    else:
        return None
    try:
        return date(year, month, number_of_day)
    except ValueError:
        return None


def _month(word: str) -> int:
    """Return a month by its name or the beginning of it; 0 where there is none."""
    short = word[:3].casefold()
    return _MONTH_NAMES.index(short) + 1 if short in _MONTH_NAMES else 0


def clock(words: str) -> time | None:
    """Return a time of the day as people and spreadsheets write it, 7:30 or 12:00:00 PM."""
    match = _CLOCK.fullmatch(words.strip())
    if not match:
        return None
    hour, half = int(match[1]), (match[4] or "").casefold()
    if half and not 1 <= hour <= _NOON:
        return None
    if half:
        hour = hour % _NOON + _NOON * (half == "p")
    try:
        return time(hour, int(match[2]), int(match[3] or 0))
    except ValueError:
        return None
