"""A signed price stays: whatever changes later, the contract, its bills and what is owed do not."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from datetime import date
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner

from conftest import JOBS
from pourtally.cli import main
from pourtally.model import Entries
from sample import some
from shop import FINE, LOOK, STOP, build, keys_of, laid_out, read_jobs, read_workbook, results

DAY = float((date(2026, 6, 1) - date(1899, 12, 30)).days)
MONEY = ("payment.price", "payment.before", "payment.tax", "draws.due", "billing.amount",
         "contract.to_date", "contract.billed", "contract.balance", "contract.owed",
         "proposal_price.total", "signed.taken")  # fmt: skip
STATES = keys_of("us", ("status.stops", "checks.state", "checks.say"))
KEYS = keys_of("us", (*MONEY, "signed.today", "draws.reckoned", "signed.lacks", "draws.lacks",
                      "sale.total")) | STATES  # fmt: skip


def job() -> Entries:
    """Return the demo, priced, with two options chosen and a tax on the sum."""
    (ready,), problems = read_jobs([JOBS["demo"]], None)
    assert not problems
    entries = deepcopy(ready.entries)
    entries["options.chosen"][2] = "Yes"
    entries["options.chosen"][4] = "Yes"
    return entries


def signed(entries: Entries, figures: dict[str, list[Any]]) -> Entries:
    """Return a job signed and partly billed, with the figures of today typed as signed."""
    out = deepcopy(entries)
    out["payment.signed"] = [DAY]
    out["billing.billed_on"][0] = DAY + 1
    out["billing.paid_on"][0] = DAY + 9
    out["billing.paid"][0] = figures["draws.reckoned"][0]
    out["signed.figure"] = [amount or None for amount in figures["signed.today"]]
    out["draws.signed"] = [amount or None for amount in figures["draws.reckoned"]]
    return out


def open_checks(got: dict[str, list[Any]], words: str) -> bool:
    """Tell whether the check that says so stops the job."""
    line = next(n for n, say in enumerate(got["checks.say"]) if str(say).startswith(words))
    return bool(got["checks.state"][line] == STOP)


def later(entries: Entries, dice: Random) -> list[str]:
    """Change what an office or a crew may change after a contract is signed; say what."""
    ways: dict[str, Callable[[], None]] = {
        "prices": lambda: scaled(entries["prices.price"], dice.uniform(0.5, 2)),
        "wages": lambda: scaled(entries["classes.wage"], dice.uniform(0.7, 1.6)),
        "size": lambda: put(entries["bands.length.ft"], dice.randint(12, 40)),
        "finish": lambda: put(entries["usual.finish"], dice.choice(["Stamped", "Troweled"])),
        "profit": lambda: put(entries["markups.profit"], dice.uniform(0.02, 0.4)),
        "tax": lambda: put(entries["markups.tax"], dice.uniform(0, 0.11)),
        "shown": lambda: put(entries["terms.prices_shown"], "By finish, with unit prices"),
        "percents": lambda: put(entries["draws.percent"], dice.uniform(0.05, 0.3)),
        "option": lambda: put(entries["options.chosen"], dice.choice(["Yes", "No"])),
        "hours": lambda: scaled(entries["labor.rate"], dice.uniform(0.5, 3)),
    }
    chosen = dice.sample(sorted(ways), dice.randint(1, 5))
    for name in chosen:
        ways[name]()
    return chosen


def scaled(column: list[Any], by: float) -> None:
    """Multiply what is filled in."""
    column[:] = [v * by if isinstance(v, float) and v else v for v in column]


def put(column: list[Any], value: Any) -> None:
    """Set the first line."""
    column[0] = float(value) if isinstance(value, int) else value


def worked(entries: Entries) -> dict[str, list[Any]]:
    """Return what a workbook makes of a job, of the keys looked at here."""
    return dict(results("us", entries, KEYS))


TODAY = worked(job())


@pytest.mark.parametrize("seed", range(some(12)))
def test_a_signed_price_stays_whatever_changes_later(seed: int) -> None:
    dice = Random(seed)
    entries = signed(job(), TODAY)
    before = worked(entries)
    assert before["payment.price"] == TODAY["sale.total"]
    assert later(entries, dice)
    after = worked(entries)
    for key in MONEY[:-2]:
        assert after[key] == before[key], key
    parts = [Decimal(str(round(v, 2))) for v in TODAY["signed.today"]]
    assert Decimal(str(after["payment.price"][0])) == sum(parts)
    due = [Decimal(str(round(v, 2))) for v in after["draws.due"]]
    assert sum(due) == sum(parts)


def test_a_contract_that_is_not_kept_is_a_stop_at_once() -> None:
    for key, value in (("payment.signed", DAY), ("billing.billed_on", DAY), ("billing.paid", 9.0)):
        entries = job()
        entries[key][0] = value
        got = worked(entries)
        assert open_checks(got, "The contract is signed, billed or paid, and a part"), key
        assert open_checks(got, "The contract is signed, billed or paid, and one of"), key
        kept = signed(job(), TODAY)
        assert not worked(kept)["status.stops"][0]


def test_an_option_chosen_after_signing_is_a_stop_and_in_no_sum() -> None:
    entries = signed(job(), TODAY)
    entries["options.chosen"][3] = "Yes"
    got = worked(entries)
    codes = laid_out("us")[0].parts["signed.lacks"][0].codes
    lacking = {code for code, lacks in zip(codes, got["signed.lacks"], strict=True) if lacks}
    assert lacking == {"option_4", "pair_7"}  # with everything stamped, chosen and signed
    assert got["payment.price"] == TODAY["sale.total"]
    assert got["sale.total"][0] > TODAY["sale.total"][0]
    assert open_checks(got, "The contract is signed, billed or paid, and a part")


def test_what_costs_more_later_is_taken_from_the_profit_shown() -> None:
    keys = keys_of("us", ("figures.margin", "payment.profit", "price.profit", "price.cost"))
    entries = signed(job(), TODAY)
    before = dict(results("us", entries, keys))
    entries["own.what"][0], entries["own.typed"][0] = "Haul", 1.0
    entries["own.price"][0] = 400.0
    after = dict(results("us", entries, keys))
    dearer = float(after["price.cost"][0]) - float(before["price.cost"][0])  # type: ignore[arg-type]
    lost = float(before["payment.profit"][0]) - float(after["payment.profit"][0])  # type: ignore[arg-type]
    assert before["payment.profit"] == before["price.profit"]
    assert dearer == pytest.approx(400)
    assert dearer <= lost <= 1.35 * dearer  # contingency and overhead go with cost
    assert float(after["figures.margin"][0]) < float(before["figures.margin"][0])  # type: ignore[arg-type]


def test_one_sum_and_its_parts_must_agree() -> None:
    entries = signed(job(), TODAY)
    for agreed, stops in ((TODAY["sale.total"][0], False), (TODAY["sale.total"][0] + 1, True)):
        entries["payment.agreed"] = [agreed]
        got = worked(entries)
        assert open_checks(got, "The price signed in one sum and its parts") == stops


LOOKS: dict[str, tuple[dict[str, list[Any]], dict[str, list[Any]]]] = {
    "Two bills have the same invoice number": (
        {"billing.number": ["7", "7"], "billing.billed_on": [DAY, DAY]},
        {"billing.number": ["7", "8"], "billing.billed_on": [DAY, DAY]},
    ),
    "A bill is dated before the contract": (
        {"payment.signed": [DAY], "billing.billed_on": [DAY - 1]},
        {"payment.signed": [DAY], "billing.billed_on": [DAY]},
    ),
    "Two receipts have the same date": (
        {"receipts.date": [DAY, DAY], "receipts.amount": [80.0, 80.0]},
        {"receipts.date": [DAY, DAY + 1], "receipts.amount": [80.0, 80.0]},
    ),
    "Hours of a line are a part of an hour": (
        {"hour_log.hours": [8 / 24, 8.0]}, {"hour_log.hours": [0.25, 0.5, 0.75, 8.0]},
    ),
}  # fmt: skip
"""What opens a check, and what is next to it and does not."""


@pytest.mark.parametrize("words", LOOKS)
def test_a_slip_in_the_books_is_remarked(words: str) -> None:
    states = []
    for typed in LOOKS[words]:
        entries = job()
        for key, column in typed.items():
            entries[key][: len(column)] = column
        got = worked(entries)
        line = next(n for n, say in enumerate(got["checks.say"]) if str(say).startswith(words))
        states.append(got["checks.state"][line])
    assert states == [LOOK, FINE]


def prices(*words: str | Path) -> str:
    """Run the command on prices, and return what it says beside its success."""
    told = CliRunner().invoke(main, ["prices", *map(str, words)])
    assert told.exit_code == 0, told.stderr
    return told.stderr


def test_prices_loaded_into_a_signed_job_leave_its_contract(tmp_path: Path) -> None:
    entries = job()
    entries["payment.signed"] = [DAY]
    path, moved, csv = (tmp_path / name for name in ("job.xlsx", "moved.xlsx", "prices.csv"))
    build("us", entries, path)
    line = laid_out("us")[0].parts["prices.price"][0].codes.index("concrete_1")
    csv.write_text("table,line,figure,value\nprices,concrete_1,price,299\n")
    told = prices(path, "--load", csv, "-o", moved)
    assert "its contract stays" in told and "are now typed as signed" in told
    found = read_workbook(moved)
    assert found.entries["prices.price"][line] == 299
    got = worked(found.entries)
    assert got["payment.price"] == TODAY["sale.total"]
    assert got["draws.due"] == TODAY["draws.reckoned"]
    assert got["sale.total"][0] > got["payment.price"][0]
    assert not got["status.stops"][0]
    assert "what is not signed changes" in prices(moved, "--load", csv, "--replace")


def test_a_copy_of_a_signed_job_says_that_its_prices_are_todays(tmp_path: Path) -> None:
    for entries, told in ((signed(job(), TODAY), True), (job(), False)):
        path = tmp_path / f"{told}.xlsx"
        build("us", entries, path)
        done = CliRunner().invoke(main, ["share", str(path), "-o", str(tmp_path / f"c{told}.xlsx")])
        assert done.exit_code == 0, done.stderr
        assert ("at today's prices" in done.stderr) == told
