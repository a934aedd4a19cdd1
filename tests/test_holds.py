"""A stop of money holds prices and the papers that show them, and nothing else."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from pourtally.cli import main
from pourtally.jobfile import job_entries
from pourtally.place import address
from shop import build, keys_of, laid_out, results
from test_bad_input import CHECKS

SLAB = {"shape": "Rectangle", "a": 16, "b": 20}
PLAIN: dict[str, Any] = {"pieces": [SLAB], "mixes": [{"placed": "Chute"}]}
BEGUN: dict[str, Any] = {
    **PLAIN, "prices": [{"line": "boards", "price": 9}], "equipment": [{"what": "Own"}] * 4,
}  # fmt: skip
"""A job without prices, and the same with the first of them typed."""


SHOWN = ("figures", "status", "headline", "next", "spare", "prices", "pricing", "classes", "open")


@lru_cache
def shown(begun: bool) -> dict[str, list[Any]]:
    """Return what a job shows, before and after its first price is typed."""
    book, _ = laid_out("us")
    entries, problems = job_entries(book, BEGUN if begun else PLAIN, "test")
    assert problems == []
    return results("us", entries, keys_of("us", SHOWN))


def test_the_first_price_takes_no_quantity_away() -> None:
    before, after = shown(False), shown(True)
    for name in ("area", "concrete", "hours", "area_under", "concrete_under", "hours_under"):
        assert after[f"figures.{name}"] == before[f"figures.{name}"]
    assert isinstance(after["figures.area"][0], float)
    assert after["figures.price"] == ["–"]
    assert str(after["headline.price"][0]).startswith("STOP")
    assert after["status.work"] == before["status.work"]
    assert after["status.says"] == ["STOP: fix what Checks shows before using any price"]


def test_what_is_missing_is_counted_and_each_count_leads_to_the_next_cell() -> None:
    got = shown(True)
    needed = [n for n, state in enumerate(got["prices.needed"]) if state]
    missing = [n for n in needed if got["prices.price"][n] in (None, "")]
    assert [n for n, state in enumerate(got["prices.needed"]) if state == 2] == missing
    assert len(needed) == len(missing) + 1 == got["pricing.needed"][0]
    assert got["figures.price_under"] == [f"{len(missing)} prices missing"]
    assert got["figures.margin_under"] == ["3 wages missing"]
    assert got["next.says"][3] == f"{len(missing)} prices and 3 wages missing"
    spots = laid_out("us")[1].spots
    price = address(*spots["prices.price"].at(missing[0]))
    assert got["spare.price_at"] == [f"#Prices!{price}"] == [got["next.address"][3]]
    assert got["spare.unwaged"] == [1]


def test_a_pump_whose_hire_nobody_typed_is_the_next_one_once_all_prices_are_there() -> None:
    book, places = laid_out("us")
    needed = shown(True)["prices.needed"]
    all_there = [{"line": n, "price": 9} for n, state in enumerate(needed, 1) if state]
    job = {
        "pieces": [SLAB], "prices": [*all_there, {"line": "grout", "price": 9}],
        "equipment": [{"what": "Own"}] * 4,
    }  # fmt: skip
    entries, problems = job_entries(book, job, "test")
    assert problems == []
    got = results("us", entries, keys_of("us", (*SHOWN, "ways")))
    assert got["ways.lacks"] == [0, 0, 1]
    assert got["figures.price_under"] == ["1 price missing"]
    pump = address(*places.spots["ways.hire_fixed"].at(2))
    assert got["spare.price_at"] == [f"#Rates!{pump}"] == [got["next.address"][3]]


def test_no_check_leads_to_a_line_that_the_job_does_not_need() -> None:
    got = shown(True)
    line = got["open.says"].index(CHECKS["74-prices price_missing"]["say"])
    assert got["open.kind"][line] == "STOP, money"
    assert str(got["open.address"][line]).replace("$", "") == got["spare.price_at"][0]
    assert got["prices.needed"][int(got["open.first"][line]) - 1] == 2


HELD = sorted(name for name, check in CHECKS.items() if check.get("holds"))


ON_TRIAL = ("79-options trial_on", "79-options trial_clash")
"""The whole workbook is another job then."""


def test_what_holds_money_is_of_the_office_and_of_the_papers_of_money() -> None:
    book, _ = laid_out("us")
    of_money = {sheet.name for sheet in book.sheets if sheet.money}
    for name, check in CHECKS.items():
        goal = book.goal(check["at"])
        sheet = book.parts[goal.key][0].sheet if goal else ""
        if check["level"] == "stop" and sheet in of_money - {"Checks"}:
            assert name in HELD or name in ON_TRIAL, name
    assert len(HELD) > 20


@pytest.fixture
def begun(tmp_path: Path) -> Path:
    """Return a workbook with one price of many."""
    entries, _ = job_entries(laid_out("us")[0], BEGUN, "test")
    build("us", entries, tmp_path / "job.xlsx")
    return tmp_path / "job.xlsx"


def test_the_copy_is_refused_and_the_plan_is_drawn(begun: Path) -> None:
    shared = CliRunner().invoke(main, ["share", str(begun)])
    assert shared.exit_code == 1 and "has no price" in shared.stderr
    told = CliRunner().invoke(main, ["values", str(begun)])
    assert told.exit_code == 1 and "has no price" in told.stderr
    plan = begun.with_name("plan.dxf")
    drawn = CliRunner().invoke(main, ["plan", str(begun), "-o", str(plan)])
    assert drawn.exit_code == 0, drawn.output
    assert plan.exists() and "has no price" not in drawn.stderr
