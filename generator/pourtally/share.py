"""The customer's copy: a separate workbook with prices and nothing behind them.

Its template names, field by field, what it takes from the job's workbook; what is not
named there cannot come along.  The job's workbook is only read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from . import wording
from .build import build
from .company import NOBODY, Company
from .formula import find
from .load import load_copy
from .model import Block, Book, Chart, Entries, Part, Run, Scalar, Series, TemplateError
from .output import OVER, Care
from .read import Filled, read_workbook
from .style import PLAIN, Face
from .template import Template, Templates
from .values import open_stops

_EMPTY = (None, "")


class RefusedError(Exception):
    """A job that is not fit to be shown to a customer; ``problems`` says why."""

    def __init__(self, problems: list[str]) -> None:
        """Take everything that stands in the way."""
        super().__init__("; ".join(problems))
        self.problems = problems


def share(
    workbook: Path, copy: Path, templates: Templates, company: Company = NOBODY,
    replace_it: bool = True,
) -> list[str]:  # fmt: skip
    """Write the customer's copy of a job's workbook and return notes on how it was read.

    Raises ``RefusedError`` if the job is not fit to be shown, ``UnusableError`` where the file
    is no workbook of ours.
    """
    filled = read_workbook(workbook, templates)
    worked, problems = offered(filled, company)
    if problems:
        raise RefusedError(problems)
    job = filled.template.book
    write_copy(copy_book(job, company), worked, copy, company.face,
               Care(replace_it, (workbook,)))  # fmt: skip
    stands = worked.get(job.keys.get("contract_stands", ""), [None])[0]
    return filled.notes + [job.words["contract_copied"]] * bool(stands)


def offered(filled: Filled, company: Company) -> tuple[Entries, list[str]]:
    """Return all figures of a job, and what stands in the way of showing them to a customer."""
    worked = filled.template.results(company.fill(filled.entries))
    problems = filled.problems + open_stops(filled.template.book, worked)
    book = filled.template.book
    words = load_copy(book.units, book.local.key).words
    if not problems and worked[words["needs"]][0] in (0.0, *_EMPTY):
        problems.append(words["nothing"])
    return worked, problems


def copy_book(job: Book, company: Company) -> Book:
    """Return the template of a job's copy, with the company's own words."""
    return wording.worded(load_copy(job.units, job.local.key), company.words)


def fitted(job: Book, worked: Entries, company: Company = NOBODY) -> tuple[Book, Entries]:
    """Return the copy of a job as it is written, and what its parts are given."""
    return _fitted(copy_book(job, company), worked)


def offered_lines(job: Book, worked: Entries) -> list[int]:
    """Return the lines of the job's options that stand in its copy, in order."""
    names = worked[job.keys["option_offer"]]
    return [line for line, name in enumerate(names) if name not in _EMPTY]


def write_copy(
    book: Book, worked: Entries, path: Path, face: Face = PLAIN, care: Care = OVER
) -> None:
    """Write the customer's copy of a job from the copy's book and all the job's figures by key."""
    book, given = _fitted(book, worked)
    build(Template(book), given, path, face, care)


def _fitted(book: Book, worked: Entries) -> tuple[Book, Entries]:
    """Return the copy with as many lines as the job has, and what each of its parts holds.

    A line is there where the first part given to its block holds something, a field of a form
    where it is given something; a block without lines is left out, unless a formula needs it:
    then it keeps an empty one.
    """
    needed = {
        ref.part.split(".")[0]
        for block, _, part in book.parts.values()
        for text in part.formulas
        for ref in find(book, block, text, part.key)
    }
    given: Entries = {}
    blocks = []
    for block in book.blocks:
        columns = _columns(block, worked)
        lines = len(next(iter(columns.values()))) if columns else block.lines
        if lines or block.key in needed:
            empty = {key for key, column in columns.items() if set(column) <= set(_EMPTY)}
            fields = [f for f in block.fields if block.shape != "form" or f.key not in empty]
            blocks.append(replace(block, lines=max(1, lines), fields=tuple(fields)))
            given |= columns
    many = {block.key: block.lines for block in blocks}
    blocks = [replace(b, charts=tuple(_drawn(b.charts, many, given))) for b in blocks]
    return replace(book, blocks=tuple(blocks)), given


def _drawn(charts: Iterable[Chart], lines: dict[str, int], given: Entries) -> Iterator[Chart]:
    """Yield drawings without the series of lines that the job does not have, or that show nothing.

    Areas stand on one another: all of a drawing stay while one of them shows.
    """
    over = True
    for chart in charts:
        runs = ((s, (s.x, s.y)) for s in chart.series)
        there = [s for s, xy in runs if all(r.last_line < _lines(r, lines) for r in xy)]
        seen = [s for s in there if _shows(s, given)]
        if seen or chart.same:
            kept = there if chart.fills else seen
            yield replace(chart, series=tuple(kept), over=chart.over and not over)
            over = False


def _lines(run: Run, lines: dict[str, int]) -> int:
    return lines.get(run.first.split(".")[0], 0)


def _shows(series: Series, given: Entries) -> bool:
    """Tell whether a line has a length, or an area a height and a look."""
    x, y = (_points(run, given) for run in (series.x, series.y))
    if series.fill:
        return series.fill != "none" and any(y)
    return bool(series.name) or len(set(zip(x, y, strict=True))) > 1


def _points(run: Run, given: Entries) -> list[Scalar]:
    """Return what stands in the cells of a run, down a column or along a line."""
    if run.first == run.last:
        return given[run.first][run.first_line : run.last_line + 1]
    keys = list(given)  # in the order in which they stand
    between = keys[keys.index(run.first) : keys.index(run.last) + 1]
    return [given[key][run.first_line] for key in between]


def _columns(block: Block, worked: Entries) -> Entries:
    """Return what a block is given, without the lines that hold nothing."""
    parts = [p for f in block.fields for p in f.parts if p.given]
    columns = {p.key: _column(worked, p)[: block.lines] for p in parts}
    if block.shape != "table" or not parts:
        return columns
    filled = [n for n, value in enumerate(columns[parts[0].key]) if value not in _EMPTY]
    return {key: [column[n] for n in filled] for key, column in columns.items()}


def _column(worked: Entries, part: Part) -> list[Scalar]:
    """Return what a part is given, or zeros where a figure named after ``unless`` is not 0."""
    given, _, unless = part.given.partition(" unless ")
    for key in filter(None, (given, unless)):
        if key not in worked:
            raise TemplateError(f"{part.key}: given '{key}' is no figure of the workbook")
    return [0.0] * len(worked[given]) if unless and worked[unless][0] else worked[given]
