"""Percentages: 5 for people and files, 0.05 in a cell that shows 5 %, whichever way it came."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, cast

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

import shop
from engines import by_libreoffice
from pourtally.formula import find
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Part, Units
from pourtally.percent import is_percent, percent, share, told
from pourtally.place import address
from pourtally.typed import taken
from pourtally.values import json_text, open_stops, plain_text
from programs import asked, convert
from shop import loaded, read_workbook, report, saved

# A small workbook does, and is built, read and saved in less time.
build = partial(shop.build, size="small")
laid_out = partial(shop.laid_out, size="small")
results = partial(shop.results, size="small")

UNITS = pytest.mark.parametrize("units", ["us", "si"])
FORMS = ["markups.contingency", "markups.overhead", "markups.profit"]
JOB: dict[str, Any] = {
    "markups": {"contingency": 5, "overhead": 12, "profit": 18, "tax": 8.25},
    "mixes": [{"waste": 7}],
    "classes": [{"wage": 30, "people": 2, "insurance": 12.85}],
    "burdens": [{"line": 2, "percent": 1.45}],
}


def entries() -> Entries:
    typed, problems = job_entries(laid_out("us")[0], JOB, "test")
    assert problems == []
    return typed


def part(key: str) -> Part:
    return laid_out("us")[0].parts[key][2]


def typed_percents(units: Units) -> list[str]:
    return [k for k, (_, _, p) in laid_out(units)[0].entries().items() if is_percent(p)]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("percent") / "job.xlsx"
    build("us", entries(), path)
    return path


@pytest.fixture
def workbook(built: Path, tmp_path: Path) -> Path:
    """Return a fresh copy of a filled-in workbook."""
    return Path(shutil.copy(built, tmp_path / "job.xlsx"))


def retype(path: Path, typed: dict[str, Any], look: str = "", made_by: str = "") -> None:
    """Put a value or a column into entries, with a format and a maker's name where given.

    An older maker's names stood on the entries themselves.
    """
    book = openpyxl.load_workbook(path)
    for key in laid_out("us")[0].entries() if made_by else ():
        spot = laid_out("us")[1].spots[key]
        at = address(*spot.at(0), fixed=True)
        book.defined_names[key].attr_text = f"{spot.sheet}!{at}"
    for key, said in typed.items():
        spot = laid_out("us")[1].spots[key]
        for line, value in enumerate(said if isinstance(said, list) else [said]):
            cell = book[spot.sheet][address(*spot.at(line))]
            cell.value = value
            cell.number_format = look or cell.number_format
    book.properties.description = made_by or book.properties.description
    book.save(path)


# Declarations --------------------------------------------------------------------------


@UNITS
def test_every_percent_entry_has_a_limit_and_an_effect_beside_it(units: Units) -> None:
    book, places = laid_out(units)
    keys = typed_percents(units)
    assert len(keys) > 40
    for key in keys:
        block, item, typed = book.parts[key]
        assert 0 <= typed.limits.least < typed.limits.most <= 3, key
        beside = book.parts[f"{key}.effect"][2]
        assert beside in item.parts and not beside.working, key
        money = beside.pint == "dollar" and not book.local.sign  # a place without a sign
        assert beside.unit or money, f"{key}: its effect has no unit"
        row, column = places.spots[key].at(0)
        after = 2 if block.shape == "form" else 1  # a form says the unit right after what is typed
        assert places.spots[f"{key}.effect"].at(0) == (row, column + after), key
        assert item.note.startswith(book.words["percent_note"]), f"{key} in {block.key}"


@UNITS
def test_every_figure_told_in_percent_is_a_share_shown_as_one(units: Units) -> None:
    parts = [t[2] for t in laid_out(units)[0].parts.values()]
    assert [p.key for p in parts if p.unit == "%" and not is_percent(p)] == []
    assert [p.key for p in parts if is_percent(p) and p.pint] == []


@UNITS
def test_nothing_reads_an_effect(units: Units) -> None:
    book, _ = laid_out(units)
    read = {
        (key, ref.part)
        for key, (block, _, one) in book.parts.items()
        for text in one.formulas
        for ref in find(book, block, text, key)
    }
    assert {pair for pair in read if pair[1].endswith(".effect")} == set()


def test_every_percent_cell_says_how_it_is_typed(shelf: Callable[[str], Path]) -> None:
    book, places = laid_out("us")
    sheets = openpyxl.load_workbook(shelf("blank-us-small"))
    prompts = {
        (sheet.title, cell): rule
        for sheet in sheets
        for rule in sheet.data_validations.dataValidation
        for cell in str(rule.sqref).replace("$", "").split(":")[:1]
    }
    for key in typed_percents("us"):
        spot = places.spots[key]
        at = address(*spot.at(0))
        rule = prompts[spot.sheet, at]
        assert rule.prompt.startswith(book.words["percent_note"]), key
        assert float(rule.formula2) == part(key).limits.most, key
        assert sheets[spot.sheet][at].number_format.endswith("%"), key


# Edges -----------------------------------------------------------------------------------


@given(st.decimals(0, 300, places=6, allow_nan=False))
def test_a_percentage_comes_back_as_it_was_said(said: Any) -> None:
    value = float(said)
    assert percent(share(value)) == value
    assert share(value) == float(said / 100)


def test_a_job_file_says_5_and_gets_5_back(workbook: Path) -> None:
    typed = entries()
    assert typed["markups.contingency"] == [0.05]
    assert typed["markups.tax"] == [0.0825]
    assert typed["mixes.waste"][0] == 0.07
    found = report(workbook)
    values = json.loads(json_text(found))["values"]
    assert values["markups.contingency"] == {"label": "Contingency", "unit": "%", "value": 5}
    assert values["markups.tax"]["value"] == 8.25
    assert values["mixes.waste"]["value"][:2] == [7, 5]
    assert values["classes.insurance"]["value"][0] == 12.85
    (line,) = [t for t in plain_text(found).splitlines() if " markups.tax " in t]
    assert line.split()[-2:] == ["%", "8.25"]


def test_what_is_beyond_a_limit_is_said_in_percent() -> None:
    job = {"markups": {"contingency": 500, "overhead": "12 %"}}
    _, problems = job_entries(laid_out("us")[0], job, "job.toml")
    assert problems == [
        "job.toml: markups.contingency: came 500; expected a number from 0 to 40 %",
        "job.toml: markups.overhead: came '12 %'; expected a number from 0 to 200 %",
    ]


def test_a_price_file_carries_percentages(
    workbook: Path, shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    text, problems = saved(workbook)
    assert problems == []
    rows = [line.split(",") for line in text.splitlines()]
    assert next(r[4:6] for r in rows if r[3] == "insurance") == ["12.85", "$ per 100 $"]
    assert ["burdens", "2", "Medicare", "percent", "1.45", "%"] in [r[:6] for r in rows]
    prices = tmp_path / "prices.csv"
    prices.write_text(text, encoding="utf-8")
    taken_over = loaded(shelf("blank-us-small"), prices)
    assert taken_over.problems == []
    for key in ("classes.insurance", "burdens.percent"):
        assert taken_over.entries[key] == entries()[key]


def test_sentences_say_10_where_10_percent_is_meant() -> None:
    job = {"what_if_sizes": {"slower": 10, "dearer": 7}}
    typed, _ = job_entries(laid_out("us")[0], job, "test")
    names = results("us", typed)["what_if.name"]
    assert names[1] == "Concrete 7 % dearer"
    assert names[4] == "All work 10 % longer"


# Cells -----------------------------------------------------------------------------------


def test_typed_figures_show_as_typed(workbook: Path, tmp_path: Path) -> None:
    retype(workbook, {"markups.contingency": 0.05, "markups.overhead": 0.075,
                      "markups.profit": 0.125, "markups.tax": 0.08375, "markups.least": 1250,
                      "markups.step": 2.5})  # fmt: skip
    book = openpyxl.load_workbook(workbook)
    for name in book.sheetnames:
        if name != "Estimate":
            del book[name]
    book.save(workbook)
    convert([workbook], "pdf", tmp_path, tmp_path / "profile")
    words = asked("pdftotext", workbook.with_suffix(".pdf"), "-").split()
    assert [w for w in words if w.endswith("%") and w != "%"][:4] == ["5%", "7.5%", "12.5%",
                                                                      "8.375%"]  # fmt: skip
    assert {"1,250.00", "2.50"} <= set(words)


@pytest.mark.parametrize("text", ["5%%", "5%", " 5 % ", "5 %%"])
def test_a_sign_typed_twice_is_named_for_what_it_is(text: str) -> None:
    value, wrong = taken(part("markups.contingency"), "s", text)
    assert value is None
    assert wrong == f"came {text!r}: the cell adds the % itself; type 5"


@pytest.mark.parametrize("key", FORMS)
def test_a_sign_typed_twice_stops_the_job(key: str) -> None:
    worked = results("us", {key: ["18%%"]})
    assert str(results("us", {})["status.says"][0]).startswith("OK")
    assert str(worked["status.says"][0]).startswith("STOP")
    label = laid_out("us")[0].parts[key][1].label
    assert [s for s in open_stops(laid_out("us")[0], worked) if f"{label}: 1 wrong" in s]


def test_a_sign_typed_twice_is_a_problem_of_the_file(workbook: Path) -> None:
    retype(workbook, dict.fromkeys(FORMS, "18%%"))
    problems = read_workbook(workbook).problems
    assert len(problems) == len(FORMS)
    for problem in problems:
        assert problem.endswith(": came '18%%': the cell adds the % itself; type 18")


@pytest.mark.parametrize("look", ["0.00%", "General"])
def test_5_pasted_over_a_percent_cell_is_500_percent(look: str, workbook: Path) -> None:
    retype(workbook, dict.fromkeys(FORMS, 5), look)
    filled = read_workbook(workbook)
    assert len(filled.problems) == len(FORMS)
    for key in FORMS:
        most = f"{percent(part(key).limits.most):g}"
        said = f"came 500%; expected a number from 0 to {most} %: type 5 for 5 %"
        assert [p for p in filled.problems if p.endswith(said)], key
        assert filled.entries[key] == [None]
        worked = results("us", entries() | {key: [5.0]}, frozenset({"status.limits_wrong"}))
        assert worked["status.limits_wrong"] == [1]


def test_a_share_in_a_cell_of_any_format_is_taken(workbook: Path) -> None:
    retype(workbook, dict.fromkeys(FORMS, 0.05), "General")
    filled = read_workbook(workbook)
    assert filled.problems == []
    assert [filled.entries[key] for key in FORMS] == [[0.05]] * 3


def test_a_workbook_of_an_older_version_holds_5_for_5_percent(workbook: Path) -> None:
    now = read_workbook(workbook).entries
    said = {k: [told(part(k), value) for value in now[k]] for k in typed_percents("us")}
    assert said["markups.contingency"] == [5]
    retype(workbook, said, "#,##0.#", "Pourtally 0.3.0 us")
    filled = read_workbook(workbook)
    assert filled.problems == []
    for key in said:  # an older workbook is read as one of the usual size
        assert filled.entries[key][: len(now[key])] == now[key], key


def test_a_percent_format_in_an_older_workbook_is_told(workbook: Path) -> None:
    retype(workbook, {"markups.profit": 0.05}, "0%", "Pourtally 0.3.0 us")
    said = [p for p in read_workbook(workbook).problems if "Profit" in p]
    assert [p.partition(": ")[2] for p in said] == [
        "came 5%, which a spreadsheet keeps as 0.05; expected a number from 0 to 100 %: "
        "clear the cell's format and type 5"
    ]


def test_the_effect_is_money_where_a_percentage_is_money() -> None:
    job = JOB | {"pieces": [{"shape": "Rectangle", "a": 20, "b": 20}]}
    typed, _ = job_entries(laid_out("us")[0], job, "test")
    got = cast(dict[str, list[Any]], results("us", typed))
    assert got["price.cost"][0] > 0
    assert got["markups.contingency.effect"] == [round(got["price.cost"][0] * 0.05, 2)]
    base = got["price.cost"][0] + got["price.contingency"][0]
    assert got["markups.overhead.effect"][0] == pytest.approx(base * 0.12, abs=0.006)
    assert got["mixes.waste.effect"][0] == pytest.approx(got["pours.neat"][0] * 0.07, rel=0.3)


def test_a_spreadsheet_program_takes_5_percent_and_stops_at_5_percent_percent(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    said = {"fair.xlsx": 0.05, "twice.xlsx": "5%%", "pasted.xlsx": 5}
    paths = [Path(shutil.copy(shelf("blank-us-small"), tmp_path / name)) for name in said]
    for path in paths:
        retype(path, dict.fromkeys(FORMS, said[path.name]))
    worked = by_libreoffice(paths, tmp_path)
    spot = laid_out("us")[1].spots["status.says"]
    row, column = spot.at(0)
    states = [str(worked[p][spot.sheet, row + 1, column + 1]).partition(":")[0] for p in paths]
    assert states == ["OK", "STOP", "STOP"]
