"""The demo: jobs that come with the templates, and the first one's copy for its customer."""

from __future__ import annotations

from pathlib import Path

from .build import read_jobs
from .files import templates_folder
from .load import load_copy
from .share import write_copy
from .template import Templates

_JOBS = ("demo", "finished")
"""A job to offer, and one that is done, with what it really cost."""


def demo_jobs() -> list[Path]:
    """Return the job files of the demo, or the first job file where none is called so."""
    jobs = sorted((templates_folder() / "jobs").glob("*.toml"))
    return [j for j in jobs if j.stem in _JOBS] or jobs[:1]


def write_demo_copy(path: Path, templates: Templates) -> None:
    """Write the customer's copy of the first job of the demo."""
    (job,), _ = read_jobs(demo_jobs()[:1], None, None, templates)
    write_copy(load_copy(job.template.units), job.template.results(job.entries), path)
