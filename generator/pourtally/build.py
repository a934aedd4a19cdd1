"""Build one workbook: entries to cells to values to a file."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from .grid import Cell, enter, lay
from .jobfile import job_entries, job_units, read_job
from .load import load_book
from .model import Book, Entries, Scalar, Units
from .place import Places, place
from .recalc import Calculator, Place
from .write import write

BLANK = "flatwork"
"""The name of a workbook built without a job file."""


@dataclass(frozen=True)
class Job:
    """One workbook to build: its name, its units and what is filled in."""

    name: str
    units: Units
    entries: Entries


def read_jobs(paths: list[Path], asked: Units | None) -> tuple[list[Job], list[str]]:
    """Return the jobs of some files, a blank one where there are none, and all problems."""
    if not paths:
        return [Job(BLANK, asked or "us", {})], []
    jobs: list[Job] = []
    problems: list[str] = []
    for path in paths:
        tables, found = read_job(path)
        if not found:
            units, found = job_units(tables, asked, str(path))
            if units:
                entries, wrong = job_entries(load_book(units), tables, str(path))
                jobs.append(Job(path.stem, units, entries))
                found += wrong
        problems += found
    return jobs, problems


@lru_cache(maxsize=2)
def laid_out(units: Units) -> tuple[Book, Places]:
    """Return the template in one system of units, with the place of every cell."""
    book = load_book(units)
    return book, place(book)


@lru_cache(maxsize=2)
def usual_cells(units: Units) -> list[Cell]:
    """Return the cells of a blank workbook; their formulas are the same for every job."""
    return lay(*laid_out(units))


@lru_cache(maxsize=2)
def calculator(units: Units) -> Calculator:
    """Return the engine with the formulas of one system of units in it."""
    return Calculator(usual_cells(units), [s.name for s in laid_out(units)[0].sheets])


def work_out(units: Units, entries: Entries) -> tuple[list[Cell], dict[Place, Scalar]]:
    """Return the cells of a workbook filled with entries, and its formulas' values."""
    book, _ = laid_out(units)
    cells = enter(book, usual_cells(units), entries)
    return cells, calculator(units).values(cells)


def build(units: Units, entries: Entries, path: Path) -> None:
    """Write one workbook with its true values to ``path``, whole or not at all."""
    book, places = laid_out(units)
    cells, values = work_out(units, entries)
    write(book, places, cells, values, path)


def results(units: Units, entries: Entries) -> dict[str, list[Scalar]]:
    """Return every entry and result of a job: {part key: one value a line}."""
    cells, values = work_out(units, entries)
    out: dict[str, list[Scalar]] = {}
    for cell in cells:
        if cell.part:
            value = values.get((cell.sheet, cell.row, cell.column), cell.content)
            out.setdefault(cell.part, []).append(value)
    return out
