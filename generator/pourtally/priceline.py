"""Which line of a workbook a row of a price file means.

A line is found by the name typed in it, by what it is called (a mix in another place of its
list is the same mix), by its code, or by its number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from . import accept, csvfile
from .csvfile import Row
from .hint import near
from .model import Block, Entries, Part, Scalar
from .pricetable import EMPTY, Table
from .template import Template

_ENOUGH = 50  # problems of a file, after which nobody is told what was meant


@dataclass
class Loaded:
    """A workbook's entries with those of a file put in, and what is to be said of them."""

    template: Template
    entries: Entries
    added: list[str]
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    taken: int = 0
    kept: str = ""


@dataclass
class Loading:
    """What is gathered while a file is put in."""

    path: Path
    out: Loaded
    tables: dict[str, Table]
    sheet: csvfile.Sheet
    lines: dict[tuple[str, str, str], int] = field(default_factory=dict)
    given: dict[tuple[str, int], int] = field(default_factory=dict)
    chosen: list[tuple[int, Part, str]] = field(default_factory=list)
    units: list[tuple[int, Table, int, Part, Row]] = field(default_factory=list)
    called: Entries = field(default_factory=dict)
    foreign: list[tuple[int, str, str]] = field(default_factory=list)
    no_days: list[tuple[int, str, str]] = field(default_factory=list)
    read_days: list[tuple[int, str, str]] = field(default_factory=list)
    order: str = ""

    def hint(self, word: str, known: Iterable[str]) -> str:
        """Return what was probably meant, as long as there are few problems."""
        many = len(self.out.problems) > _ENOUGH
        return "no such name" if many else near(word, known, "expected one of")

    def wrong(self, at: int, column: str, problem: str) -> None:
        """Note a problem of one cell."""
        self.out.problems.append(f"{self.path}, line {at}, {column}: {problem}")


def leaves_out(loading: Loading, row: Row) -> bool:
    """Tell whether a row empties a whole line, which is then free for another name."""
    table = loading.tables.get(row["table"].strip().casefold())
    return bool(
        table
        and table.name
        and table.name.key == f"{table.block.key}.{row['figure'].strip().casefold()}"
        and row["value"].strip() == EMPTY
    )


def leave_out(loading: Loading, table: Table, at: int, row: Row) -> None:
    """Empty the line that a row names."""
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


def find(loading: Loading, table: Table, at: int, row: Row) -> int | None:
    """Return the line of a table that a row means, or nothing where it means none."""
    if table.block.lines == 1:
        return 0
    if table.name:
        return _named(loading, table, at, row)
    mark, said = row.get("line", "").strip().casefold(), _says(row)
    line = _marked(table.block, mark)
    kin = _kin(table.block, line)
    alike = [n for n in kin if _same(loading.called[table.called.key][n], said)] if (
        table.called and said) else []  # fmt: skip
    if alike:
        return line if line in alike else alike[0]
    if line is None:
        _unknown(loading, table.block, at, mark, row)
    elif table.called and said and len(kin) > 1:
        if _holds(row):
            loading.out.notes.append(f"{loading.path}, line {at}: {said!r} is no line of "
                                     f"{table.block.title} in the workbook; left out")  # fmt: skip
        return None
    return line


def _says(row: Row) -> str:
    return csvfile.bare(row.get("what", "")).strip()


def _same(name: Scalar, said: str) -> bool:
    return str(name or "").strip().casefold() == said.casefold()


def _holds(row: Row) -> bool:
    given = (row.get(column, "").strip() for column in ("value", "date", "source"))
    return any(cell not in ("", EMPTY) for cell in given)


def _marked(block: Block, mark: str) -> int | None:
    """Return the line of a code, or of a number where lines have no codes."""
    if any(block.codes):
        return block.codes.index(mark) if mark and mark in block.codes else None
    return int(mark) - 1 if mark.isdecimal() and 1 <= int(mark) <= block.lines else None


def _kin(block: Block, line: int | None) -> list[int]:
    """Return the lines among which one may stand: those that follow from the same list."""
    lines = range(block.lines)
    if line is None or not any(block.codes):
        return list(lines)
    stem = re.sub(r"_\d+$", "", block.codes[line])
    return [n for n in lines if re.sub(r"_\d+$", "", block.codes[n]) == stem]


def _unknown(loading: Loading, block: Block, at: int, mark: str, row: Row) -> None:
    """Tell that a row names no line, where it says anything of one."""
    codes = [c for c in block.codes if c]
    if not codes:
        loading.wrong(at, "line", f"came {mark!r}; expected its number, 1 to {block.lines}")
    elif _holds(row):
        loading.wrong(at, "line", f"came {mark!r}; {near(mark, codes, 'expected one of')}: "
                      "the code of a line stands beside it in the workbook")  # fmt: skip


def _named(loading: Loading, table: Table, at: int, row: Row) -> int | None:
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
        line = _free(loading, table, free, row.get("line", "").strip())
        if line is None:
            loading.wrong(at, "what", f"{name!r} is not in {table.block.title}, and none of its "
                          f"{table.block.lines} lines is free: empty one, or take this "
                          "one out")  # fmt: skip
            return None
        names[line] = name
        for _, part in table.entries.values():
            if part.former:  # another line now: no choice of a former name stands for it
                loading.out.entries[part.key][line] = None
    loading.lines[group] = line
    return line


def _free(loading: Loading, table: Table, free: list[int], mark: str) -> int | None:
    """Return a line for a new name: the one of its number where nothing stands in it."""
    own = [n for n in free if str(n + 1) == mark]
    usual = [(n, own) for own in (True, False) for n in free]
    tried = [*((n, kind) for n in own for kind in (True, False)), *usual]
    return next((n for n, kind in tried if _unused(loading, table, n, kind)), None)


def _unused(loading: Loading, table: Table, line: int, own: bool) -> bool:
    """Tell whether nothing is typed in a line: one for ``own`` names, or one that was emptied."""
    assert table.name
    if own and table.name.value(line):
        return False
    return all(
        loading.out.entries[p.key][line] in (None, "", p.value(line) if own else None)
        for _, p in table.entries.values()
        if not p.former
    )
