"""A job, from its text file or its workbook, to its drawing and what is told under it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from .build import read_file
from .drawn import Drawing, drawn
from .model import Book, Entries
from .output import UseError
from .paper import Foot
from .read import read_workbook
from .template import Template, Templates
from .values import one_line, open_stops, plain

KINDS = (".svg", ".pdf", ".dxf", ".png")
"""How the name of a drawing's file may end."""


@dataclass(frozen=True)
class Sketch:
    """The drawing of a job, the words under it, everything wrong with the job, and notes."""

    book: Book
    drawing: Drawing
    foot: Foot
    problems: list[str]
    notes: list[str]


class UnreadError(Exception):
    """A job file that cannot be worked out; ``problems`` says why."""

    def __init__(self, problems: list[str]) -> None:
        """Take everything that is wrong with the file."""
        super().__init__("; ".join(problems))
        self.problems = problems


def sketch(path: Path, templates: Templates) -> Sketch:
    """Draw the job of a job file, or of a filled-in workbook.

    Raises ``UnreadError`` or ``UnusableError`` where the file is neither, and ``UseError`` where
    nothing is measured yet.
    """
    template, entries, problems, notes = _taken(path, templates)
    book = template.book
    figures = template.results(entries)
    stops = open_stops(book, figures, money=False)
    drawing = drawn(template, entries)
    if not drawing.extent:
        raise UseError(f"{path}: nothing to draw yet: {book.words['plan_empty']}")
    warning = book.words["plan_stops"].format(count=len(stops)) if stops else ""
    day = plain(book.parts[book.keys["day"]][2], figures[book.keys["day"]][0])
    title = one_line(str(figures[book.keys["job"]][0] or "")) or path.stem
    foot = Foot(title, tuple([str(day)] if day else []), warning)
    return Sketch(book, drawing, foot, problems + stops, notes)


def drawing_file(path: Path) -> Path:
    """Return a path whose name ends as a drawing's may, or raise ``UseError``."""
    if path.is_dir() or path.suffix.lower() not in KINDS:
        raise UseError(f"{path}: expected a file whose name ends in {', '.join(KINDS)}")
    return path


def _taken(path: Path, templates: Templates) -> tuple[Template, Entries, list[str], list[str]]:
    """Return what is typed in a file, with the template it fills, all problems, and notes."""
    if path.suffix.lower() != ".toml":
        filled = read_workbook(path, templates)
        return filled.template, filled.entries, filled.problems, filled.notes
    job, problems = read_file(path, None, None, templates)
    if problems or not job:
        raise UnreadError(problems)
    return job.template, job.entries, [], []
