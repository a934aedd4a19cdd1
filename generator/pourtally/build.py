"""Job files to workbooks: entries to cells to values to a file."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from . import local
from .company import NOBODY, Company
from .files import Table
from .jobfile import job_entries, job_form, job_place, read_job
from .model import Entries, Size, Units
from .output import OVER, Care
from .priceline import Loaded
from .priceload import fill
from .style import PLAIN, Face
from .template import Template, Templates
from .write import write


@dataclass(frozen=True)
class Job:
    """One workbook to build: its name, its template and what is filled in.

    ``notes`` say what was taken otherwise than it was written.
    """

    name: str
    template: Template
    entries: Entries
    notes: tuple[str, ...] = ()


def read_file(
    path: Path | None,
    asked: Units | None,
    size: Size | None,
    templates: Templates,
    company: Company = NOBODY,
    place: str = "",
) -> tuple[Job | None, list[str]]:
    """Return the job of a file, a blank one where there is no file, and all its problems."""
    if place and (wrong_place := local.problem(place)):
        return None, [f"--place: {wrong_place}"]
    if not path:
        ours = asked or (local.said(place).units if place else "us")
        blank = templates[ours, size or "usual", place]
        name = blank.book.words["blank_job"]
        if not company.figures:
            entries, wrong = job_entries(blank.book, company.says, "a new job")
            return Job(name, blank, entries if company.says else {}, ()), wrong
        entries, notes, wrong = _brought(blank, company.says, company.figures, "a new job")
        return Job(name, blank, entries, tuple(notes)), wrong
    tables, problems = read_job(path)
    if problems:
        return None, problems
    units, room, problems = job_form(tables, asked, size, str(path))
    there, more = job_place(tables, place, str(path))
    problems += more
    if not (units and room) or more:
        return None, problems
    template = templates[units, room, there]
    tables = company.under(tables)
    larger = partial(templates.larger, template.book)
    notes = []
    entries, wrong = job_entries(template.book, tables, str(path), larger, notes)
    if company.figures and not problems + wrong:
        entries, told, wrong = _brought(template, tables, company.figures, str(path))
        notes += told
    return Job(path.stem, template, entries, tuple(notes)), problems + wrong


def _brought(
    template: Template, tables: Table, figures: Path, where: str
) -> tuple[Entries, list[str], list[str]]:
    """Return the entries of a job with the company's figures where it says none, notes, problems.

    They are put in once the job's own names are known, by which lines are found.
    """
    entries, _ = job_entries(template.book, tables, where)
    found = Loaded(template, entries, [])
    fill(found, figures, where)
    if found.kept:
        found.notes.append(f"{where}: {found.kept}")
    entries, _ = job_entries(template.book, tables, where, over=found.entries)
    return entries, found.notes, found.problems


def read_jobs(
    paths: list[Path],
    asked: Units | None,
    size: Size | None,
    templates: Templates,
    company: Company = NOBODY,
    place: str = "",
) -> tuple[list[Job], list[str]]:
    """Return the jobs of some files, a blank one where there are none, and all problems."""
    several: list[Path] | list[None] = paths or [None]
    found = [read_file(path, asked, size, templates, company, place) for path in several]
    return [job for job, _ in found if job], [told for _, problems in found for told in problems]


def build(
    template: Template, entries: Entries, path: Path, face: Face = PLAIN, care: Care = OVER
) -> None:
    """Write one workbook with its true values to ``path``, whole or not at all."""
    write(template.book, template.places, *template.work_out(entries), path, face, care)
