"""The demo: jobs that come with the templates, and the first one's copy for its customer."""

from __future__ import annotations

from pathlib import Path

from .build import read_jobs
from .company import NOBODY, Company
from .companyfile import read_company
from .files import templates_folder
from .load import load_copy
from .many import Task
from .share import write_copy
from .template import Templates

_JOBS = ("demo", "finished")
"""A job to offer, and one that is done, with what it really cost."""


def demo_jobs() -> list[Path]:
    """Return the job files of the demo, or the first job file where none is called so."""
    jobs = sorted((templates_folder() / "jobs").glob("*.toml"))
    return [j for j in jobs if j.stem in _JOBS] or jobs[:1]


def demo_tasks(folder: Path, templates: Templates) -> list[Task]:
    """Return the workbooks of the demo to build into a folder."""
    return [
        Task(job, None, None, folder / f"{job.stem}.xlsx", _company(job, templates))
        for job in demo_jobs()
    ]


def write_demo_copy(path: Path, templates: Templates) -> None:
    """Write the customer's copy of the first job of the demo."""
    first = demo_jobs()[0]
    company = _company(first, templates)
    (job,), _ = read_jobs([first], None, None, templates, company)
    worked = job.template.results(job.entries)
    write_copy(
        load_copy(job.template.units, job.template.book.local.key), worked, path, company.face
    )


def _company(job: Path, templates: Templates) -> Company:
    """Return whose job it is: of the company file that is called as the job is, if there is one."""
    file = templates_folder() / "company" / job.name
    return read_company(file, templates)[0] if file.is_file() else NOBODY
