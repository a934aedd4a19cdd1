"""Three sizes of workbook: the same job has the same figures in each that it fits."""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import openpyxl
import pytest

import engines
from conftest import JOBS
from pourtally import learn as school
from pourtally.grid import is_formula
from pourtally.model import SIZES, Book, Entries, Scalar, Size
from pourtally.priceline import Loaded
from pourtally.pricetable import tables
from shop import (
    learn,
    load_book,
    loaded,
    read_jobs,
    read_workbook,
    results,
    saved,
    usual_cells,
    write_copy,
)
from test_engines import ERRORS, disagreements
from test_read import repack
from test_structure import shown_short

Shelf = Callable[[str], Path]
OTHERS: tuple[Size, ...] = ("small", "large")
OF_THE_JOB = {"own"}
"""A table on a sheet of the company's that each job fills."""
LINES_THERE = {
    "next.address",
    "open.address",
    "piece_fills.at",
    "piece_fills.flight",
    "piece_fills.piece",
    "yard_scale.flights",
    "yard_scale.lines",
    "crew_days.at",
    "estimate.at",
    "yard.host",
    "piece_hosts.host",
    "heights_said.at",
    "rounds.at",
    *("one_legs.next", "one_walk.lines", "one_walk.place"),
    "round_fills.piece",
    "piece_hosts.sketch",
    "stripes.upright",
    "stripes.level",
    *(f"yard_scale.{k}" for k in ("walks", "outlines", "curves", "arcs", "pieces", "steps")),
    "proposal_prices.at",
    "receipts.at",
}
"""Numbers of lines of a list that has more of them in a larger workbook."""


pytestmark = pytest.mark.xdist_group("sizes")  # its workbooks are made once


def lines(book: Book, key: str) -> int:
    return book.parts[key][0].lines


def by_line(book: Book, worked: Entries, key: str) -> dict[str | int, Scalar]:
    """Return the values of a part by the codes of its lines, else by their numbers."""
    group = book.parts[key][0].group
    codes = next((b.codes for b in book.blocks if b.key == group), ())
    return dict(zip(codes or range(len(worked[key])), worked[key], strict=True))


# The same job ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "size"), [(n, s) for n in ("finished", "courtyard-metric") for s in OTHERS]
)
def test_a_job_has_the_same_figures_in_every_size(name: str, size: Size) -> None:
    ((usual, there), (other, here)) = (worked(name, one) for one in ("usual", size))
    assert usual.parts.keys() == other.parts.keys()
    differ = {
        key: (one, two)
        for key, (_, _, part) in usual.parts.items()
        if part.kind in ("entry", "formula") and key not in LINES_THERE
        for one, two in [(by_line(usual, there, key), by_line(other, here, key))]
        if any(one[line] != two[line] for line in one.keys() & two.keys())
        or any(held(usual, key, one[line]) for line in one.keys() - two.keys())
    }
    assert differ == {}


@lru_cache
def worked(name: str, size: Size) -> tuple[Book, Entries]:
    (job,), problems = read_jobs([JOBS[name]], None, size)
    assert problems == []
    return job.template.book, results(job.template.units, job.entries, size=size)


def held(book: Book, key: str, value: Scalar) -> bool:
    """Tell whether an order, an amount or a time stands on a line that another size lacks."""
    return book.parts[key][2].role == "order" and value not in (None, "", 0.0)


def test_a_customer_gets_the_same_copy_from_every_size(tmp_path: Path) -> None:
    copies = []
    for size in SIZES:
        write_copy("us", worked("demo", size)[1], tmp_path / f"{size}.xlsx")
        copies.append(seen_of(tmp_path / f"{size}.xlsx"))
    assert copies[0] == copies[1] == copies[2]


def seen_of(copy: Path) -> tuple[list[list[object]], int]:
    """Return what a customer sees: the cells of the first sheet, and how many drawings."""
    with zipfile.ZipFile(copy) as package:
        drawings = sum(name.startswith("xl/charts/chart") for name in package.namelist())
    page = openpyxl.load_workbook(copy, data_only=True).worksheets[0]
    return [[cell.value for cell in row] for row in page.iter_rows()], drawings


def test_finished_jobs_teach_the_same_in_every_size(shelf: Shelf, tmp_path: Path) -> None:
    told = []
    for name in ("finished", "finished-small"):
        path = tmp_path / "finished.xlsx"
        path.write_bytes(shelf(name).read_bytes())
        told.append(school.csv_text(learn([path]).learned))
    assert told[0] == told[1]
    assert told[0].count("\n") > 10


# What is alike, and what is not ----------------------------------------------------------


@pytest.mark.parametrize("size", OTHERS)
def test_what_a_company_keeps_has_the_same_lines_in_every_size(size: Size) -> None:
    usual, other = (tables(load_book("us", one)) for one in ("usual", size))
    assert usual.keys() == other.keys()
    differ = {
        key
        for key, table in usual.items()
        if (table.block.lines, table.block.codes)
        != (other[key].block.lines, other[key].block.codes)
    }
    assert differ == OF_THE_JOB


@pytest.mark.parametrize("size", OTHERS)
def test_every_formula_is_short_in_every_size(size: Size) -> None:
    cells = usual_cells("us", size)
    formulas = [
        (c.part, shown_short(str(c.content))) for c in cells if c.part and is_formula(c.content)
    ]
    assert len(formulas) > 10_000
    # limits count the words of a list one by one, and visits have six
    assert {key for key, f in formulas if len(f) > 255} <= {"limits.count"}
    assert max(len(f) for _, f in formulas) <= 285


def test_a_small_workbook_is_light(shelf: Shelf) -> None:
    path = shelf("demo-small")
    # 3,300 formulas and 230 KB are for drawings: the whole yard, and one shape by itself;
    # 180 keep a price as it was signed, and find what was billed or typed twice;
    # 130 tell the tax of a bill, and what was billed and paid; 300 find an error value in words,
    # or a name to choose by that COUNTIF would read as a pattern
    assert len(engines.formula_cells(path)) <= 25_200
    assert path.stat().st_size <= 850 * 1024  # it goes to phones


@pytest.mark.parametrize("size", SIZES)
def test_every_banded_rectangle_outline_and_walk_is_drawn(size: Size) -> None:
    book = load_book("us", size)
    plan = next(b.charts for b in book.blocks if b.key == "plan")
    drawn = [(s.x.first, s.x.first_line) for chart in plan for s in chart.series]
    for first, of, run in (
        ("slab_plan.from", "bands.length", 1),
        ("upright.x", "bands.length", 32),
        ("corners.plan_x", "outlines.count", 24),
        ("legs.left_x0", "legs.kind", 1),
        ("walk_plan.left_x", "walks.width", 1),
        ("sketches.x0", "sketches.x0", 1),
    ):
        lines_drawn = sorted({line for one, line in drawn if one == first})
        assert lines_drawn == [run * n for n in range(lines(book, of))], first


@pytest.mark.parametrize("size", OTHERS)
def test_one_filled_to_the_last_line_is_worked_out_right(size: Size, shelf: Shelf) -> None:
    path = shelf(f"filled-us-{size}")
    assert disagreements(path, engines.by_ironcalc(path)) == []
    assert [v for v in engines.stored(path).values() if v in ERRORS] == []
    found = read_workbook(path)
    assert (found.template.book.size, found.problems) == (size, [])
    assert results("us", found.entries, size=size)["status.stops"] == [0]


# A job that does not fit -----------------------------------------------------------------


def problems(tmp_path: Path, text: str, size: Size | None = None) -> list[str]:
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return [p.removeprefix(f"{path}: ") for p in read_jobs([path], None, size)[1]]


PIECE = '[[pieces]]\nshape = "Rectangle"\na = 5\nb = 4\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('size = "small"\n' + 14 * PIECE, ['14 lines, small has 12; size = "usual" takes 40']),
        ('size = "small"\n' + 41 * PIECE, ['41 lines, small has 12; size = "large" takes 120']),
        (50 * PIECE, ['50 lines, usual has 40; size = "large" takes 120']),
        (41 * PIECE + PIECE.replace("shape", "line = 121\nshape"),
         ["121 lines, the largest workbook has 120; use a second job file"]),
        ('size = "small"\n' + 12 * PIECE, []),
        ('size = "large"\n' + 120 * PIECE, []),
    ],
)  # fmt: skip
def test_a_job_that_does_not_fit_is_told_which_size_does(
    text: str, told: list[str], tmp_path: Path
) -> None:
    assert problems(tmp_path, text) == [f"pieces: {one}" for one in told]


def test_everything_that_does_not_fit_is_told_at_once(tmp_path: Path) -> None:
    text = 13 * PIECE + 2 * "[[outlines]]\nthickness = 4\n" + "[[bands]]\nline = 4\nwidth = 3\n"
    assert problems(tmp_path, text, "small") == [
        'pieces: 13 lines, small has 12; size = "usual" takes 40',
        'outlines: 2 lines, small has 1; size = "usual" takes 3',
        'bands: 4 lines, small has 3; size = "usual" takes 6',
    ]


def test_the_size_asked_for_must_agree_with_the_job_file(tmp_path: Path) -> None:
    assert problems(tmp_path, 'size = "tiny"\n') == [
        'size: came \'tiny\'; expected "small" or "usual" or "large"'
    ]
    assert problems(tmp_path, 'size = "large"\n', "small") == [
        "size: the file says 'large' and the command 'small': drop the option or correct the file"
    ]
    assert problems(tmp_path, 'size = "small"\n', "small") == []


def test_the_one_outline_of_a_small_workbook_is_still_a_line_of_a_table(tmp_path: Path) -> None:
    text = "[[outlines]]\nthickness = 5\n" + "".join(
        f"[[corners]]\nx = {x}\ny = {y}\n" for x, y in ((0, 0), (12, 0), (12, 9), (0, 9))
    )
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    (job,), found = read_jobs([path], None, "small")
    assert found == []
    got = job.template.results(job.entries)
    assert got["outlines.area"] == [108]
    assert got["total.area"] == [108]
    assert got["status.limits_wrong"] == [0]


# Read back by its own size ---------------------------------------------------------------


def silent(name: str, data: bytes) -> bytes:
    """Take out of the properties who made a workbook, in which size."""
    said = rb"<dc:description>.*?</dc:description>"
    return re.sub(said, b"", data) if name == "docProps/core.xml" else data


def mute(name: str, data: bytes) -> bytes:
    """Take it out of the first sheet, too."""
    words = name == "xl/sharedStrings.xml"
    return data.replace(b"Made by Pourtally ", b"Made by ") if words else silent(name, data)


def nameless(name: str, data: bytes) -> bytes:
    """Take out the names of its cells, so that its words alone are left."""
    names = rb"<definedNames>.*</definedNames>"
    return re.sub(names, b"", data) if name == "xl/workbook.xml" else mute(name, data)


def nowhere(name: str, data: bytes) -> bytes:
    """Let the properties tell version and units alone, as older ones did."""
    if name == "docProps/core.xml":
        return re.sub(rb"(Pourtally [\d.]+ us) usual", rb"\1", data)
    return mute(name, data)


@pytest.mark.parametrize(
    ("name", "size", "change"),
    [
        ("demo-small", "small", silent),
        ("demo-small", "small", mute),
        ("demo-small", "small", nameless),
        ("demo", "usual", nowhere),
    ],
)
def test_a_workbook_is_read_by_its_own_size(
    name: str, size: Size, change: Callable[[str, bytes], bytes], shelf: Shelf, tmp_path: Path
) -> None:
    path = Path(shutil.copy(shelf(name), tmp_path / "again.xlsx"))
    repack(path, change)
    assert path.read_bytes() != shelf(name).read_bytes()
    found = read_workbook(path)
    assert (found.template.book.size, found.problems) == (size, [])
    (job,), _ = read_jobs([JOBS["demo"]], None, size)
    assert found.entries == job.entries


# Prices pass between sizes ---------------------------------------------------------------


def test_prices_pass_between_sizes(shelf: Shelf, tmp_path: Path) -> None:
    theirs = read_workbook(shelf("demo-small")).entries
    for source, target in (("demo-small", "blank-us"), ("demo", "demo-small")):
        found = passed(shelf(source), shelf(target), tmp_path)
        assert found.problems == []
        assert found.taken > 50
        for key in ("prices.price", "classes.wage", "equipment.hourly"):
            assert found.entries[key] == theirs[key]


def test_what_is_over_in_a_larger_workbook_is_told(shelf: Shelf, tmp_path: Path) -> None:
    found = passed(shelf("filled-us-large"), shelf("demo-small"), tmp_path)
    told = [p for p in found.problems if "none of its 6 lines is free" in p]
    assert len({re.sub(r"line \d+", "", p) for p in told}) == 24 - 6


def passed(source: Path, target: Path, folder: Path) -> Loaded:
    text, wrong = saved(source)
    assert wrong == []
    path = folder / "prices.csv"
    path.write_text(text, encoding="utf-8")
    return loaded(target, path)
