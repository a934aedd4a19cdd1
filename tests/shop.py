"""The templates as all tests of a worker share them, and what the program does with them.

A command loads its templates itself; tests ask by the system of units and load them once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path

from pourtally import build as _build
from pourtally import files, load, priceload, pricesave, read, share, values
from pourtally import learn as _learn
from pourtally import sketch as sketched
from pourtally.grid import Cell, Place
from pourtally.model import Book, Entries, Scalar, Size, Units
from pourtally.place import Places
from pourtally.priceline import Loaded
from pourtally.template import Template, Templates

TEMPLATES = Templates()
FINE, LOOK, STOP = 0.0, 1.0, 2.0
"""The states of a check, as cells hold them."""


@dataclass(frozen=True)
class Told(Template):
    """A template whose results are told, not worked out: what is made of them is quick to test."""

    worked: Entries = field(default_factory=dict)

    def results(self, entries: Entries, keys: frozenset[str] = frozenset()) -> Entries:
        """Return what was told, whatever the entries are."""
        return self.worked


def tables() -> tuple[files.Table, files.Table, dict[str, files.Table]]:
    """Return what the files of the trade say, to be changed: sheets, measures, items by name."""
    folder = files.templates_folder()
    sheets, measures = (files.read(folder / f"{name}.toml") for name in ("sheets", "units"))
    items = {p.name: files.read(p, upto="\n[[example]]") for p in files.items(folder)}
    return sheets, measures, items


def load_book(units: Units = "us", size: Size = "usual") -> Book:
    """Return the whole template in one system of units and one size."""
    return TEMPLATES[units, size].book


@lru_cache(maxsize=2)
def load_copy(units: Units) -> Book:
    """Return the template of the customer's copy."""
    return load.load_copy(units)


def laid_out(units: Units, size: Size = "usual") -> tuple[Book, Places]:
    """Return the template in one system of units and one size, with the place of every cell."""
    return TEMPLATES[units, size].book, TEMPLATES[units, size].places


def usual_cells(units: Units, size: Size = "usual") -> list[Cell]:
    """Return the cells of a blank workbook."""
    return TEMPLATES[units, size].blank


def work_out(
    units: Units, entries: Entries, size: Size = "usual"
) -> tuple[list[Cell], dict[Place, Scalar]]:
    """Return the cells of a workbook filled with entries, and its formulas' values."""
    return TEMPLATES[units, size].work_out(entries)


def results(
    units: Units, entries: Entries, keys: frozenset[str] = frozenset(), size: Size = "usual"
) -> Entries:
    """Return every entry and result of a job, or those of some keys alone."""
    return TEMPLATES[units, size].results(entries, keys)


@cache
def keys_of(units: Units, names: tuple[str, ...]) -> frozenset[str]:
    """Return the keys of parts, and of all parts of blocks, by their names."""
    parts = TEMPLATES[units, "usual"].book.parts
    found = {name: [k for k in parts if k == name or k.startswith(f"{name}.")] for name in names}
    assert all(found.values()), f"no block and no part: {[n for n, k in found.items() if not k]}"
    return frozenset(key for keys in found.values() for key in keys)


def read_jobs(
    paths: list[Path], asked: Units | None, size: Size | None = None
) -> tuple[list[_build.Job], list[str]]:
    """Return the jobs of some files and all problems."""
    return _build.read_jobs(paths, asked, size, TEMPLATES)


def build(units: Units, entries: Entries, path: Path, size: Size = "usual") -> None:
    """Write one workbook with its true values."""
    _build.build(TEMPLATES[units, size], entries, path)


def read_workbook(path: Path) -> read.Filled:
    """Return the entries of a filled-in workbook."""
    return read.read_workbook(path, TEMPLATES)


def report(path: Path) -> values.Report:
    """Return every figure of a workbook, worked out afresh."""
    return values.report(path, TEMPLATES)


def write_copy(units: Units, worked: Entries, path: Path) -> None:
    """Write the customer's copy of a job from all its figures by key."""
    share.write_copy(load_copy(units), worked, path)


def saved(workbook: Path) -> tuple[str, list[str]]:
    """Return the price file of a workbook and all problems."""
    text, problems, _ = pricesave.saved(workbook, TEMPLATES)
    return text, problems


def loaded(workbook: Path, prices: Path) -> Loaded:
    """Return the entries of a workbook with those of a price file put in."""
    return priceload.loaded(workbook, prices, TEMPLATES)


def learn(workbooks: Iterable[Path]) -> _learn.School:
    """Return what finished workbooks teach."""
    return _learn.learn(workbooks, TEMPLATES)


def sketch(path: Path) -> sketched.Sketch:
    """Return the drawing of a job file or of a filled-in workbook."""
    return sketched.sketch(path, TEMPLATES)


def clock(value: float) -> str:
    """Return what a cell shows of a time: the day does not count, and minutes are cut."""
    hour, minute = divmod(int(value % 1 * 24 * 60), 60)
    return f"{hour % 12 or 12}:{minute:02} {'AM' if hour < 12 else 'PM'}" if value else ""
