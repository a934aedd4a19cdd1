"""Workbooks of older versions, and of templates with other items: every figure keeps its place."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from datetime import date
from itertools import takewhile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner

import pourtally
from pourtally.cli import main
from pourtally.declare import day_number
from pourtally.load import load_book, templates_folder
from pourtally.model import Book, Part
from pourtally.read import read_workbook
from pourtally.values import report

OLDER = Path(__file__).parent / "older"
VERSIONS = sorted(p.stem for p in OLDER.glob("*.xlsx"))


def told(version: str) -> dict[str, Any]:
    """Return what was typed in the workbook of a version, and what that version made of it."""
    found: dict[str, Any] = json.loads((OLDER / f"{version}.json").read_text("utf-8"))
    return found


def as_recorded(part: Part, value: Any) -> Any:
    """Return a typed value as this version records it."""
    if part.entry == "date":
        return day_number(date.fromisoformat(value))
    if isinstance(value, str):
        return value
    return pytest.approx(value / 100 if "%" in part.format else value)


def typed_lines(book: Book, key: str, typed: Any) -> dict[int, Any]:
    """Return {line: value} of what was typed for one key, by number or code."""
    block, _, part = book.parts[key]
    lines = typed if isinstance(typed, dict) else {"1": typed}
    return {
        int(mark) - 1 if mark.isdecimal() else block.codes.index(mark): as_recorded(part, value)
        for mark, value in lines.items()
    }


# Older versions ----------------------------------------------------------------------


@pytest.mark.parametrize("version", VERSIONS)
def test_what_was_typed_then_stands_where_it_belongs_now(version: str) -> None:
    then, found = told(version), read_workbook(OLDER / f"{version}.xlsx")
    book = load_book(found.units)
    assert (found.units, found.problems) == (then["units"], [])
    for key, typed in then["typed"].items():
        lines = typed_lines(book, key, typed)
        assert {line: found.entries[key][line] for line in lines} == lines, key
        if set(book.parts[key][2].values) <= {None}:
            assert {n for n, v in enumerate(found.entries[key]) if v is not None} == set(lines), key


@pytest.mark.parametrize("version", VERSIONS)
def test_what_was_worked_out_then_is_worked_out_now(version: str) -> None:
    figures = report(OLDER / f"{version}.xlsx").figures
    worked = told(version)["worked"]
    assert {key: figures[key].value for key in worked} == pytest.approx(worked, abs=0.005)


@pytest.mark.parametrize("version", ["0.2.0", "0.3.0"])
def test_prices_of_then_are_saved_by_their_codes(version: str, tmp_path: Path) -> None:
    file = tmp_path / "prices.csv"
    result = CliRunner().invoke(
        main, ["prices", str(OLDER / f"{version}.xlsx"), "--save", str(file)]
    )
    rows = list(csv.DictReader(io.StringIO(file.read_text("utf-8-sig"))))
    saved = {r["line"]: float(r["value"]) for r in rows if r["table"] == "prices" and r["value"]}
    assert (result.exit_code, saved) == (0, told(version)["typed"]["prices.price"])


def changed(path: Path, version: str, cells: dict[str, Any], sheet: str = "Rates") -> Path:
    """Return a copy of an old workbook with some cells typed over."""
    workbook = openpyxl.load_workbook(OLDER / f"{version}.xlsx")
    for at, value in cells.items():
        workbook[sheet][at].value = value
    workbook.save(path)
    return path


def at(version: str, key: str, line: int = 0) -> tuple[int, int]:
    """Return row and column of a named cell, or of a line below it."""
    workbook = openpyxl.load_workbook(OLDER / f"{version}.xlsx", read_only=True)
    _, _, where = workbook.defined_names[key].attr_text.partition("!")
    row, column = openpyxl.utils.cell.coordinate_to_tuple(where.replace("$", ""))
    return row + line, column


@pytest.mark.parametrize("change", ["insert_rows", "delete_rows"])
def test_a_torn_table_of_then_is_not_taken(change: str, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(OLDER / "0.3.0.xlsx")
    getattr(workbook["Rates"], change)(at("0.3.0", "supply.supplier", 8)[0])
    workbook.save(tmp_path / "old.xlsx")
    found = read_workbook(tmp_path / "old.xlsx")
    assert any(p.startswith("Where each supply comes from: line 9 is") for p in found.problems)
    assert set(found.entries["supply.supplier"]) == {None}


def test_more_lines_than_a_version_had_are_not_guessed_at(tmp_path: Path) -> None:
    row, column = at("0.1.0", "supply.supplier", 54)
    name = openpyxl.utils.cell.get_column_letter(column)
    path = changed(tmp_path / "old.xlsx", "0.1.0", {f"A{row}": 55, f"{name}{row}": "Quarry"})
    (problem,) = read_workbook(path).problems
    assert "has 55 lines and no codes beside them; expected 54" in problem


def test_a_code_of_then_that_is_gone_twice_or_missing_is_told(tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(OLDER / "0.3.0.xlsx")
    sheet = workbook["Prices"]
    codes = {c.value: c for row in sheet.iter_rows() for c in row if isinstance(c.value, str)}
    codes["plastic"].value, codes["boards"].value, codes["stakes"].value = "foil", "mats", None
    workbook.save(tmp_path / "old.xlsx")
    found = read_workbook(tmp_path / "old.xlsx")
    told_of = [(codes[c].coordinate, c) for c in ("boards", "stakes")]
    assert [p.partition(": ")[2][:14] for p in found.problems] == [
        "has the code '", "has no code, s", "64.0 is not ca", "datetime.datet",
    ]  # fmt: skip
    for (where, _), problem in zip(told_of, found.problems, strict=False):
        assert problem.startswith(f"Prices {where} (Supplies and concrete, line ")
    assert "'foil'" in found.problems[2]
    prices = dict(zip(load_book("us").parts["prices.price"][0].codes,
                      found.entries["prices.price"], strict=True))  # fmt: skip
    typed = told("0.3.0")["typed"]["prices.price"]
    left_out = {"plastic", "boards", "stakes"}
    assert {c: v for c, v in prices.items() if v} == {
        c: v for c, v in typed.items() if c not in left_out
    }


# Other items -------------------------------------------------------------------------

FRONT = """
[[block]]
key = "lamps"
sheet = "Measure"
title = "Lamps set into the slab"
shape = "form"
[[block.field]]
key = "count"
label = "Lamps"
entry = "number"
min = 0
max = 100
optional = true
[[gives]]
to = "supply"
key = "lamps"
name = "Lamps"
count = "={lamps.count}"
unit = "lamps"
usual = 1
[[gives]]
to = "priced"
key = "transformer"
name = "Transformer for lamps"
count = "=N({lamps.count}>0)"
unit = "transformers"
supplier = "Own shop"
[[gives]]
to = "cost"
key = "wiring"
name = "Wiring of lamps"
unit = "lamps"
count = "={lamps.count}"
rate = "=1"
kind = 4
[[gives]]
to = "quantity_shown"
key = "lamps"
name = "Lamps"
value = "={lamps.count}"
unit = "lamps"
"""
MIDDLE = """
[[block]]
key = "cable"
sheet = "Quantities"
title = "Cable of lamps"
shape = "form"
[[block.field]]
key = "length"
label = "Cable"
formula = "2*{lamps.count}"
quantity = "length"
[[gives]]
to = "supply"
key = "cable"
name = "Cable"
count = "={cable.length}"
unit = "rolls"
usual = 2
"""
ZONE = """
[[block]]
key = "piers"
sheet = "Quantities"
title = "Piers"
shape = "form"
[[block.field]]
key = "area"
label = "Area of piers"
formula = "0"
quantity = "area"
[[gives]]
to = "steel_zone"
key = "piers"
zone = "Piers"
area = "={piers.area}"
along = "=0"
"""
JOB = """
units = "us"
[job]
name = "Mill Street"
date = 2026-05-14
[[pieces]]
shape = "Rectangle"
a = [12, 3]
b = 8
[[mixes]]
waste = 7
[[steel]]
line = "slabs"
spacing = 16
bars.yours = 22
[[steel]]
line = "bands"
kind = "None"
[[supply]]
line = "bars_1"
supplier = "Quarry"
[[supply]]
line = "plastic"
supplier = "Decorative supply"
[[own]]
what = "Permit"
unit = "permit"
price = 85
typed = 1
kind = "Other"
[[classes]]
wage = 34
[[classes]]
wage = 28.5
[[classes]]
wage = 21.75
[company]
name = "Tolliver Flatwork"
[customer]
name = "Ostrander residence"
[terms]
date = 2026-05-15
[[quantities_shown]]
line = "area"
tick = "No"
[[quantities_shown]]
line = "concrete"
tick = "Yes"
"""
PRICES = {
    "product_4": 96.25, "product_5": 184.9, "boards": 9.48, "stakes": 0.62, "nails": 0.03,
    "isolation": 18.75, "stone": 23.5, "bars_1": 6.85, "chairs": 0.38, "dowels": 2.15,
    "sealant": 11.6, "plastic": 64, "concrete_1": 172,
}  # fmt: skip
LAMPS = """
[[quantities_shown]]
line = "lamps"
tick = "Yes"
[[supply]]
line = "cable"
supplier = "Own shop"
[[prices]]
line = "transformer"
price = 120
date = 2026-05-04
[lamps]
count = 3
"""
OF_LINES = {"limits", "replaced", "basis", "checks"}
"""Tables that say something of every entry or line, whatever it holds."""


def job() -> str:
    dated = 'line = "{}"\nprice = {}\ndate = 2026-05-04\n'
    return JOB + "".join("[[prices]]\n" + dated.format(*p) for p in PRICES.items())


class Shop:
    """A checkout of the program with a template of its own, and its commands."""

    def __init__(self, folder: Path, **items: str) -> None:
        self.folder = folder
        ours = Path(pourtally.__file__).parent
        skip = shutil.ignore_patterns("__pycache__", "templates")
        shutil.copytree(ours, folder / "generator" / "pourtally", ignore=skip)
        shutil.copytree(templates_folder(), folder / "templates")
        for name, text in items.items():
            (folder / "templates" / "items" / f"{name[1:]}.toml").write_text(text, "utf-8")

    def run(self, *args: str | Path) -> subprocess.CompletedProcess[str]:
        """Run a command of it in its folder."""
        command = [sys.executable, "-c", "from pourtally.cli import main; main()", *map(str, args)]
        paths = {**os.environ, "PYTHONPATH": str(self.folder / "generator")}
        return subprocess.run(
            command, cwd=self.folder, env=paths, capture_output=True, text=True, check=False
        )

    def build(self, name: str, text: str) -> Path:
        """Build a workbook from the text of a job file."""
        (self.folder / f"{name}.toml").write_text(text, "utf-8")
        made = self.run("build", f"{name}.toml", "-o", ".")
        assert made.returncode == 0, made.stderr
        return self.folder / f"{name}.xlsx"

    def values(self, workbook: Path) -> tuple[dict[str, Any], list[str]]:
        """Return every figure of a workbook by its key, and all problems."""
        found = json.loads(self.run("values", workbook, "--json").stdout)
        return {k: v["value"] for k, v in found["values"].items()}, found["problems"]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return Shop(tmp_path_factory.mktemp("plain"))


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """Return a checkout with items in front of all others and between them."""
    return Shop(tmp_path_factory.mktemp("other"), _00_lamps=FRONT, _47_cable=MIDDLE)


@pytest.fixture(scope="module")
def patio(plain: Shop) -> Path:
    return plain.build("patio", job())


@pytest.fixture(scope="module")
def patio_there(other: Shop) -> Path:
    return other.build("patio", job())


def codes(workbook: Path) -> dict[str, list[str]]:
    """Return the codes of the lines of each table, as they stand in a workbook."""
    book = openpyxl.load_workbook(workbook)
    found = {}
    for name, defined in book.defined_names.items():
        if name.endswith(".code"):
            sheet, _, where = defined.attr_text.partition("!")
            row, column = openpyxl.utils.cell.coordinate_to_tuple(where.replace("$", ""))
            down = (book[sheet].cell(r, column).value for r in range(row, 10_000))
            found[name.partition(".")[0]] = [*takewhile(lambda code: code is not None, down)]
    return found


def same(shop: Shop, workbook: Path, made: Path, ours: dict[str, Any]) -> list[str]:
    """Return the keys of what a shop reads otherwise in a workbook than it was built with.

    Lines are told apart by their codes, those of the shop being as in ``made``.
    """
    found, problems = shop.values(workbook)
    assert problems == []
    there, here = codes(made), codes(workbook)
    entries = load_book("us").entries()
    different = []
    for key, value in ours.items():
        block = key.partition(".")[0]
        if key in entries and block in here:
            told = dict(zip(here[block], value, strict=True))
            read = dict(zip(there[block], found[key], strict=True))
            alike = all(read[code] == told[code] for code in read.keys() & told.keys())
        else:
            apart = block in OF_LINES or load_book("us").parts[key][0].codes
            alike = bool(apart) or found[key] == value
        different += [] if alike else [key]
    return different


def texts(copy: Path) -> dict[str, list[list[Any]]]:
    """Return everything that stands in a workbook."""
    book = openpyxl.load_workbook(copy)
    return {s.title: [[c.value for c in row] for row in s.iter_rows()] for s in book}


def saved(shop: Shop, workbook: Path) -> dict[tuple[str, str, str], str]:
    """Return {(table, line, figure): value} of a price file that a shop saves."""
    file = shop.folder / "prices.csv"
    result = shop.run("prices", workbook, "--save", file, "--replace")
    assert result.returncode == 0, result.stderr
    rows = csv.DictReader(io.StringIO(file.read_text("utf-8-sig")))
    return {(r["table"], r["line"], r["figure"]): r["value"] for r in rows}


def test_nothing_moves_where_the_template_has_more_items(
    plain: Shop, other: Shop, patio: Path, patio_there: Path
) -> None:
    ours, problems = plain.values(patio)
    assert problems == []
    assert ours["sale.total"] > 0
    assert same(other, patio, patio_there, ours) == []


def test_nothing_moves_where_the_template_has_items_no_more(
    plain: Shop, other: Shop, patio: Path, patio_there: Path
) -> None:
    ours, _ = other.values(patio_there)
    ours = {key: value for key, value in ours.items() if key in load_book("us").parts}
    assert same(plain, patio_there, patio, ours) == []


def test_a_price_stays_with_its_code_in_a_file(
    plain: Shop, other: Shop, patio: Path, patio_there: Path
) -> None:
    ours = saved(plain, patio)
    assert {k[1]: float(v) for k, v in ours.items() if k[0] == "prices" and v} == PRICES
    theirs = saved(other, patio)
    new = {("prices", code, "price"): "" for code in ("lamps", "cable", "transformer")}
    assert theirs == ours | new
    back = saved(plain, patio_there)
    assert back == ours


@pytest.mark.parametrize("there", [True, False], ids=["more items", "fewer items"])
def test_a_price_file_is_loaded_where_it_belongs(
    there: bool, plain: Shop, other: Shop, patio: Path, patio_there: Path, tmp_path: Path
) -> None:
    by, (shop, workbook, made) = (
        (plain, (other, patio, patio_there)) if there else (other, (plain, patio_there, patio))
    )
    file, new = tmp_path / "prices.csv", tmp_path / "new.xlsx"
    assert by.run("prices", workbook if there else made, "--save", file).returncode == 0
    empty = by.build("empty", 'units = "us"\n')
    loaded = shop.run("prices", empty, "--load", file, "-o", new)
    assert loaded.returncode == 0, loaded.stderr
    values, _ = shop.values(new)
    lines = dict(zip(codes(new)["prices"], values["prices.price"], strict=True))
    assert {code: value for code, value in lines.items() if value} == PRICES


def test_the_customers_copy_is_the_same(
    plain: Shop, other: Shop, patio: Path, patio_there: Path, tmp_path: Path
) -> None:
    copies: list[Path] = []
    for shop, workbook in [(plain, patio), (other, patio), (plain, patio_there)]:
        copies.append(tmp_path / f"{len(copies)}.xlsx")
        result = shop.run("share", workbook, "-o", copies[-1])
        assert result.returncode == 0, result.stderr
    ours, *theirs = map(texts, copies)
    assert theirs == [ours, ours]


def test_what_was_typed_for_an_item_that_is_gone_is_told(plain: Shop, other: Shop) -> None:
    workbook = other.build("lamps", job() + LAMPS)
    result = plain.run("values", workbook)
    here = codes(workbook)
    problems = result.stderr.splitlines()
    told_of = [("(lamps.count)", "3"), ("transformer", "120"), ("cable", "'Own shop'")]
    assert "transformer" in here["prices"]
    for name, value in told_of:
        assert any(name in p and f"{value} is not carried over" in p for p in problems), name
    values, all_problems = plain.values(workbook)
    assert len([p for p in all_problems if "not carried over" in p]) == len(told_of) + 1  # a date
    typed = [v for v in values["prices.price"] if v is not None]
    assert sorted(typed) == sorted(PRICES.values())
    assert plain.run("prices", workbook, "--save", "prices.csv").returncode == 1


def test_a_zone_of_steel_in_front_moves_no_entry(patio: Path, plain: Shop, tmp_path: Path) -> None:
    shop = Shop(tmp_path / "zones", _00_zone=ZONE)
    values, _ = shop.values(patio)
    ours, _ = plain.values(patio)
    for key in ("kind", "bar", "spacing", "bars.yours"):
        assert values[f"steel.{key}"][1:] == ours[f"steel.{key}"]
    assert values["steel.kind"][0] == "Bars"
