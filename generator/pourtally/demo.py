"""The demo jobs that come with the templates."""

from __future__ import annotations

from pathlib import Path

from .load import templates_folder


def demo_jobs() -> list[Path]:
    """Return the job files of the demo, or the first job file where none is called so."""
    jobs = sorted((templates_folder() / "jobs").glob("*.toml"))
    return [j for j in jobs if j.name.startswith("demo")] or jobs[:1]
