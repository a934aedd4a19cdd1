"""Where files go: their names, whole, and never over one that is there unless told so."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

FOLDER = Path("output")


class UseError(Exception):
    """What was asked for cannot be done; the text says why and what to do."""


def targets(names: list[str], out: str | None, replace: bool) -> list[Path]:
    """Return the workbook of each job, or raise ``UseError`` where one cannot be written."""
    place = Path(out) if out else FOLDER
    if place.is_dir() or not place.suffix:
        paths = [place / f"{name}.xlsx" for name in names]
    elif place.suffix.lower() != ".xlsx":
        raise UseError(f"{out}: a workbook's name ends in .xlsx; a folder must exist already")
    elif len(names) > 1:
        raise UseError(f"{out}: {len(names)} jobs do not fit in one workbook; give a folder")
    else:
        paths = [place]
    _all_different(paths)
    free(paths, replace)
    return paths


def with_suffix(path: Path, suffix: str) -> Path:
    """Return a path whose name ends as it must, or raise ``UseError``."""
    if path.is_dir() or path.suffix.lower() != suffix:
        raise UseError(f"{path}: expected a file whose name ends in {suffix}")
    return path


def free(paths: list[Path], replace: bool) -> None:
    """Raise ``UseError`` where a file stands already and may not be replaced."""
    taken = [str(p) for p in paths if p.is_dir() or (p.exists() and not replace)]
    if taken:
        raise UseError(
            f"{', '.join(taken)}: there already, nothing was written; "
            "give another name, or --replace to write over a file"
        )


@contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Hand out a file beside ``path`` to write, and rename it there once all of it is written.

    Where anything goes wrong, it is taken away and ``path`` stays as it was; an ``OSError``
    then names ``path``, for nobody knows the other.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    part: Path | None = None
    try:
        handle, name = tempfile.mkstemp(suffix=path.suffix, prefix=".part-", dir=path.parent)
        os.close(handle)
        part = Path(name)
        yield part
        part.chmod(0o644)
        part.replace(path)
    except BaseException as error:
        if part:
            part.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise OSError(error.errno, error.strerror or str(error), str(path)) from error
        raise


def write_text(path: Path, text: str) -> None:
    """Write a text, whole or not at all."""
    with whole(path) as part:
        part.write_text(text, encoding="utf-8", newline="\n")


def _all_different(paths: list[Path]) -> None:
    seen: set[str] = set()
    for path in paths:
        name = str(path).casefold()  # as Windows and macOS compare names
        if name in seen:
            raise UseError(f"{path}: two jobs would be written to it; rename one of the job files")
        seen.add(name)
