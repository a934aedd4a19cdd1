"""What the homeowner gets: pages that hold what they should, nothing cut off, no maker's name."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

import programs
from measured import LINE, lines_of, wide
from pourtally.files import templates_folder
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Units
from shop import build, laid_out, read_jobs, results, write_copy

pytestmark = pytest.mark.xdist_group("offer")  # its workbooks are made once

UNITS = pytest.mark.parametrize("units", ["us", "si"])
PAGES = {"Proposal": 2, "Invoice": 1, "Care": 2}
PHONE = (360, 640)  # pixels of cells that a small phone shows at 100 %
EMU = 9525  # English metric units, in which a file says where a drawing ends, in a pixel
LONG: dict[str, Any] = {
    "company": {
        "name": "Tolliver, Ostrander and Achterberg Decorative Flatwork Comp.",
        "street": "220 Mill Street, the yard behind the old mill", "city": "Cedar Ferry",
        "phone": "555 0140", "mail": "office@tolliver-flatwork.example", "license": "C-8 123456",
    },
    "customer": {
        "name": "Mr. and Mrs. Bartholomew Ostrander-Vandermeer of Juniper Row",
        "street": "14 Juniper Row, third house behind the old mill", "city": "Cedar Ferry",
    },
    "terms": {"number": "26-031", "prices_shown": "By finish with unit prices",
              "signs": "R. Tolliver"},
    "notices": [{"says": f"Notice {n}: " + "by law each word of it has to stand here " * 3}
                for n in range(1, 7)],
    "options": [{}, {}, {}, {}, {"name": "A drain along the house, with a grate of cast iron",
                                 "extra": 640, "price": 900, "material": 0},
                {"name": "Lights", "extra": 90, "price": 130, "material": 0}],
}  # fmt: skip
"""Names of sixty letters, and as many clauses as the papers take."""
TINY = {"us": {"pieces": [{"shape": "Rectangle", "a": 30, "b": 4}]},
        "si": {"pieces": [{"shape": "Rectangle", "a": 9, "b": 1.2}]}}  # fmt: skip


def entries_of(job: str, units: Units) -> Entries:
    """Return a ready job, one with long names, a walk alone, or nothing at all."""
    if job == "blank":
        return {}
    if job == "walk":
        return job_entries(laid_out(units)[0], TINY[units], "test")[0]
    name = "courtyard-metric" if units == "si" else "finished" if job == "finished" else "demo"
    (ready,), problems = read_jobs([templates_folder() / "jobs" / f"{name}.toml"], None)
    more, wrong = job_entries(laid_out(units)[0], LONG if job == "long" else {}, "test")
    assert (problems, wrong) == ([], [])
    said = {k: v for k, v in more.items() if job == "long" and k.split(".")[0] in LONG}
    return {**ready.entries, **said}


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, Units], list[str]]:
    """Return the words of each printed page of the papers, by job and units."""
    folder = tmp_path_factory.mktemp("offer")
    files = {key: workbook(*key, folder) for key in JOBS}
    papers = programs.printed(files.values(), folder, *PAGES)
    read = {k: programs.asked("pdftotext", "-layout", papers[f], "-") for k, f in files.items()}
    return {key: words.split("\f")[:-1] for key, words in read.items()}


JOBS: list[tuple[str, Units]] = [
    ("demo", "us"), ("finished", "us"), ("long", "us"), ("walk", "us"), ("blank", "us"),
    ("long", "si"), ("walk", "si"),
]  # fmt: skip


@cache
def workbook(job: str, units: Units, folder: Path) -> Path:
    """Return the workbook of a job, built once."""
    path = folder / f"{job}-{units}.xlsx"
    build(units, entries_of(job, units), path)
    return path


@pytest.mark.parametrize(("job", "units"), JOBS)
def test_each_paper_has_its_pages_and_names_nobody_else(
    printed: dict[tuple[str, Units], list[str]], job: str, units: Units
) -> None:
    pages = printed[job, units]
    told = [int(found[1]) for page in pages if (found := re.search(r"Page (\d+)\s*$", page))]
    assert told == [number + 1 for many in PAGES.values() for number in range(many)]
    for page in pages:
        assert not re.search(r"pourtally|#(VALUE|REF|N/A|NAME)|###", page, re.IGNORECASE)
    lines = [len([line for line in page.splitlines() if line.strip()]) for page in pages]
    for first, last in ((0, 1), (3, 4)):  # the two pages of Proposal, and of Care
        if job != "blank":
            assert min(lines[first], lines[last]) > max(lines[first], lines[last]) / 5


# Words in their cells --------------------------------------------------------------------


def pixels_of(sheet: Worksheet) -> dict[int, int]:
    """Return how wide each column is; the file tells those side by side that are alike once."""
    dimensions = sheet.column_dimensions.values()
    return {n: round(d.width * 7) for d in dimensions for n in range(d.min, min(d.max, 40) + 1)}


def cut_off(sheet: Worksheet) -> list[str]:
    """Return the texts that do not fit their cells: wrapped ones by height, others by width."""
    spans = {str(one).split(":")[0]: one for one in sheet.merged_cells.ranges}
    pixels = pixels_of(sheet)
    found = []
    for cell in (c for row in sheet.iter_rows() for c in row if isinstance(c, Cell)):
        text, span = cell.value, spans.get(cell.coordinate)
        if not isinstance(text, str) or not text.strip() or cell.alignment.shrinkToFit:
            continue
        last = span.max_col if span else cell.column
        room = sum(pixels[column] for column in range(cell.column, last + 1)) - 4
        tall = (sheet.row_dimensions[cell.row].height or 15) + 1
        bold, size = bool(cell.font.b), float(cell.font.sz or 10)
        lines = lines_of(text, bold, size, room) if cell.alignment.wrapText else 1
        long = not cell.alignment.wrapText and wide(text, bold, size) > room
        if lines * size * LINE > tall or long:
            found.append(f"{sheet.title} {cell.coordinate}: {text}")
    return found


@pytest.mark.parametrize(("job", "units"), [("demo", "us"), ("long", "us"), ("long", "si")])
def test_no_word_of_a_paper_is_cut_off(job: str, units: Units, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(workbook(job, units, tmp_path), data_only=True)
    assert [told for name in PAGES for told in cut_off(book[name])] == []


# Lines and gaps ---------------------------------------------------------------------------


def stands(units: Units, sheet: str) -> dict[str, list[tuple[int, int]]]:
    """Return {part of a paper: row and column of each of its lines, counted from 1}."""
    book, places = laid_out(units)
    return {
        key: [(row + 1, column + 1) for row, column in map(places.spots[key].at, range(b.lines))]
        for key, (b, _, part) in book.parts.items()
        if b.sheet == sheet and not part.working and b.lines > 1
    }


@pytest.mark.parametrize("sheet", ["Proposal", "Crew", "Order"])
@pytest.mark.parametrize("job", ["blank", "walk"])
def test_no_line_is_drawn_for_what_is_not_there(job: str, sheet: str, tmp_path: Path) -> None:
    page = openpyxl.load_workbook(workbook(job, "us", tmp_path), data_only=True)[sheet]
    cells = [page.cell(*at) for lines in stands("us", sheet).values() for at in lines]
    empty = [cell for cell in cells if cell.value in (None, "", 0)]
    assert len(empty) > len(cells) / 2
    assert [cell.coordinate for cell in empty if cell.border.bottom.style] == []


@pytest.mark.parametrize(("job", "units"), [("demo", "us"), ("long", "us"), ("long", "si")])
def test_what_is_done_stands_line_by_line_without_gaps(
    job: str, units: Units, tmp_path: Path
) -> None:
    page = openpyxl.load_workbook(workbook(job, units, tmp_path), data_only=True)["Proposal"]
    cells = [page.cell(*at) for at in stands(units, "Proposal")["proposal_scope.says"]]
    said = [bool(cell.value) for cell in cells]
    assert sum(said) > len(said) / 2
    assert sorted(said, reverse=True) == said  # nothing empty before the last
    (tall,) = {page.row_dimensions[cell.row].height for cell in cells}
    assert tall / 2 < float(cells[0].font.sz) * LINE <= tall  # a row holds one line of letters


def test_the_drawing_is_the_largest_thing_on_the_proposal(tmp_path: Path) -> None:
    page = openpyxl.load_workbook(workbook("demo", "us", tmp_path))["Proposal"]
    pixels = pixels_of(page)
    start, end = page._charts[0].anchor._from, page._charts[0].anchor.to
    wide = sum(pixels[column] for column in range(start.col + 1, end.col + 1)) + end.colOff / EMU
    assert wide > 0.6 * sum(pixels[column] for column in range(1, 11))
    first = min(row for row, _ in stands("us", "Proposal")["proposal_scope.says"])
    assert end.row < first - 1  # what we do stands under it


# The copy --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("copy") / "copy.xlsx"
    write_copy("us", results("us", entries_of("long", "us")), path)
    return path


def test_the_first_screen_of_a_phone_shows_name_drawing_price_and_choices(copied: Path) -> None:
    sheet = openpyxl.load_workbook(copied, data_only=True)["Proposal"]
    assert sum(pixels_of(sheet)[column] for column in range(1, 13)) <= PHONE[0]
    seen: dict[Any, int] = {}
    down = 0.0
    for row in sheet.iter_rows(max_col=12):
        down += (sheet.row_dimensions[row[0].row].height or 15) / 0.75
        if down <= PHONE[1]:
            seen |= {cell.value: cell.row for cell in row if cell.value}
    assert seen.keys() >= {LONG["company"]["name"], "In all", "Lights", "No"}
    drawing = sheet._charts[0].anchor._from
    assert drawing.col <= 2
    assert drawing.row < seen["In all"]
    assert cut_off(sheet) == []


def test_the_copy_prints_on_two_pages(copied: Path, tmp_path: Path) -> None:
    programs.convert([copied], "pdf", tmp_path, tmp_path / "profile")
    pages = programs.asked("pdftotext", "-layout", tmp_path / "copy.pdf", "-").split("\f")[:-1]
    assert len(pages) == 2
    assert "The customer, and the date" in pages[1]
    assert not re.search("pourtally|###", "".join(pages), re.IGNORECASE)
