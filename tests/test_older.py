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
from functools import cache
from itertools import takewhile
from math import pi, sqrt
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner
from openpyxl.utils.cell import coordinate_to_tuple, get_column_letter

import pourtally
from pourtally import lines, pricesave, read
from pourtally.cli import main
from pourtally.files import older, templates_folder
from pourtally.jobfile import job_entries, read_job
from pourtally.load import make_book
from pourtally.model import Book, Part
from pourtally.scalar import day_number
from pourtally.template import Template, Templates
from shop import keys_of, load_book, read_workbook, report, results, tables

pytestmark = pytest.mark.xdist_group("older")  # its workbooks are made once

OLDER = Path(__file__).parent / "older"
VERSIONS = sorted(p.stem for p in OLDER.glob("*.xlsx"))
COUNTED_ANEW = {"sale.total"}
"""What another count changes: steel cut bar by bar, stakes by sides, grout apart (0.6.0)."""


def told(version: str) -> dict[str, Any]:
    """Return what was typed in the workbook of a version, and what that version made of it."""
    found: dict[str, Any] = json.loads((OLDER / f"{version}.json").read_text("utf-8"))
    return found


CALLED_NOW = {"Deduct": "Hole", "Part ring": "Ring or arc", "Barrow": "Wheelbarrow"}
"""Words of older lists, and what stands in their place."""


def as_recorded(part: Part, value: Any) -> Any:
    """Return a typed value as this version records it."""
    if part.entry == "date":
        return day_number(date.fromisoformat(value))
    if isinstance(value, str):
        return CALLED_NOW.get(value, value)
    return pytest.approx(value / 100 if "%" in part.format else value)


def typed_lines(book: Book, key: str, typed: Any) -> dict[int, Any]:
    """Return {line: value} of what was typed for one key, by number or code."""
    block, _, part = book.parts[key]
    said = typed if isinstance(typed, dict) else {"1": typed}
    return {
        int(mark) - 1 if mark.isdecimal() else block.codes.index(mark): as_recorded(part, value)
        for mark, value in said.items()
    }


# Older versions ----------------------------------------------------------------------


@pytest.mark.parametrize("version", VERSIONS)
def test_what_was_typed_then_stands_where_it_belongs_now(version: str) -> None:
    then, found = told(version), read_workbook(OLDER / f"{version}.xlsx")
    book = load_book(found.template.units)
    assert (found.template.units, found.problems) == (then["units"], [])
    moved = tuple(then.get("moved", ()))
    stays = {key: typed for key, typed in then["typed"].items() if not key.startswith(moved or "-")}
    for key, typed in {**stays, **then.get("now", {})}.items():
        expected = typed_lines(book, key, typed)
        assert {line: found.entries[key][line] for line in expected} == expected, key
        if set(book.parts[key][2].values) <= {None}:
            filled = {n for n, v in enumerate(found.entries[key]) if v is not None}
            codes = book.parts[key][0].codes
            fresh = {codes.index(code) for code in FRESH} if key == "prices.price" else set()
            if key.startswith("burdens."):  # what a workbook came with then is kept
                filled &= {*expected}
            assert filled == {*expected} | fresh, key


FRESH = ("dirt_haul", "dirt_dump", "fill")
"""What had no price then, and is taken at nothing, so that no price moves."""


@pytest.mark.parametrize("version", VERSIONS)
def test_what_was_worked_out_then_is_worked_out_now(version: str) -> None:
    figures = report(OLDER / f"{version}.xlsx").figures
    worked = told(version)["worked"]
    same = {key: value for key, value in worked.items() if key not in COUNTED_ANEW}
    assert {key: figures[key].value for key in same} == pytest.approx(same, abs=0.005)


@pytest.mark.parametrize("version", [v for v in VERSIONS if v < "0.7.0"])
def test_a_task_that_is_measured_otherwise_now_keeps_its_hours(version: str) -> None:
    """Sealing went by the stamped area, digging by all dirt, and nobody waited for the set."""
    found = read_workbook(OLDER / f"{version}.xlsx")
    asked = ("labor.hours", "labor.rate", "finish_area.total", "finishes.is_stamped", "base.bank")
    units = found.template.units
    got: dict[str, Any] = results(units, found.entries, keys_of(units, asked))
    areas = zip(got["finish_area.total"], got["finishes.is_stamped"], strict=True)
    for task, measure, amount in (
        ("Seal, two coats", "Stamped area", sum(a * is_stamped for a, is_stamped in areas)),
        ("Dig and load by machine", "Dirt to dig", got["base.bank"][0]),
    ):
        line = found.entries["labor.task"].index(task)
        assert found.entries["labor.driver"][line] == measure
        least = float(found.entries["labor.least"][line] or 0)
        worked = max(least, amount * got["labor.rate"][line])
        assert got["labor.hours"][line] == pytest.approx(worked if amount > 0 else 0)
    assert not {"Wait for set", "Dig and load by hand"} & set(found.entries["labor.task"])


def test_words_that_were_changed_mean_what_they_meant(tmp_path: Path) -> None:
    path = tmp_path / "old.xlsx"
    workbook = openpyxl.load_workbook(OLDER / "0.5.0.xlsx")
    for key, word in (("mixes.placed", "barrow"), ("labor.driver", "Concrete by barrow")):
        sheet, _, _ = workbook.defined_names[key].attr_text.partition("!")
        row, column = at("0.5.0", key, 1)  # the name stands on the head
        workbook[sheet.strip("'")].cell(row, column).value = word
    workbook.save(path)
    found = read_workbook(path)
    job = tmp_path / "old.toml"
    job.write_text(
        '[[mixes]]\nplaced = "Barrow"\n[[steel]]\n[[labor]]\ndriver = "Concrete by barrow"'
    )
    written, wrong = read_job(job)
    listed, problems = job_entries(load_book("us"), written, "old.toml")
    assert found.problems == wrong == problems == []
    for entries in (found.entries, listed):
        assert entries["mixes.placed"][0] == "Wheelbarrow"
        got = results("us", entries, keys_of("us", ("labor.driver.no", "drivers.name")))
        place = got["labor.driver.no"][0]
        assert isinstance(place, float)
        assert got["drivers.name"][int(place) - 1] == "Concrete by wheelbarrow"


def test_what_a_rate_of_steel_was_it_stays() -> None:
    """A wider spacing of dowels and a waste of bars were usual once; none is now."""
    found = read_workbook(OLDER / "0.4.0.xlsx")
    usual = load_book(found.template.units).parts
    for key, was in (("steel_rates.dowels", (2.0, 0.6)), ("steel_rates.waste", (0.05,))):
        assert found.entries[key][0] in was
        assert usual[key][2].value(0) == 0


@pytest.mark.parametrize("version", [v for v in VERSIONS if v > "0.1.0"])  # it had no prices
def test_prices_of_then_are_saved_by_their_codes(version: str, tmp_path: Path) -> None:
    file = tmp_path / "prices.csv"
    result = CliRunner().invoke(
        main, ["prices", str(OLDER / f"{version}.xlsx"), "--save", str(file)]
    )
    rows = list(csv.DictReader(io.StringIO(file.read_text("utf-8-sig"))))
    saved = {r["line"]: float(r["value"]) for r in rows if r["table"] == "prices" and r["value"]}
    then = told(version)["typed"]["prices.price"]
    assert (result.exit_code, saved) == (0, then | dict.fromkeys(FRESH, 0))


def test_bands_of_an_older_job_file_are_border_and_bands_inside() -> None:
    """Bands counted those on the edges; the panels' finish was usual for all rectangles."""
    house = {"held_far": "Yes", "through": "Across"}
    sizes: list[dict[str, Any]] = [
        {"length": [27, 6], "width": [18, 3], **house},
        {"length": 20, "width": 10},
    ]
    then: dict[str, Any] = {
        "usual_bands": {"panel_finish": "Exposed aggregate", "mix": "Plain"},
        "bands": [
            {**sizes[0], "across": 4, "along": 3, "across_wide": [1, 3], "along_wide": 1,
             "band_thickness": 5, "band_mix": "Colored"},
            {**sizes[1], "across": 2, "along": 1, "band_near": "No", "band_far": "No",
             "band_finish": "Broomed", "panel_finish": "Stamped"},
        ],
    }  # fmt: skip
    now: dict[str, Any] = {
        "usual_bands": {"mix": "Plain"},
        "bands": [
            {**sizes[0], "inside_across": 2, "inside_along": 1, "end_wide": [1, 3],
             "side_wide": 1, "border_thickness": 5, "border_mix": "Colored",
             "panel_finish": "Exposed aggregate"},
            {**sizes[1], "inside_along": 1, "band_near": "No", "band_far": "No",
             "border_finish": "Broomed", "panel_finish": "Stamped"},
        ],
    }  # fmt: skip
    read = [job_entries(load_book("us"), job, "test") for job in (then, now)]
    assert [problems for _, problems in read] == [[], []]
    assert read[0][0] == read[1][0]


@pytest.mark.parametrize(("was", "now"), [(w, n) for w, n in CALLED_NOW.items() if w != "Barrow"])
def test_a_job_file_with_a_word_of_then_is_the_job_with_that_of_now(was: str, now: str) -> None:
    ring = {"shape": was if was == "Part ring" else "Ring or arc", "a": 4, "b": 9, "number": 90}
    slab = {"shape": "rectangle", "a": 9, "b": 9}
    hole = {"shape": "Circle", "a": 2, "sign": was.upper() if was == "Deduct" else "Hole"}
    corners = [{"x": 0, "y": 0}, {"x": 2, "y": 0}, {"x": 2, "y": 2}]
    job = {"pieces": [slab, ring, hole], "outlines": [{"sign": hole["sign"]}], "corners": corners}
    entries, problems = job_entries(load_book("us"), job, "test")
    assert problems == []
    assert now in (entries["pieces.shape"][1], entries["pieces.sign"][2])
    figures = results("us", entries, keys_of("us", ("total", "pieces.area", "outlines.area")))
    assert figures["total.area"] == [pytest.approx(81 + 65 * pi / 4 - pi - 2)]
    assert figures["total.form"][0] == pytest.approx(36 + 10 + 6.5 * pi + 2 * pi + 4 + sqrt(8))


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
    row, column = coordinate_to_tuple(where.replace("$", ""))
    return row + line, column


@pytest.mark.parametrize("change", ["insert_rows", "delete_rows"])
def test_a_torn_table_of_then_is_not_taken(change: str, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(OLDER / "0.3.0.xlsx")
    getattr(workbook["Rates"], change)(at("0.3.0", "supply.supplier", 8)[0])
    workbook.save(tmp_path / "old.xlsx")
    found = read_workbook(tmp_path / "old.xlsx")
    assert any(p.startswith("Where each supply comes from: line 9 is") for p in found.problems)
    assert set(found.entries["supply.supplier"]) == {None}


CUT = {
    "the first cell of a column, cut to three lines down": {"pieces.a.ft": "Measure!$D$30"},
    "inches cut into feet": {"pieces.a.in": "Measure!$D$27"},
    "the first line, cut to the next": {
        "pieces.what": "Measure!$B$28", "pieces.shape": "Measure!$C$28",
        "pieces.a.ft": "Measure!$D$28", "pieces.a.in": "Measure!$E$28"},
    "a name cut over another": {"job.name": "Measure!$C$7"},
    "a form's figure cut into a table": {"crew.size": "Labor!$F$40"},
    "feet of one rectangle cut to the next": {"bands.length.ft": "Bands!$D$18"},
    "feet cut into inches, across": {"bands.width.ft": "Bands!$C$19"},
    "a price cut to another sheet": {"prices.price": "Rates!$C$8"},
}  # fmt: skip
"""Names that went along when their cell was cut and pasted, and where they then pointed."""


@pytest.mark.parametrize("moved", CUT.values(), ids=CUT)
def test_a_name_that_went_along_with_a_cut_cell_is_held_against_its_head(
    moved: dict[str, str], tmp_path: Path
) -> None:
    workbook = openpyxl.load_workbook(OLDER / "0.3.0.xlsx")
    for key, cell in moved.items():
        workbook.defined_names[key].attr_text = cell
    workbook.save(tmp_path / "old.xlsx")
    straight, found = (read_workbook(p) for p in (OLDER / "0.3.0.xlsx", tmp_path / "old.xlsx"))
    assert found.entries == straight.entries
    assert len(found.problems) == len(moved)
    for problem, cell in zip(sorted(found.problems), sorted(moved.values()), strict=True):
        assert problem.startswith(cell.replace("!", " ").replace("$", "") + " (")
        assert "its name was moved there when a cell was cut; read from" in problem


def test_a_name_that_went_astray_and_has_no_head_is_told(tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(OLDER / "0.3.0.xlsx")
    workbook["Measure"]["D26"].value = "Length"
    workbook.defined_names["pieces.a.ft"].attr_text = "Measure!$E$27"
    workbook.save(tmp_path / "old.xlsx")
    found = read_workbook(tmp_path / "old.xlsx")
    assert "pieces.a.ft" not in found.entries
    (problem,) = found.problems
    assert "its head is not found, so usual values are taken" in problem


def test_more_lines_than_a_version_had_are_not_guessed_at(tmp_path: Path) -> None:
    row, column = at("0.1.0", "supply.supplier", 54)
    name = get_column_letter(column)
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
        "has the code '", "has no code, s", "64 is not carr", "2026-05-04 is ",
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


def test_a_code_that_was_changed_is_found_by_what_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    book, known = load_book("us"), older()
    blocks = {b.key: b for b in book.blocks}
    renamed = {"prices": {"plastic": "boards", "boards": "plastic"}}
    monkeypatch.setattr(lines, "older", lambda: {**known, "renamed": renamed})
    found = read_workbook(OLDER / "0.3.0.xlsx").entries["prices.price"]
    prices = dict(zip(blocks["prices"].codes, found, strict=True))
    assert (prices["boards"], prices["plastic"]) == (64, 9.48)


def test_every_line_of_then_is_there_now() -> None:
    codes = {b.key: b.codes for b in load_book("us").blocks}
    listed = [v for version, v in older().items() if version[0].isdecimal()]
    assert {block for one in listed for block in one} == {"supply", "steel", "quantities_shown"}
    for one in listed:
        for block, then in one.items():
            assert set(then) <= set(codes[block])
            assert len(set(then)) == len(then)


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
under = "Concrete"
key = "lamps"
name = "Lamps"
count = "={lamps.count}"
unit = "lamps"
usual = 1
[[gives]]
to = "priced"
under = "Concrete"
key = "transformer"
name = "Transformer for lamps"
count = "=N({lamps.count}>0)"
unit = "transformers"
supplier = "Own shop"
mix = 0
concrete = 0
[[gives]]
to = "cost"
under = "Concrete"
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
under = "Concrete"
key = "cable"
name = "Cable"
count = "={cable.length}"
unit = "rolls"
usual = 2
"""
JOB = """
units = "us"
size = "small"
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
[[equipment]]
what = "Loader"
task = "Dig and load by machine"
hourly = 60
[[equipment]]
what = "Plate"
[[equipment]]
what = "Saw"
[[ways]]
[[ways]]
[[ways]]
hire_fixed = 300
[delivery]
short_flat = 150
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
    "sealant": 11.6, "plastic": 64, "concrete_1": 172, "grout": 165,
    "dirt_haul": 90, "dirt_dump": 40,
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
PLACES = {"includes.pays.no"}
"""Where in the list of costs a chosen line stands: that moves with the lines before it."""
OF_LINES = {"limits", "replaced", "basis", "checks"}
"""Tables that say something of every entry or line, whatever it holds; so does any place ``at``."""


def job() -> str:
    dated = 'line = "{}"\nprice = {}\ndate = 2026-05-04\n'
    return JOB + "".join("[[prices]]\n" + dated.format(*p) for p in PRICES.items())


class Shop:
    """A template with items more, or none, and the commands of a checkout that has it."""

    def __init__(self, folder: Path, **items: str) -> None:
        self.folder = folder
        self.own = bool(items)
        if items:
            ours = Path(pourtally.__file__).parent
            skip = shutil.ignore_patterns("__pycache__", "templates")
            shutil.copytree(ours, folder / "generator" / "pourtally", ignore=skip)
            shutil.copytree(templates_folder(), folder / "templates")
        for name, text in items.items():
            (folder / "templates" / "items" / f"{name[1:]}.toml").write_text(text, "utf-8")

    def run(self, *args: str | Path) -> tuple[int, str, str]:
        """Run a command; return its exit code, what it said and its problems."""
        words = [str(arg) for arg in args]
        if not self.own:
            here = CliRunner().invoke(main, words)
            return here.exit_code, here.stdout, here.stderr
        command = [sys.executable, "-c", "from pourtally.cli import main; main()", *words]
        paths = {**os.environ, "PYTHONPATH": str(self.folder / "generator")}
        done = subprocess.run(command, env=paths, capture_output=True, text=True, check=False)
        return done.returncode, done.stdout, done.stderr

    def build(self, name: str, text: str) -> Path:
        """Build a workbook from the text of a job file."""
        file = self.folder / f"{name}.toml"
        file.write_text(text, "utf-8")
        assert self.run("build", file, "-o", self.folder)[::2] == (0, "")
        return file.with_suffix(".xlsx")

    @cache  # noqa: B019  # as long as the tests of this file
    def values(self, workbook: Path) -> tuple[dict[str, Any], list[str]]:
        """Return every figure of a workbook by its key, and all problems."""
        found = json.loads(self.run("values", workbook, "--json")[1])
        return {k: v["value"] for k, v in found["values"].items()}, found["problems"]

    @cache  # noqa: B019
    def saved(self, workbook: Path) -> Path:
        """Return the price file saved from a workbook."""
        file = self.folder / f"{workbook.parent.name}.csv"
        assert self.run("prices", workbook, "--save", file)[::2] == (0, "")
        return file


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


@cache
def opened(workbook: Path) -> openpyxl.Workbook:
    return openpyxl.load_workbook(workbook)


def by_code(workbook: Path, key: str) -> dict[str, Any]:
    """Return {code: what stands there} of one key, from the cells of a workbook."""
    book = opened(workbook)
    spots = []
    for name in (f"{key.partition('.')[0]}.code", key):
        sheet, _, where = book.defined_names[name].attr_text.partition("!")
        spots.append(coordinate_to_tuple(where.replace("$", "")))
    (row, coded), (_, column) = spots
    down = ((book[sheet].cell(r, coded).value, book[sheet].cell(r, column).value)
            for r in range(row, row + 1000))  # fmt: skip
    return dict(takewhile(lambda line: line[0], down))


def coded() -> list[str]:
    """Return the entries whose lines are told apart by codes."""
    return [key for key, (block, _, _) in load_book("us").entries().items() if block.codes]


def figures(shop: Shop, workbook: Path) -> dict[str, Any]:
    """Return what a shop reads and works out, but for tables of which items give the lines."""
    found, problems = shop.values(workbook)
    assert problems == []
    assert found["sale.total"] > 0
    ours = load_book("us").parts
    return {
        key: value
        for key, value in found.items()
        if key in ours and not ours[key][0].codes and key.partition(".")[0] not in OF_LINES
        and key not in PLACES
        and not key.endswith((".at", "_at", ".address", ".unpriced"))
    }  # fmt: skip


def read_by_code(shop: Shop, workbook: Path, made: Path, key: str) -> dict[str, Any]:
    """Return {code: value} as a shop reads one key; ``made`` is any workbook the shop made."""
    return dict(zip(by_code(made, key), shop.values(workbook)[0][key], strict=True))


def test_nothing_moves_where_the_template_has_more_items(
    plain: Shop, other: Shop, patio: Path, patio_there: Path
) -> None:
    assert figures(other, patio) == figures(plain, patio)
    for key in coded():
        ours, theirs = (
            read_by_code(plain, patio, patio, key),
            read_by_code(other, patio, patio_there, key),
        )
        assert {code: theirs[code] for code in ours} == ours, key
    assert {
        c: v for c, v in read_by_code(other, patio, patio_there, "prices.price").items() if v
    } == PRICES


def test_nothing_moves_where_the_template_has_items_no_more(
    plain: Shop, other: Shop, patio: Path, patio_there: Path
) -> None:
    assert figures(plain, patio_there) == figures(other, patio_there)
    for key in coded():
        ours, theirs = read_by_code(plain, patio_there, patio, key), by_code(patio_there, key)
        if load_book("us").parts[key][2].entry != "date":
            assert {code: theirs[code] for code in ours} == ours, key


def test_a_price_stays_with_its_code_in_a_file(
    plain: Shop, other: Shop, patio: Path, patio_there: Path
) -> None:
    def rows(file: Path) -> dict[tuple[str, ...], str]:
        told = csv.DictReader(io.StringIO(file.read_text("utf-8-sig")))
        return {(r["table"], r["line"], r["figure"], r["date"]): r["value"] for r in told}

    ours = rows(plain.saved(patio))
    assert {k[1]: float(v) for k, v in ours.items() if k[0] == "prices" and v} == PRICES
    new = {("prices", code, "price", ""): "" for code in ("lamps", "cable", "transformer")}
    assert rows(other.saved(patio)) == ours | new
    assert rows(plain.saved(patio_there)) == ours


@pytest.mark.parametrize("more", [True, False], ids=["more items", "fewer items"])
def test_a_price_file_is_loaded_where_it_belongs(
    more: bool, plain: Shop, other: Shop, patio: Path, patio_there: Path, tmp_path: Path
) -> None:
    file = tmp_path / "prices.csv"
    shutil.copy(plain.saved(patio) if more else other.saved(patio), file)
    file.write_text(file.read_text("utf-8-sig").replace(",64,", ",65.5,"), "utf-8")
    shop, workbook = (other, patio_there) if more else (plain, patio)
    code, _, wrong = shop.run("prices", workbook, "--load", file, "-o", tmp_path / "new.xlsx")
    assert (code, wrong.count("problem")) == (0, 0), wrong
    loaded = by_code(tmp_path / "new.xlsx", "prices.price")
    assert {c: v for c, v in loaded.items() if v} == PRICES | {"plastic": 65.5}


def test_the_customers_copy_is_the_same(
    plain: Shop, other: Shop, patio: Path, patio_there: Path, tmp_path: Path
) -> None:
    def copy(shop: Shop, workbook: Path) -> list[list[Any]]:
        path = tmp_path / f"{shop.folder.name}-{workbook.parent.name}.xlsx"
        assert shop.run("share", workbook, "-o", path)[::2] == (0, "")
        return [[c.value for c in row] for sheet in openpyxl.load_workbook(path) for row in sheet]

    assert copy(other, patio) == copy(plain, patio)
    assert copy(plain, patio_there) == copy(other, patio_there)


def test_what_was_typed_for_an_item_that_is_gone_is_told(
    plain: Shop, other: Shop, tmp_path: Path
) -> None:
    workbook = other.build("lamps", job() + LAMPS)
    values, problems = plain.values(workbook)
    told_of = [
        ("(lamps.count): 3 is not carried over", "no such entry"),
        ("Supplier, line ", "): 'Own shop' is not carried over", "no line 'cable'"),
        ("Price, line ", "): 120 is not carried over", "no line 'transformer'"),
        ("Date of the price, line ", "): 2026-05-04 is not carried over", "no line 'transformer'"),
    ]
    for said in told_of:
        assert any(all(words in problem for words in said) for problem in problems), problems
    assert [p for p in problems if "is not carried over" not in p] == []
    assert len(problems) == len(told_of)
    assert sorted(v for v in values["prices.price"] if v is not None) == sorted(PRICES.values())
    assert plain.run("prices", workbook, "--save", tmp_path / "prices.csv")[0] == 1


def test_a_zone_of_steel_is_known_by_its_code(patio: Path, tmp_path: Path) -> None:
    ours = read_workbook(patio).entries["steel.bars.yours"]
    workbook = openpyxl.load_workbook(patio)
    sheet = workbook["Quantities"]
    where = workbook.defined_names["steel.code"].attr_text.partition("!")[2].replace("$", "")
    row, column = coordinate_to_tuple(where)
    for line, code in enumerate(("panels", "slabs", "bands")):
        sheet.cell(row + line, column).value = code
    workbook.save(tmp_path / "patio.xlsx")
    found = read_workbook(tmp_path / "patio.xlsx").entries["steel.bars.yours"]
    assert (ours, found) == ([22.0, None, None], [None, None, 22.0])


def test_a_table_without_its_codes_is_not_taken(patio: Path, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(patio)
    del workbook.defined_names["supply.code"]
    workbook.save(tmp_path / "patio.xlsx")
    found = read_workbook(tmp_path / "patio.xlsx")
    (problem,) = found.problems
    assert problem.startswith("Where each supply comes from: the codes of its lines are not found")
    assert set(found.entries["supply.supplier"]) == {None}


@pytest.mark.parametrize("count", [4, 7], ids=["shorter", "longer"])
def test_a_table_may_have_been_shorter_or_longer(count: int, patio: Path, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(patio)
    sheet = workbook["Terms"]
    where = workbook.defined_names["holidays.name"].attr_text.partition("!")[2].replace("$", "")
    row, column = coordinate_to_tuple(where)
    row += 1  # its name stands on the head
    for line in range(7):
        sheet.cell(row + line, 1).value = line + 1 if line < count else None
        sheet.cell(row + line, column).value = f"Day {line + 1}" if line < count else None
        sheet.cell(row + line, column + 1).value = None
    workbook.save(tmp_path / "patio.xlsx")
    found = read_workbook(tmp_path / "patio.xlsx")
    usual = load_book("us").parts["holidays.name"][2].values
    there = [f"Day {n + 1}" for n in range(min(6, count))]
    assert found.entries["holidays.name"] == [*there, *usual[len(there) : 6]]
    gone = [f"Terms {get_column_letter(column)}{row + 6} (", "'Day 7' is not carried over"]
    assert len(found.problems) == (count == 7)
    assert all(words in problem for words in gone for problem in found.problems)


def with_lines_in_front() -> Templates:
    """Return templates that begin with one mix and one product more, before all others."""
    sheets, measures, items = tables()
    for block in (b for item in items.values() for b in item.get("block", [])):
        if block["key"] in ("mixes", "products"):
            block["lines"] += 1
            for field in block["field"]:
                usual = field.get("default")
                if isinstance(usual, list):
                    field["default"] = ["New one" if field["key"] == "name" else usual[0], *usual]
    templates = Templates()
    book = make_book("us", sheets, measures, items, size="small")
    templates["us", "small"] = Template(book)
    return templates


def test_nothing_moves_where_the_template_begins_with_another_mix_and_product(
    patio: Path, tmp_path: Path
) -> None:
    ours, theirs = Templates(), with_lines_in_front()
    then, now = read.read_workbook(patio, ours), read.read_workbook(patio, theirs)
    assert now.problems == then.problems == []
    for key, column in then.entries.items():
        block = ours["us", "small"].book.parts[key][0]
        if not block.codes:
            assert now.entries[key][: block.lines] == column, key
    before, after = (made["us", "small"].results(found.entries) for made, found in
                     ((ours, then), (theirs, now)))  # fmt: skip
    assert before["sale.total"] == after["sale.total"] != [0.0]
    prices = [
        {c: p for c, p in zip(found["prices.code"], found["prices.price"], strict=True) if p}
        for found in (before, after)
    ]
    assert prices[0] == prices[1] == PRICES
    assert len(after["prices.code"]) > len(before["prices.code"])
    told, problems, _ = pricesave.saved(patio, theirs)
    assert problems == [] and "concrete_1,,price,172" in told.replace('"Concrete, Plain"', "")


def test_prices_of_options_that_were_worked_out_then_are_kept_as_they_stood(
    tmp_path: Path,
) -> None:
    """What a spreadsheet stores beside the formulas of 0.8.0: they are not in the small file."""
    book = openpyxl.load_workbook(OLDER / "0.8.0.xlsx")
    sheet = book["Estimate"]
    price = coordinate_to_tuple(
        book.defined_names["options.price"].attr_text.split("!")[1].replace("$", "")
    )
    for line, figure in enumerate([-649.29, 0.0, 949.8250001]):
        sheet.cell(price[0] + line, price[1]).value = figure
    at = coordinate_to_tuple(
        book.defined_names["price.price"].attr_text.split("!")[1].replace("$", "")
    )
    sheet.cell(*at).value = 8810.0
    book.save(tmp_path / "then.xlsx")
    found = read_workbook(tmp_path / "then.xlsx")
    assert found.problems == []
    assert found.entries["options.price"][:4] == [-649.29, None, 949.83, None]
    assert found.entries["options.at"][:4] == [8810, None, 8810, None]
