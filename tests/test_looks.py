"""How the working sheets look: words and numbers fit, and what is typed is told its column."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import takewhile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from measured import LINE, lines_of, wide
from pourtally import pages, style
from pourtally.asked import title
from pourtally.files import templates_folder
from pourtally.grid import Cell, Place, is_formula
from pourtally.model import Entries, Scalar, Size, Units
from pourtally.place import address
from shop import laid_out, read_jobs, work_out

JOBS: list[tuple[str, Units, Size]] = [
    ("demo", "us", "usual"), ("finished", "us", "usual"), ("walk", "us", "usual"),
    ("courtyard-metric", "si", "usual"), ("blank", "us", "small"),
]  # fmt: skip
SLACK = 3
"""Pixels of a cell that its frame and the air beside its words take."""
RUNS = ("run", "run_end")
LEAST, OWN = 0.75, 0.45
"""The part of their size that words keep which shrink to their cell: still read with ease, and
what somebody typed there, which may be long."""
FREE = {"remark", "link", "linked", "note", "intro", "words", "status", "title", "heading", "way"}
RESTRAINED = style.ROLES.keys() - FREE
"""Roles whose words end in their own cell, or in empty ones beside it; a link's are a place."""


def entries_of(job: str) -> Entries:
    """Return a ready job, or nothing."""
    if job == "blank":
        return {}
    (ready,), problems = read_jobs([templates_folder() / "jobs" / f"{job}.toml"], None)
    assert not problems
    return ready.entries


class Sheet:
    """One working sheet as it is seen: its cells, their values, and the room of each."""

    def __init__(self, units: Units, size: Size, name: str, cells: list[Cell]) -> None:
        book, places = laid_out(units, size)
        self.said = next(s for s in book.sheets if s.name == name)
        self.typed = {p.key for _, _, p in book.entries().values() if p.entry == "text"}
        self.cells = [c for c in cells if not (self.said.bare and c.role == "way")]
        last = max(c.column + c.span - 1 for c in self.cells)
        self.widths = pages.widths(places, self.said, last)
        self.heights = pages.heights(self.said, self.cells, self.widths)

    def room(self, first: int, columns: int) -> int:
        """Return the pixels of so many columns."""
        there = range(first, first + columns)
        return sum(int(self.widths.get(c, pages.USUAL_WIDTH) * 7 + 5) for c in there) - SLACK

    def too_tall(self, cell: Cell, text: str, look: dict[str, Any]) -> bool:
        """Tell whether words that are wrapped take more lines than their row has."""
        room = self.room(cell.column, cell.span)
        lines = lines_of(text, bool(look.get("bold")), look["font_size"], room)
        tall = self.heights.get(cell.row, pages.ROW_HEIGHT * self.said.letters / 10)
        return lines * float(look["font_size"]) * LINE > tall + 2

    def too_long(
        self, cell: Cell, text: str, look: dict[str, Any], taken: dict[tuple[int, int], Cell]
    ) -> bool:
        """Tell whether words run out of their frame, or into what stands in the next cell."""
        columns = cell.span
        framed = "border" in look or "bg_color" in look
        free = range(cell.column + cell.span, max(self.widths) + 20)
        if not framed and look.get("align", "left") == "left":
            columns += next((n for n, c in enumerate(free) if (cell.row, c) in taken), 40)
        if cell.role == "long":  # it runs over the cells framed for it, and no further
            runs = (taken.get((cell.row, c)) for c in free)
            columns += sum(1 for _ in takewhile(lambda one: one and one.role in RUNS, runs))
        air: float = look.get("indent", 0) * (5 if look.get("shrink") else 9)
        long = wide(text, bool(look.get("bold")), look["font_size"]) + air
        return long > self.room(cell.column, columns)


def sheets(job: str, units: Units, size: Size) -> Iterator[tuple[Sheet, dict[Place, Scalar]]]:
    """Yield the working sheets of a job; the papers have a test of their own."""
    cells, values = work_out(units, entries_of(job), size)
    for said in laid_out(units, size)[0].sheets:
        if not (said.hidden or said.paper):
            own = [c for c in cells if c.sheet == said.name]
            yield Sheet(units, size, said.name, own), values


def shown(cell: Cell, values: dict[Place, Scalar]) -> Scalar:
    """Return what a cell holds."""
    return values[cell.place] if is_formula(cell.content) else cell.content


def cut_off(sheet: Sheet, values: dict[Place, Scalar]) -> list[str]:
    """Return the words of a sheet that are not seen whole, or run out of their frame."""
    taken = {
        (c.row, c.column): c
        for c in sheet.cells
        if shown(c, values) not in (None, "") or {"border", "bg_color"} & style.ROLES[c.role].keys()
    }
    found = []
    for cell in (c for c in sheet.cells if c.role in RESTRAINED):
        text, look = shown(cell, values), style.properties(cell.role, cell.format, 10)
        kept = OWN if cell.part in sheet.typed else LEAST
        look["font_size"] *= sheet.said.letters / 10 * (kept if look.get("shrink") else 1)
        if not isinstance(text, str) or not text.strip():
            continue
        over = sheet.too_tall(cell, text, look) if look.get("text_wrap") else (
            sheet.too_long(cell, text, look, taken))  # fmt: skip
        if over:
            at = address(cell.row, cell.column)
            found.append(f"{cell.sheet} {at} {cell.part or cell.role}: {text}")
    return found


@pytest.mark.parametrize(("job", "units", "size"), JOBS)
def test_no_word_of_a_working_sheet_is_cut_off(job: str, units: Units, size: Size) -> None:
    assert [told for one in sheets(job, units, size) for told in cut_off(*one)] == []


# Numbers ---------------------------------------------------------------------------------

WORDS = re.compile(r'"([^"]*)"')
DATES = {"mmm d h:mm AM/PM": "Nov 28 12:48 AM", "h:mm AM/PM": "12:48 AM",
         "yyyy-mm-dd": "2026-06-28", "ddd mmm d": "Wed May 28", "mmm d, yyyy": "May 28, 2026",
         "mmmm d": "November 28",
         '[h]" h "m" min"': "28 h 48 min"}  # fmt: skip
"""The widest of what a date or a time shows."""


def told(number: float, form: str) -> str:
    """Return what a number shows in a format, or nothing where it fits itself to its cell."""
    parts = form.split(";")
    part = parts[1] if number < 0 and len(parts) > 1 else parts[0]
    if number == 0 and len(parts) > 2:
        part = parts[2]
    for date, seen in DATES.items():
        if date in part:
            return WORDS.sub(r"\1", part.replace(date, seen))
    bare = WORDS.sub("", part)
    if "General" in bare or not bare.strip("-"):
        return ""
    words = "".join(WORDS.findall(part))
    if "/" in bare:
        return f"{abs(number):.0f} 13/16{words}"
    percent = "%" in bare
    decimals = len(bare.partition(".")[2].replace("%", "").replace("#", ""))
    body = f"{abs(number) * (100 if percent else 1):,.{decimals}f}"
    return f"{'-' * (number < 0)}{body if ',' in bare else body.replace(',', '')}" + words + (
        "%" * percent
    )  # fmt: skip


def too_wide(sheet: Sheet, values: dict[Place, Scalar]) -> list[str]:
    """Return the numbers that a spreadsheet shows as ###."""
    found = []
    for cell in sheet.cells:
        number, look = shown(cell, values), style.ROLES[cell.role]
        if isinstance(number, bool | str | None) or look.get("shrink"):
            continue
        text = told(float(number), cell.format)
        size = look.get("font_size", 10) * sheet.said.letters / 10
        if wide(text, bool(look.get("bold")), size) > sheet.room(cell.column, cell.span):
            found.append(f"{cell.sheet} {address(cell.row, cell.column)} {cell.part}: {text}")
    return found


@pytest.mark.parametrize(("job", "units", "size"), JOBS)
def test_no_number_is_wider_than_its_column(job: str, units: Units, size: Size) -> None:
    assert [told for one in sheets(job, units, size) for told in too_wide(*one)] == []


# Prompts ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["blank-us", "blank-si-small"])
def test_every_cell_to_fill_in_says_its_column(name: str, shelf: Callable[[str], Path]) -> None:
    units: Units = "si" if "-si" in name else "us"
    book, places = laid_out(units, "small" if "small" in name else "usual")
    workbook = openpyxl.load_workbook(shelf(name))
    said = {
        (sheet.title, str(rule.sqref)): rule
        for sheet in workbook
        for rule in sheet.data_validations.dataValidation
    }
    open_cells = 0
    for block, item, part in book.entries().values():
        spot = places.spots[part.key]
        ends = (address(*spot.at(line)) for line in (0, block.lines - 1))
        rule = said[spot.sheet, ":".join(dict.fromkeys(ends))]
        assert rule.showInputMessage, part.key
        assert rule.promptTitle == title(item, part)
        assert len(rule.promptTitle) <= 32
        assert rule.promptTitle.endswith(part.unit)
        name_of_it = (item.heading or item.label).split("\n")[0]
        assert name_of_it.split(",")[0][:12] in rule.promptTitle, part.key
        assert 0 < len(rule.prompt) <= 255
        open_cells += block.lines
    unlocked = [
        c for s in workbook for row in s.iter_rows() for c in row
        if isinstance(c, openpyxl.cell.Cell) and c.has_style and not c.protection.locked
    ]  # fmt: skip
    assert len(unlocked) == open_cells
