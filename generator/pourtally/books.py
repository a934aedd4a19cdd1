"""What was billed, paid and spent in many jobs, as plain tables for any accounting program.

Which figures stand under which headings is said in ``sheets.toml``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

from . import csvfile
from .csvfile import Row
from .guard import UnusableError
from .model import Entries, Ledger, Part, Scalar
from .pricetable import figure
from .template import Templates
from .values import Report, one_line, plain, report

_CENT = Decimal("0.01")
_MONEY = "dollar"  # what units.toml calls money of any place, for the test of units
_FILE = "file"  # the last column of each table: which workbook a row is from
_NUMBER = "number"  # of a table: no two jobs may have the same


@dataclass
class Books:
    """The tables, ``{name: its columns and rows}``, the workbooks left out, and what is odd."""

    tables: dict[str, tuple[tuple[str, ...], list[Row]]] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    taken: int = 0


def keep_books(workbooks: Iterable[Path], templates: Templates) -> Books:
    """Return the rows of all workbooks; one with a problem is named and gives none."""
    books = Books()
    for ledger in templates["us", "usual"].book.ledgers:
        last = () if ledger.once else (_FILE,)
        books.tables[ledger.file] = (*ledger.columns, *last), []
    seen: set[Path] = set()
    for path in workbooks:
        if path.resolve() in seen:
            books.problems.append(f"{path}: given twice, and would count twice; name it once")
            continue
        seen.add(path.resolve())
        try:
            found = report(path, templates)
        except UnusableError as error:
            books.problems.append(f"{path}: {error}")
            continue
        books.notes += [f"{path}: {note}" for note in found.notes]
        if found.problems:
            books.problems += [f"{path}: {p}" for p in found.problems]
            books.problems.append(f"{path}: left out")
        else:
            _enter(books, found, path)
    books.problems += _same_numbers(books)
    return books


def text(table: tuple[tuple[str, ...], list[Row]]) -> str:
    """Return a table as the text of a CSV file, without a mark that some programs stumble over."""
    return csvfile.text(*table, mark=False)


def _enter(books: Books, found: Report, path: Path) -> None:
    """Add the rows of one workbook to each table."""
    books.taken += 1
    for ledger in found.book.ledgers:
        rows = books.tables[ledger.file][1]
        for row in _rows(ledger, found):
            if not ledger.once:
                rows.append(row | {_FILE: csvfile.guarded(path.name)})
            elif row not in rows:
                rows.append(row)


def _rows(ledger: Ledger, found: Report) -> Iterable[Row]:
    worked = found.worked
    for line in range(max(len(worked[key]) for key in ledger.of)):
        if any(worked[key][line] for key in ledger.of):
            yield {
                head: _cell([(k, found.book.parts[k.removeprefix("-")][2]) for k in keys], worked,
                            line)
                for head, keys in ledger.columns.items()
            }  # fmt: skip


def _cell(keys: list[tuple[str, Part]], worked: Entries, line: int) -> str:
    """Return what stands under a heading: dollars and cents, a day as 2026-05-04, or words."""
    _, part = keys[0]
    if part.pint != _MONEY:
        value = plain(part, _at(worked[part.key], line))
        return figure(value) if isinstance(value, float) else csvfile.guarded(one_line(value))
    money = Decimal(0)
    for key, one in keys:
        amount = _at(worked[one.key], line)
        cents = Decimal(repr(amount if isinstance(amount, float) else 0.0))
        money += (-1 if key.startswith("-") else 1) * cents.quantize(_CENT, ROUND_HALF_UP)
    return str(money)


def _at(column: list[Scalar], line: int) -> Scalar:
    """Return what stands on a line; what a form says holds for every line."""
    return column[line if len(column) > 1 else 0]


def _same_numbers(books: Books) -> Iterable[str]:
    """Yield each number that stands in two workbooks, in one table."""
    for name, (columns, rows) in books.tables.items():
        first: dict[str, str] = {}
        for row in rows if _NUMBER in columns else ():
            number, where = row[_NUMBER], row[_FILE]
            if (other := first.setdefault(number.casefold(), where)) != where:
                yield f"{where}: {name}: number {number} stands in {other} too: give each its own"
