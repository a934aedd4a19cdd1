"""A file of a company's figures into the entries of a job.

What a row leaves empty stays as it is; "(empty)" empties it.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from . import accept, csvfile, local
from .csvfile import Row
from .model import Part
from .percent import is_percent, kept
from .priceline import Loaded, Loading, find, leave_out, leaves_out
from .pricetable import COLUMNS, EMPTY, LEARNED, NEEDED, PLACE, Table, tables
from .read import read_workbook
from .scalar import scalar
from .signed import keep
from .template import Templates

_LAST = 2  # the turn of lines that are called by others
_MANY = 4  # a file of which more than one in so many rows has other units is of another system


def loaded(workbook: Path, prices: Path, templates: Templates, place: str = "") -> Loaded:
    """Return the entries of a workbook with those of a price file put in.

    Days in the file are in the order of ``place``, else of the place that it names itself.
    """
    filled = read_workbook(workbook, templates)
    entries = filled.every_entry()
    told, notes = ([f"{workbook}: {w}" for w in words] for words in (filled.problems, filled.notes))
    out = Loaded(filled.template, entries, filled.added, told, notes)
    fill(out, prices, str(workbook), place)
    return out


def fill(out: Loaded, prices: Path, job: str, place: str = "") -> None:
    """Put the figures of a file into the entries of a job, or say what is wrong with them."""
    book = out.template.book
    sheet, problems = csvfile.read(prices, NEEDED, (*COLUMNS, *LEARNED))
    out.problems += problems
    if problems:
        return
    out.notes += [f"{prices}: the column {c} is not read" for c in sheet.unknown]
    loading = Loading(prices, out, tables(book), sheet)
    if not _same_place(loading, place):
        return
    out.kept = keep(out.template, out.entries)
    rows = _unsigned(loading)
    for at, row in sorted(rows, key=lambda r: _turn(loading, r[1])):
        if _turn(loading, row) == _LAST and not loading.called:
            _call(loading)
        _row(loading, at, row)
    for at, part, name in loading.chosen:
        if wrong := accept.choice_problem(book, part, name, out.entries):
            loading.wrong(at, "value", wrong)
    _same_units(loading)
    _together(loading)
    out.notes += [f"{job}: {told}" for told in _orphans(out)]


def _same_place(loading: Loading, place: str) -> bool:
    """Take the row of the place out of a file; tell whether the workbook is for the same one.

    Figures of another place are refused, not asked about: money is in another currency, the
    taxes have other names and bases, and nothing here could convert them.
    """
    ours, rows = loading.out.template.book.local, loading.sheet.rows
    loading.order = local.said(place).dates if place else ours.dates
    for at, row in [r for r in rows if r[1]["table"].strip().casefold() == PLACE]:
        rows.remove((at, row))
        theirs = row["value"].strip().casefold()
        if theirs != ours.key:
            named = local.said(theirs).name if theirs in local.known() else repr(theirs)
            loading.wrong(at, "value", f"the figures are for {named}, the workbook is for "
                          f"{ours.name}: money and taxes are not converted. Where the figures do "
                          f"hold there, write {ours.key} in that cell")  # fmt: skip
            return False
    return True


def _turn(loading: Loading, row: Row) -> int:
    """Return when a row is taken: names first, for other lines are called by them."""
    table = loading.tables.get(row["table"].strip().casefold())
    if leaves_out(loading, row):
        return 0
    return 1 if table is None or table.name else _LAST


def _call(loading: Loading) -> None:
    """Work out what the lines are called, now that the names they follow from are known."""
    keys = frozenset(table.called.key for table in loading.tables.values() if table.called)
    loading.called = loading.out.template.results(loading.out.entries, keys)


def _unsigned(loading: Loading) -> list[tuple[int, Row]]:
    """Return the rows of a file but those of a contract that stands, which stays as signed."""
    out, rows = loading.out, loading.sheet.rows
    if not out.kept:
        return rows
    book = out.template.book
    sheet = book.parts[book.keys["contract_stands"]][0].sheet
    signed = {key for key, table in loading.tables.items() if table.block.sheet == sheet}
    left = [(at, row) for at, row in rows if row["table"].strip().casefold() not in signed]
    if fewer := len(rows) - len(left):
        out.notes.append(f"{loading.path}: {fewer} lines of {sheet} are left out: what was "
                         "signed stays")  # fmt: skip
    return left


def _orphans(out: Loaded) -> list[str]:
    """Return what a job chose that stands in no list any more."""
    book, lost = out.template.book, Counter[tuple[str, str, str]]()
    for key, (block, _, part) in book.entries().items():
        for value in out.entries[key] if part.entry == "choice" else ():
            if isinstance(value, str) and accept.choice_problem(book, part, value, out.entries):
                lost[value, block.title, part.limits.choices] += 1
    return [f"{block}: {value!r} is chosen {count} times and is in its list no more: choose another"
            for (value, block, _), count in lost.items()]  # fmt: skip


def _row(loading: Loading, at: int, row: Row) -> None:
    table, part = _meant(loading, at, row)
    if table is None or part is None:
        return
    if leaves_out(loading, row):
        leave_out(loading, table, at, row)
    elif (line := find(loading, table, at, row)) is not None:
        _figure(loading, table, part, line, at, row)


def _meant(loading: Loading, at: int, row: Row) -> tuple[Table | None, Part | None]:
    """Return which entry of which table a row gives, in the units of the workbook."""
    wanted, name = (row[c].strip().casefold() for c in ("table", "figure"))
    table = loading.tables.get(wanted)
    if table is None:
        hint = loading.hint(wanted, loading.tables)
        loading.wrong(at, "table", f"came {accept.shown(row['table'])}; {hint}")
        return None, None
    if name in table.entries:
        part, theirs = table.entries[name][1], _unit(row)
        if not theirs or _counts_by(table, part) or _same(theirs, part.unit or theirs):
            return table, part
        loading.foreign.append((at, "unit", _unlike(theirs, part.unit)))
    elif other := _in_other_units(table, name):
        loading.foreign.append((at, "figure", f"came {name!r}; here it is {other!r}"))
    else:
        hint = loading.hint(name, table.entries)
        loading.wrong(at, "figure", f"came {accept.shown(row['figure'])}; {hint}")
    return table, None


def _figure(loading: Loading, table: Table, part: Part, line: int, at: int, row: Row) -> None:
    """Put in a figure, and what its row says of it."""
    before = loading.given.setdefault((part.key, line), at)
    if before != at:
        loading.wrong(at, "figure", f"{row['figure'].strip().casefold()} of this line stands in "
                      f"line {before} already; "
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


def _set(loading: Loading, at: int, column: str, part: Part, line: int, came: str) -> None:
    """Put a cell of a file in the place of an entry, or say what is wrong with it."""
    if not came.strip():
        return
    if came.strip() == EMPTY:
        loading.out.entries[part.key][line] = None
        return
    commas, words = (
        loading.sheet.commas,
        accept.current(loading.out.template.book, part, csvfile.bare(came)),
    )
    value: object = words
    if part.entry == "number":
        bare = words.strip().removesuffix("%") if is_percent(part) else words
        sign = loading.out.template.book.local.sign
        value = kept(part, csvfile.number(bare, commas, sign))
    elif part.entry == "date":
        value = csvfile.day(words, loading.order)
        if value is None:
            loading.no_days.append((at, column, words.strip()))
            return
        if csvfile.day(words) is None:
            loading.read_days.append((at, words.strip(), value.isoformat()))
    elif part.entry == "time":
        value = csvfile.clock(words)
    if value is None:
        loading.wrong(at, column, f"came {accept.shown(words.strip())}; expected "
                      f"{accept.expected(part)}: {_fix(part, commas)}")  # fmt: skip
    elif wrong := accept.problem(part, value):
        loading.wrong(at, column, f"{wrong}: correct it, or leave it empty")
    else:
        if part.entry == "choice":
            loading.chosen.append((at, part, words))
        loading.out.entries[part.key][line] = scalar(value)
        loading.out.taken += column == "value"


def _fix(part: Part, commas: bool) -> str:
    if part.entry == "number" and commas:
        return "write it as 9,50; 1,234 could be two numbers, so write 1234 or 1,2340"
    return {
        "number": "write it as 9.50, without unit or words",
        "time": "write it as 07:30",
    }[part.entry]


def _counts_by(table: Table, part: Part) -> Part | None:
    """Return the part that says for one of what a figure is, where it stands beside it."""
    return table.beside.get("unit") if part is table.main else None


def _unit(row: Row) -> str:
    return csvfile.bare(row.get("unit", "")).strip()


def _same(theirs: str, ours: str) -> bool:
    """Tell whether two units are one; a file without a place may have had a sign of money."""
    bare = [re.sub(r"\$|^per ", "", unit).replace("/", "").strip() for unit in (theirs, ours)]
    return theirs.casefold() == ours.casefold() or ("$" in theirs and bare[0] == bare[1])


def _unlike(theirs: str, ours: str) -> str:
    return f"came {theirs!r}; its unit in the workbook is {ours!r}"


def _in_other_units(table: Table, name: str) -> str:
    """Return what a length in feet and inches, or in meters, is called in the other system."""
    stem, _, unit = name.rpartition(".")
    others = {"m": ("ft",), "ft": ("m",), "in": ("m",)}.get(unit, ())
    return next((f"{stem}.{o}" for o in others if f"{stem}.{o}" in table.entries), "")


def _same_units(loading: Loading) -> None:
    """Note each figure that a file gives for another unit, or a code for another thing."""
    worked = loading.out.template.results(loading.out.entries)
    for at, table, line, part, row in loading.units:
        unit = _counts_by(table, part)
        ours = str(worked[unit.key][line] or "") if unit else ""
        if (theirs := _unit(row)) and ours and not _same(theirs, ours):
            loading.foreign.append((at, "unit", _unlike(theirs, ours)))
        name, told = table.words(worked, line), csvfile.bare(row.get("what", "")).strip()
        if table.coded and row["value"].strip() and told and name and told != name.strip():
            loading.out.notes.append(f"{loading.path}, line {at}: {row['line']} is {told!r} there "
                                     f"and {name!r} in the workbook; loaded")  # fmt: skip


def _together(loading: Loading) -> None:
    """Tell slips that one cause brings about once, with the first of their lines."""
    if loading.foreign:
        if len(loading.foreign) * _MANY > len(loading.sheet.rows):
            loading.out.problems.clear()  # the other system of units: limits and names too
        at, column, wrong = min(loading.foreign)
        loading.wrong(at, column, f"{wrong}{_more(loading.foreign)}: nothing is converted; correct "
                      "figure and unit, or save them from a workbook in the units of this "
                      "one")  # fmt: skip
    if loading.read_days:
        at, came, taken = min(loading.read_days)
        more = _more([(n, "", "") for n, _, _ in loading.read_days])
        loading.out.notes.append(f"{loading.path}, line {at}: {came} is read as {taken}, "
                                 f"{loading.order}{more}")  # fmt: skip
    if loading.no_days:
        at, column, came = min(loading.no_days)
        loading.wrong(at, column, f"came {accept.shown(came)}{_more(loading.no_days)}; expected a "
                      "date that can be read in one way only: write it as 2026-05-14 or 14 May "
                      "2026. A spreadsheet that opens the file may write dates anew: have it take "
                      "the columns value and date as text")  # fmt: skip


def _more(slips: list[tuple[int, str, str]]) -> str:
    """Return in how many more lines the same is wrong."""
    lines = sorted({at for at, _, _ in slips})[1:]
    named = ", ".join(str(at) for at in lines[:_MANY]) + (", …" if len(lines) > _MANY else "")
    return f" (and so in {len(lines)} more lines: {named})" if lines else ""
