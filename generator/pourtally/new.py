"""A commented job file to start from."""

from __future__ import annotations

from pathlib import Path

from .files import templates_folder
from .output import Care, UseError, free, write_text


def start_job(path: Path, replace: bool) -> None:
    """Write the job file to start from under a name of the user's choice."""
    if path.suffix.lower() != ".toml":
        raise UseError(f"{path}: a job file's name ends in .toml, such as smith-patio.toml")
    free([path], replace)
    text = (templates_folder() / "new-job.toml").read_text(encoding="utf-8")
    write_text(path, text, Care(replace))
