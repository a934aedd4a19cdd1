"""The first page: it fits on a screen, says what comes next, and each link leads where it says."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

import programs
from pourtally.files import templates_folder
from pourtally.jobfile import job_entries
from pourtally.model import Book, Units
from pourtally.place import column_number
from shop import LOOK, STOP, keys_of, laid_out, load_book, results
from test_bad_input import TRIGGERS

UNITS = pytest.mark.parametrize("units", ["us", "si"])
Shelf = Callable[[str], Path]
Cell = tuple[str, int, int]
"""A sheet, and a row and a column counted from 1."""

SCREEN = (28 * 20, 1290)
"""Pixels of a window of 1366 by 768 that cells are seen in, down and across."""
WIDER = 1.115
"""How much wider than others LibreOffice draws a column, measured on its window."""
LAST_ROW, LAST_COLUMN = 26, column_number("O") + 1
OPEN, DONE, SEE = 0.0, 1.0, 2.0
STEPS = ["Measured", "Pours planned", "Weather", "Prices", "Proposal", "After the job"]
MEANT = {"limits.count", "replaced.count", "cuts.cuts_x", "cuts.ratio", "hours.total"}
"""Where a link goes though nothing is typed there: lists that name entries, figures to look at."""
ADDRESS = re.compile(r"#(\w+)!\$?([A-Z]+)\$?(\d+)$")


def worked_out(units: Units, job: dict[str, Any], *names: str) -> dict[str, list[Any]]:
    """Return what a job comes to; all of it, or what some blocks and parts need."""
    entries, problems = job_entries(load_book(units), job, "test")
    assert problems == []
    return results(units, entries, keys_of(units, names) if names else frozenset())


def test_the_job_is_seen_at_a_glance(shelf: Shelf) -> None:
    page = openpyxl.load_workbook(shelf("demo-small"))["Start"]
    tall = sum(page.row_dimensions[r].height or 15 for r in range(1, LAST_ROW + 1)) / 0.75
    letters = (openpyxl.utils.get_column_letter(c) for c in range(1, LAST_COLUMN + 1))
    wide = sum(round(page.column_dimensions[c].width * 7) for c in letters)
    assert tall <= SCREEN[0]
    assert wide * WIDER <= SCREEN[1]
    first = {c.row for row in page["A1:O26"] for c in row if c.value is not None}
    assert {1, 2, 6, 10, 14, 19, 22, LAST_ROW} <= first


def test_it_is_printed_on_two_pages(shelf: Shelf, tmp_path: Path) -> None:
    pdf = programs.printed([shelf("demo-small")], tmp_path, "Start")[shelf("demo-small")]
    here = programs.asked("pdftotext", "-layout", pdf, "-").rstrip("\f").split("\f")
    assert len(here) == 2
    assert "Juniper Row 14" in here[0] and "Before anyone works" in here[0]
    assert "Where to find it" in here[1] and "Made by Pourtally" in here[1]


# What comes next -------------------------------------------------------------------------

UNKNOWN = {"weather": [{"air": ""}]}
SLAB = {"shape": "Rectangle", "a": 20, "b": 10}
STATES: list[tuple[dict[str, Any], list[float], list[str]]] = [
    ({}, [OPEN] * 6, ["begin with the job", "as soon as a slab", "as soon as a pour"]),
    ({**UNKNOWN, "pieces": [SLAB]}, [DONE, *[OPEN] * 5],
     ["1 plain slab, 200 ft²", "needs the date of Pour 1", "needs the forecast for Pour 1"]),
    ({"pieces": [SLAB, {**SLAB, "a": 2, "b": 1, "sign": "Hole"}]}, [DONE, OPEN, DONE, *[OPEN] * 3],
     ["1 plain slab, 1 cut-out, 198 ft²"]),
    ({"pieces": [SLAB, {"shape": "Rectangle", "a": 9}]}, [SEE, OPEN, DONE, *[OPEN] * 3],
     ["1 plain slab, 200 ft²"]),
]  # fmt: skip


@pytest.mark.parametrize(("job", "states", "says"), STATES)
def test_each_step_says_its_state_in_a_mark_and_in_words(
    job: dict[str, Any], states: list[float], says: list[str]
) -> None:
    got = worked_out("us", job, "next")
    assert got["next.name"] == STEPS
    assert got["next.state"] == states
    marks = {OPEN: "○ open", DONE: "✓ done", SEE: "! look"}
    assert got["next.mark"] == [marks[state] for state in states]
    for told, begins in zip(got["next.says"], says, strict=False):
        assert str(told).startswith(begins)


def demo() -> dict[str, Any]:
    return tomllib.loads((templates_folder() / "jobs" / "demo.toml").read_text("utf-8"))


def test_figures_are_those_of_the_job_and_none_where_a_check_stops_it() -> None:
    worked = worked_out("us", demo())
    assert worked["figures.area"] == worked["total.area"]
    assert worked["figures.price"] == worked["sale.total"]
    assert worked["figures.margin"] == worked["price.margin"]
    slack = [s for s, on in zip(worked["window.slack"], worked["window.stamps"], strict=True) if on]
    assert float(str(worked["figures.window"][0])) * 24 * 60 == pytest.approx(
        int(abs(min(float(str(s)) for s in slack)) * 60 + 0.5 + 1e-6)
    )
    assert worked["next.state"] == [DONE, DONE, SEE, DONE, DONE, OPEN]
    job = demo()
    stopped = worked_out("us", job | {"usual": {**job.get("usual", {}), "thickness": ""}})
    for key in ("area", "concrete", "hours", "window", "price", "margin"):
        assert stopped[f"figures.{key}"] == ["–"], key
    assert str(stopped["top.state"][0]).startswith("STOP: ")


# Links -----------------------------------------------------------------------------------


@UNITS
@pytest.mark.parametrize("size", ["small", "usual"])
def test_each_link_of_a_cell_leads_to_one_that_is_there(
    units: Units, size: str, shelf: Shelf
) -> None:
    name = f"blank-{units}" if size == "usual" else f"blank-{units}-small"
    sheets = openpyxl.load_workbook(shelf(name))
    found = 0
    for sheet in sheets:
        for cell, there in links(sheet):
            found += 1
            target = sheets[there[0]].cell(*there[1:])
            meant = sheet.title != "Start" or cell.value == f"{there[0]} ›"
            assert not target.protection.locked or meant, (sheet.title, cell.coordinate, there)
            assert there[0] in sheets.sheetnames
    assert found > 300


def links(sheet: Worksheet) -> Iterator[tuple[Any, Cell]]:
    """Yield each cell with a link in it that is no formula, and the cell it leads to."""
    for row in sheet.iter_rows():
        for cell in row:
            if cell.hyperlink and cell.hyperlink.location:
                yield cell, target("#" + cell.hyperlink.location.replace("'", ""))


def target(address: str) -> Cell:
    match = ADDRESS.match(address)
    assert match, address
    return match[1], int(match[3]), column_number(match[2]) + 1


def test_every_sheet_that_is_shown_has_a_door(shelf: Shelf) -> None:
    sheets = openpyxl.load_workbook(shelf("blank-us-small"))
    doors = {str(c.value): there for c, there in links(sheets["Start"]) if str(c.value)[-1] == "›"}
    shown = {s.title for s in sheets if s.sheet_state == "visible"} - {"Start"}
    assert {words.removesuffix(" ›"): there[0] for words, there in doors.items()} == {
        name: name for name in shown
    }
    book, places = laid_out("us", "small")
    for sheet, row, column in doors.values():
        typed = [places.spots[k] for k in book.entries() if places.spots[k].sheet == sheet]
        first = min(((s.row + 1, s.column + 1) for s in typed), default=(1, 1))
        assert (row, column) == first


def test_the_index_has_many_words_in_order_each_a_link(shelf: Shelf) -> None:
    page = openpyxl.load_workbook(shelf("blank-us-small"))["Start"]
    book, _ = laid_out("us", "small")
    columns = [p for k, (_, _, p) in book.parts.items() if k.startswith("index.")]
    words = [str(v) for part in columns for v in part.values]
    assert len(words) >= 60
    assert words == sorted(words, key=str.casefold)
    assert {"mesh", "rebar", "expansion joint", "sack mix", "mud", "washout"} <= set(words)
    linked = {str(c.value): there for c, there in links(page)}
    assert set(words) <= set(linked)


def test_the_index_leads_to_what_it_names() -> None:
    """A word is found again near the cell it leads to, or stands here with what is meant."""
    book, _ = laid_out("us", "small")
    goes = {
        str(word): key
        for name, (_, _, part) in book.parts.items()
        if name.startswith("index.")
        for word, key in zip(part.values, part.goes, strict=True)
    }
    known = {"rebar": "Bar", "mesh": "Wire sheet, width", "sack mix": "Cementitious",
             "expansion joint": "Length of a roll of isolation strip", "overtime": "hours a day",
             "retarder": "Retarder", "washout": "wash out", "stakes": "stake to stake"}  # fmt: skip
    for word, label in known.items():
        assert label in book.fields[goes[word]].label, word


@pytest.mark.parametrize("name", TRIGGERS)
def test_a_check_that_is_open_leads_to_the_line_in_question(name: str) -> None:
    book, _ = laid_out("us")
    worked = worked_out("us", TRIGGERS[name], *KEYS)
    code = name.partition(" ")[2]
    at = book.parts["checks.state"][0].codes.index(code)
    assert worked["checks.state"][at] == STOP
    line = worked["open.at"].index(at + 1) if at + 1 in worked["open.at"] else None
    for number in range(len(worked["open.at"])):
        if worked["open.at"][number]:
            leads(book, worked, number)
    assert line is not None


KEYS = ("open", "checks", "top.first")


def leads(book: Book, worked: dict[str, list[Any]], number: int) -> None:
    """Make sure that a line of the open checks leads to the entry of its check, at its line."""
    at = int(worked["open.at"][number]) - 1
    key = str(worked["checks.at"][at])
    part = book.goal(key)
    assert part is not None
    block = book.parts[part.key][0]
    spot = laid_out("us")[1].spots[part.key]
    first = worked["checks.first"][at]
    cells = [(spot.sheet, r + 1, c + 1) for r, c in map(spot.at, range(block.lines))]
    there = target(str(worked["open.address"][number]))
    assert there in cells, key
    assert part.kind == "entry" or key in MEANT, key
    if ALIKE.get(at) == block.group:
        assert there == cells[int(first) - 1], key
    else:
        assert there == cells[0], key


def _alike() -> dict[int, str]:
    """Return {place of a check: the lines that it looks through}, where it looks through some."""
    book = load_book("us")
    said = {
        check["key"]: str(check.get("lines", "")).strip("{}[]").split(".")[0]
        for path in (templates_folder() / "items").glob("*.toml")
        for check in tomllib.loads(path.read_text("utf-8")).get("check", [])
        if not check.get("first")
    }
    groups = {b.key: b.group for b in book.blocks}
    codes = book.parts["checks.state"][0].codes
    return {n: groups[said[c]] for n, c in enumerate(codes) if said.get(c)}


ALIKE = _alike()


def test_open_checks_are_listed_stops_first_and_start_shows_the_first() -> None:
    job = {"pieces": [{"a": 4}], "bands": [{"length": 9}], "steps": [{"tread": 12}]}
    worked = worked_out("us", job, *KEYS)
    states = worked["checks.state"]
    order = [n for state in (STOP, LOOK) for n, s in enumerate(states, 1) if s == state]
    shown = [int(n) for n in worked["open.at"] if n]
    assert len(order) >= 3
    assert shown == order[: len(worked["open.at"])]
    assert worked["open.says"][0] == worked["checks.say"][order[0] - 1]
    assert worked["top.first"] == [f"STOP: {worked['open.says'][0]}"]
    empty = worked["open.says"][len(shown) :]
    assert empty == [""] * len(empty)


@pytest.mark.parametrize("job", [{}, {"pieces": [SLAB]}, {"pieces": [SLAB], "prices": [
    {"line": "boards", "price": 9}]}])  # fmt: skip
@UNITS
def test_each_step_leads_to_a_cell_to_fill(units: Units, job: dict[str, Any]) -> None:
    book, places = laid_out(units)
    worked = worked_out(units, job, "next")
    entries = {
        (s.sheet, r + 1, c + 1): key
        for key, (block, _, _) in book.entries().items()
        for s in [places.spots[key]]
        for r, c in map(s.at, range(block.lines))
    }
    keys = [entries[target(str(address))] for address in worked["next.address"]]
    assert keys[1:3] == ["placements.date", "weather.air"]
    assert keys[3] == "prices.price"
    assert [places.spots[k].sheet for k in keys] == worked["next.where"]


def test_the_first_price_that_is_missing_is_the_one_to_type() -> None:
    job = {"pieces": [SLAB], "prices": [{"line": "boards", "price": 9}]}
    places = laid_out("us")[1]
    worked = worked_out("us", job)
    prices = [p if p is not None else "" for p in worked["prices.price"]]
    missing = [n for n, on in enumerate(worked["prices.needed"]) if on and prices[n] == ""]
    row, column = places.spots["prices.price"].at(missing[0])
    assert target(str(worked["next.address"][3])) == ("Prices", row + 1, column + 1)
