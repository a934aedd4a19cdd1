"""Job files to workbooks: entries to cells to values to a file."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from .jobfile import job_entries, job_form, read_job
from .model import Entries, Size, Units
from .template import Template, Templates
from .write import write


@dataclass(frozen=True)
class Job:
    """One workbook to build: its name, its template and what is filled in."""

    name: str
    template: Template
    entries: Entries


def read_jobs(
    paths: list[Path], asked: Units | None, size: Size | None, templates: Templates
) -> tuple[list[Job], list[str]]:
    """Return the jobs of some files, a blank one where there are none, and all problems."""
    if not paths:
        blank = templates[asked or "us", size or "usual"]
        return [Job(blank.book.words["blank_job"], blank, {})], []
    jobs: list[Job] = []
    problems: list[str] = []
    for path in paths:
        tables, found = read_job(path)
        if not found:
            units, room, found = job_form(tables, asked, size, str(path))
            if units and room:
                template = templates[units, room]
                larger = partial(templates.larger, template.book)
                entries, wrong = job_entries(template.book, tables, str(path), larger)
                jobs.append(Job(path.stem, template, entries))
                found += wrong
        problems += found
    return jobs, problems


def build(template: Template, entries: Entries, path: Path) -> None:
    """Write one workbook with its true values to ``path``, whole or not at all."""
    write(template.book, template.places, *template.work_out(entries), path)
