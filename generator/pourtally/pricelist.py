"""What a company keeps from job to job, carried between workbooks as a CSV file.

A row is one figure: its table, its line and its name, as job files call them.  A line is
found by its code, by the name typed in it, or by its number.  What a row leaves empty stays
as it is; "(empty)" empties it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import time
from decimal import Decimal
from functools import cached_property
from pathlib import Path

from . import accept, csvfile
from .build import laid_out, results
from .csvfile import Row
from .declare import scalar
from .hint import near
from .model import PRICE_COLUMNS, Block, Book, Entries, Field, Part, Scalar, Units
from .percent import is_percent, kept
from .read import read_workbook
from .values import plain

EMPTY = "(empty)"
COLUMNS = ("table", "line", "what", "figure", "value", *PRICE_COLUMNS, "meaning")
NEEDED = ("table", "figure", "value")
LEARNED = ("jobs", "least", "most", "spread", "odd ones")
"""What a file of learned rates says besides; nothing of it is loaded."""


@dataclass(frozen=True)
class Table:
    """A block whose entries are carried, and how its lines are told apart."""

    block: Block

    @cached_property
    def entries(self) -> dict[str, tuple[Field, Part]]:
        """Return its entries by the names a file calls them."""
        return {
            part.key.split(".", 1)[1]: (item, part)
            for item in self.block.fields
            for part in item.parts
            if part.kind == "entry"
        }

    @cached_property
    def coded(self) -> bool:
        """Tell whether its lines have codes."""
        return any(self.block.codes)

    @cached_property
    def name(self) -> Part | None:
        """Return the entry that holds the name of a line, where names are typed."""
        first = next(iter(self.entries.values()))[1]
        named = self.block.lines > 1 and not self.coded and first.entry == "text"
        return first if named else None

    @cached_property
    def main(self) -> Part | None:
        """Return the figure of a line that the other columns of its row speak of."""
        numbers = [p for _, p in self.entries.values() if p.entry == "number"]
        return numbers[0] if numbers and self.block.lines > 1 else None

    @cached_property
    def beside(self) -> dict[str, Part]:
        """Return {column: the part that stands in it, in the row of the line's main figure}."""
        fields = self.block.fields if self.main else ()
        return {item.csv: item.parts[0] for item in fields if item.csv}

    def words(self, worked: Entries, line: int) -> str:
        """Return what a line is called."""
        return str(worked[self.block.fields[0].parts[0].key][line] or "")

    def row(self, worked: Entries, line: int, figure: str, value: str) -> Row:
        """Return the row of one figure."""
        item, part = self.entries[figure]
        table = self.block.lines > 1
        mark = self.block.codes[line] if self.coded else str(line + 1) if table else ""
        row = {
            "table": self.block.key,
            "line": mark,
            "what": csvfile.guarded(self.words(worked, line)) if table else "",
            "figure": figure,
            "value": value,
            "unit": part.unit,
            "meaning": f"{self.block.title}: {accept.label(item, part)}",
        }
        if part is self.main:
            row |= {c: said(p, worked[p.key][line]) for c, p in self.beside.items()}
        return row


def tables(book: Book, saved: bool = False) -> dict[str, Table]:
    """Return the blocks that a file may hold, or only those that are saved, by their key."""
    wanted = {s.name for s in book.sheets if s.carried == "saved" or (s.carried and not saved)}
    return {
        b.key: Table(b)
        for b in book.blocks
        if b.sheet in wanted and any(p.kind == "entry" for p in b.parts(False))
    }


def said(part: Part, value: Scalar) -> str:
    """Return a value as a file says it: a number plainly, a day as 2026-05-14."""
    value = plain(part, value)
    if value is None or value == "":
        return ""
    return figure(value) if isinstance(value, float) else csvfile.guarded(str(value))


def figure(value: float) -> str:
    """Return a number without an exponent or thousands commas."""
    return format(Decimal(repr(value)).normalize(), "f")


# Saving ------------------------------------------------------------------------------


def saved(workbook: Path) -> tuple[str, list[str]]:
    """Return the price file of a workbook, or all problems that stand in its way."""
    filled = read_workbook(workbook)
    book, _ = laid_out(filled.units)
    worked = results(filled.units, filled.entries)
    rows: list[Row] = []
    problems = list(filled.problems)
    for table in tables(book, saved=True).values():
        for line in range(table.block.lines):
            if table.name and _nameless(table, worked, line):
                problems.append(f"{table.block.title}, line {line + 1}: has no name, by which "
                                "another workbook would know it: type one")  # fmt: skip
            rows += _line(table, worked, line)
        rows += _left_out(table, worked)
    return csvfile.text(COLUMNS, rows), problems


def _nameless(table: Table, worked: Entries, line: int) -> bool:
    """Tell whether a line without a name holds anything that a fresh workbook has not."""
    fresh = table.name and not table.name.value(line)
    return not table.words(worked, line) and any(
        worked[p.key][line] not in (None, "", p.value(line) if fresh else None)
        for _, p in table.entries.values()
    )


def _line(table: Table, worked: Entries, line: int) -> Iterator[Row]:
    """Yield the row of each figure of a line, and at least one that names it."""
    if table.name and not table.words(worked, line):
        return
    shown = table.beside.values()
    others = {
        name: part
        for name, (item, part) in table.entries.items()
        if part not in (*shown, table.name) and not item.once
    }
    rows = []
    for name, part in others.items():
        value = said(part, worked[part.key][line])
        emptied = EMPTY if part.value(line) not in (None, "") else ""
        asked = part is table.main and (table.coded or _any_said(table, worked, line))
        if value or emptied or asked:
            rows.append(table.row(worked, line, name, value or emptied))
    if table.name and not rows:
        name = next(iter(table.entries))
        rows.append(table.row(worked, line, name, said(table.name, worked[table.name.key][line])))
    yield from rows


def _any_said(table: Table, worked: Entries, line: int) -> bool:
    return any(p.kind == "entry" and worked[p.key][line] for p in table.beside.values())


def _left_out(table: Table, worked: Entries) -> Iterator[Row]:
    """Yield a row for each line a fresh workbook has by itself and this one has no more."""
    if table.name:
        there = {str(n).strip().casefold() for n in worked[table.name.key] if n}
        for line, usual in enumerate(table.name.values):
            if usual and str(usual).strip().casefold() not in there:
                row = table.row(worked, line, next(iter(table.entries)), EMPTY)
                yield row | {"line": "", "what": csvfile.guarded(str(usual))}


# Loading -----------------------------------------------------------------------------


@dataclass
class Loaded:
    """A workbook's entries with those of a file put in, and what is to be said of them."""

    units: Units
    entries: Entries
    added: list[str]
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    taken: int = 0


@dataclass
class _Loading:
    """What is gathered while a file is put in."""

    path: Path
    out: Loaded
    book: Book
    tables: dict[str, Table]
    sheet: csvfile.Sheet
    lines: dict[tuple[str, str, str], int] = field(default_factory=dict)
    given: dict[tuple[str, int], int] = field(default_factory=dict)
    chosen: list[tuple[int, Part, str]] = field(default_factory=list)
    units: list[tuple[int, Table, int, Part, Row]] = field(default_factory=list)

    def wrong(self, at: int, column: str, problem: str) -> None:
        """Note a problem of one cell."""
        self.out.problems.append(f"{self.path}, line {at}, {column}: {problem}")


def loaded(workbook: Path, prices: Path) -> Loaded:
    """Return the entries of a workbook with those of a price file put in."""
    filled = read_workbook(workbook)
    book, _ = laid_out(filled.units)
    entries = {
        key: list(filled.entries.get(key) or [part.value(n) for n in range(block.lines)])
        for key, (block, _, part) in book.entries().items()
    }
    out = Loaded(filled.units, entries, filled.added, [f"{workbook}: {p}" for p in filled.problems])
    sheet, problems = csvfile.read(prices, NEEDED, (*COLUMNS, *LEARNED))
    out.problems += problems
    if problems:
        return out
    out.notes += [f"{prices}: the column {c} is not read" for c in sheet.unknown]
    loading = _Loading(prices, out, book, tables(book), sheet)
    for at, row in sorted(sheet.rows, key=lambda r: not _leaves_out(loading, r[1])):
        _row(loading, at, row)
    for at, part, name in loading.chosen:
        if wrong := accept.choice_problem(book, part, name, entries):
            loading.wrong(at, "value", wrong)
    _same_units(loading)
    return out


def _leaves_out(loading: _Loading, row: Row) -> bool:
    """Tell whether a row empties a whole line, which is then free for another name."""
    table = loading.tables.get(row["table"].strip().casefold())
    return bool(
        table
        and table.name
        and table.name.key == f"{table.block.key}.{row['figure'].strip().casefold()}"
        and row["value"].strip() == EMPTY
    )


def _row(loading: _Loading, at: int, row: Row) -> None:
    wanted, name = (row[c].strip().casefold() for c in ("table", "figure"))
    table = loading.tables.get(wanted)
    if table is None:
        hint = near(wanted, loading.tables, "expected one of")
        loading.wrong(at, "table", f"came {row['table']!r}; {hint}")
        return
    if name not in table.entries:
        hint = near(name, table.entries, "expected one of")
        loading.wrong(at, "figure", f"came {row['figure']!r}; {hint}")
        return
    part = table.entries[name][1]
    if _leaves_out(loading, row):
        _leave_out(loading, table, at, row)
        return
    line = _find(loading, table, at, row)
    if line is None:
        return
    before = loading.given.setdefault((part.key, line), at)
    if before != at:
        loading.wrong(at, "figure", f"{name} of this line stands in line {before} already; "
                      "keep one of them")  # fmt: skip
        return
    came = row["value"].strip()
    _set(loading, at, "value", part, line, row["value"])
    if part is table.main:
        for column, said_of_it in table.beside.items():
            if said_of_it.kind == "entry" and column in row:
                new = row[column] if row[column].strip() or came in ("", EMPTY) else EMPTY
                _set(loading, at, column, said_of_it, line, new)
    loading.units.append((at, table, line, part, row))


def _leave_out(loading: _Loading, table: Table, at: int, row: Row) -> None:
    assert table.name
    name = csvfile.bare(row.get("what", ""))
    if not name.strip():
        loading.wrong(at, "what", "came nothing; expected the name of the line")
        return
    line = _called(loading.out.entries[table.name.key], name, range(table.block.lines))
    if line is not None:
        for _, part in table.entries.values():
            loading.out.entries[part.key][line] = None


def _called(names: list[Scalar], name: str, among: Iterable[int]) -> int | None:
    """Return the first of some lines that has a name, however it is written."""
    alike = name.strip().casefold()
    return next((n for n in among if str(names[n] or "").strip().casefold() == alike), None)


def _find(loading: _Loading, table: Table, at: int, row: Row) -> int | None:
    """Return the line of a table that a row means, or nothing where it means none."""
    block, mark = table.block, row.get("line", "").strip().casefold()
    if block.lines == 1:
        return 0
    if table.name:
        return _named(loading, table, at, row)
    if table.coded:
        codes = [c for c in block.codes if c]
        if mark in codes:
            return block.codes.index(mark)
        loading.wrong(at, "line", f"came {mark!r}; {near(mark, codes, 'expected one of')}: "
                      "the code of a line stands beside it in the workbook")  # fmt: skip
    elif mark.isdecimal() and 1 <= int(mark) <= block.lines:
        return int(mark) - 1
    else:
        loading.wrong(at, "line", f"came {mark!r}; expected its number, 1 to {block.lines}")
    return None


def _named(loading: _Loading, table: Table, at: int, row: Row) -> int | None:
    """Return the line of a name, or the first empty one with the name put in."""
    assert table.name
    key, name = table.name.key, csvfile.bare(row.get("what", ""))
    group = (table.block.key, row.get("line", "").strip(), name.strip().casefold())
    if group in loading.lines:
        return loading.lines[group]
    if not name.strip():
        loading.wrong(at, "what", "came nothing; expected the name of the line")
        return None
    if wrong := accept.problem(table.name, name):
        loading.wrong(at, "what", wrong)
        return None
    names, claimed = loading.out.entries[key], loading.lines.items()
    taken = {line for (block, *_), line in claimed if block == table.block.key}
    free = [n for n in range(table.block.lines) if n not in taken]
    line = _called(names, name, free)
    if line is None:
        line = next((n for own in (True, False) for n in free if _unused(loading, table, n, own)),
                    None)  # fmt: skip
        if line is None:
            loading.wrong(at, "what", f"{name!r} is not in {table.block.title}, and none of its "
                          f"{table.block.lines} lines is free: empty one, or take this "
                          "one out")  # fmt: skip
            return None
        names[line] = name
    loading.lines[group] = line
    return line


def _unused(loading: _Loading, table: Table, line: int, own: bool) -> bool:
    """Tell whether nothing is typed in a line: one for ``own`` names, or one that was emptied."""
    assert table.name
    if own and table.name.value(line):
        return False
    return all(
        loading.out.entries[p.key][line] in (None, "", p.value(line) if own else None)
        for _, p in table.entries.values()
    )


def _set(loading: _Loading, at: int, column: str, part: Part, line: int, came: str) -> None:
    """Put a cell of a file in the place of an entry, or say what is wrong with it."""
    if not came.strip():
        return
    if came.strip() == EMPTY:
        loading.out.entries[part.key][line] = None
        return
    commas, words = loading.sheet.commas, csvfile.bare(came)
    value: object = words
    if part.entry == "number":
        bare = words.strip().removesuffix("%") if is_percent(part) else words
        value = kept(part, csvfile.number(bare, commas))
    elif part.entry == "date":
        value = csvfile.day(words, commas)
    elif part.entry == "time":
        value = _clock(words)
    if value is None:
        loading.wrong(at, column, f"came {words.strip()!r}; expected {accept.expected(part)}: "
                      f"{_fix(part, commas)}")  # fmt: skip
    elif wrong := accept.problem(part, value):
        loading.wrong(at, column, f"{wrong}: correct it, or leave it empty")
    else:
        if part.entry == "choice":
            loading.chosen.append((at, part, words))
        loading.out.entries[part.key][line] = scalar(value)
        loading.out.taken += column == "value"


def _clock(words: str) -> time | None:
    try:
        return time.fromisoformat(words.strip().rjust(5, "0"))
    except ValueError:
        return None


def _fix(part: Part, commas: bool) -> str:
    if part.entry == "number" and commas:
        return "write it as 9,50; 1,234 could be two numbers, so write 1234 or 1,2340"
    return {
        "number": "write it as 9.50, without unit or words",
        "date": "write it as 2026-05-14",
        "time": "write it as 07:30",
    }[part.entry]


def _same_units(loading: _Loading) -> None:
    """Note each figure that a file gives for another unit, or a code for another thing."""
    worked = results(loading.out.units, loading.out.entries)
    for at, table, line, part, row in loading.units:
        unit = table.beside.get("unit") if part is table.main else None
        ours = part.unit if unit is None else str(worked[unit.key][line] or "")
        theirs = csvfile.bare(row.get("unit", "")).strip()
        if theirs and ours and theirs.casefold() != ours.casefold():
            loading.wrong(at, "unit", f"came {theirs!r}; its unit in the workbook is {ours!r}: "
                          "correct the figure and its unit")  # fmt: skip
        name, told = table.words(worked, line), csvfile.bare(row.get("what", "")).strip()
        if table.coded and row["value"].strip() and told and name and told != name.strip():
            loading.out.notes.append(f"{loading.path}, line {at}: {row['line']} is {told!r} there "
                                     f"and {name!r} in the workbook; loaded")  # fmt: skip
