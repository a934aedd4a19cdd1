"""What was billed, paid and spent, as files for the bookkeeper: every sum ties to the workbook."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import shop
from pourtally.cli import main
from pourtally.jobfile import job_entries
from shop import laid_out, results

pytestmark = pytest.mark.xdist_group("books")

HEADS = {
    "customers": "customer,address,phone",
    "bills": "number,date,customer,job,what,net,tax,total,held_back,to_pay,file",
    "payments": "date,bill,customer,job,amount,file",
    "receipts": "date,supplier,cost_line,job,net,tax,total,file",
}
SMITH: dict[str, Any] = {
    "job": {
        "name": "Smith patio",
        "customer": "Ada Smith",
        "address": "1 Elm",
        "phone": "555 0140",
    },
    "terms": {"number": "26-1"},
    "payment": {"retainage": 5},
    "signed": [{"line": "work", "figure": 9000.01}, {"line": "tax", "figure": 512.34}],
    "draws": [{"signed": 1000}, {"signed": 3333.33}, {"signed": 5179.02}, {"name": ""}],
    "changes": [
        {"what": "+ a step", "when": "At once", "amount": 500.55, "days": 0, "approved": 46170}
    ],
    "billing": [
        {"billed_on": 46160, "paid_on": 46165, "paid": 500.5},
        {"billed_on": 46161, "number": "007"},
        {"line": 7, "billed_on": 46171},
    ],
    "receipts": [
        {"date": 46162, "from": "Quarry, Inc.", "amount": 315.375, "tax": 18.92},
        {"date": 46163, "from": "@Yard", "amount": -20},
        {"from": "nothing yet"},
    ],
}


def run(*words: str | Path) -> Result:
    result = CliRunner().invoke(main, ["books", *map(str, words)])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def made(path: Path, job: dict[str, Any]) -> dict[str, list[Any]]:
    """Build a workbook of a job, and return its figures."""
    book = laid_out("us", "small")[0]
    dated: dict[str, Any] = {k: [_dated(i) for i in v] if type(v) is list else v
                             for k, v in job.items()}  # fmt: skip
    entries, problems = job_entries(book, dated, "test")
    assert problems == []
    shop.build("us", entries, path, "small")
    return results("us", entries, size="small")


def _dated(line: dict[str, Any]) -> dict[str, Any]:
    days = ("approved", "billed_on", "paid_on", "date")
    return {k: date(1899, 12, 30) + timedelta(v) if k in days else v for k, v in line.items()}


def rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text("utf-8").splitlines()))


def total(found: list[dict[str, str]], head: str) -> Decimal:
    assert all(r[head] == f"{Decimal(r[head]):.2f}" for r in found)
    return sum((Decimal(r[head]) for r in found), Decimal(0))


def test_the_files_tie_to_the_workbook(tmp_path: Path) -> None:
    worked = made(tmp_path / "smith.xlsx", SMITH)
    out = tmp_path / "books"
    result = run(tmp_path / "smith.xlsx", "-o", out)
    assert (result.exit_code, result.stderr) == (0, "")
    for name, head in HEADS.items():
        assert (out / f"{name}.csv").read_text("utf-8").splitlines()[0] == head
    bills, payments, receipts = (rows(out / f"{n}.csv") for n in ("bills", "payments", "receipts"))
    assert [b["number"] for b in bills] == ["26-1-1", "007", "26-1-7"]
    assert [b["date"] for b in bills] == ["2026-05-18", "2026-05-19", "2026-05-29"]
    assert bills[2]["what"] == "Change 1: + a step"
    # 512.34 of 9,512.35 is tax: 53.86 of 1,000, 233.40 of 4,333.33, 26.96 of 500.55
    assert [b["tax"] for b in bills] == ["53.86", "179.54", "26.96"]
    assert [b["total"] for b in bills] == ["1000.00", "3333.33", "500.55"]
    assert all(Decimal(b["net"]) + Decimal(b["tax"]) == Decimal(b["total"]) for b in bills)
    assert [b["held_back"] for b in bills] == ["50.00", "166.67", "25.03"]

    def cents(key: str) -> Decimal:
        return Decimal(str(worked[key][0])).quantize(Decimal("0.01"))

    assert total(bills, "total") == cents("contract.billed")
    assert total(bills, "held_back") == cents("contract.retained")
    assert total(bills, "to_pay") - total(payments, "amount") == cents("contract.owed")
    assert [p["bill"] for p in payments] == ["26-1-1"]
    assert total(payments, "amount") == cents("contract.paid") == Decimal("500.50")
    assert [r["net"] for r in receipts] == ["315.38", "-20.00"]
    assert [r["supplier"] for r in receipts] == ["Quarry, Inc.", "'@Yard"]
    assert total(receipts, "total") == cents("logging.spent") == Decimal("314.30")


def test_a_bad_workbook_and_a_number_used_twice_are_told(tmp_path: Path) -> None:
    good, other, bad, none = (tmp_path / f"{n}.xlsx" for n in ("good", "other", "bad", "none"))
    made(good, SMITH)
    made(other, SMITH | {"terms": {"number": "26-2"}})
    made(bad, SMITH | {"draws": [{"signed": 1}]})  # the payments are short of the price
    none.write_text("no workbook")
    out = tmp_path / "books"
    result = run(good, other, bad, none, good, "-o", out)
    assert result.exit_code == 1
    told = result.stderr
    assert f"{bad}: left out" in told
    assert f"{none}: " in told
    assert f"{good}: given twice" in told
    assert "other.xlsx: bills: number 007 stands in good.xlsx too: give each its own" in told
    assert {b["file"] for b in rows(out / "bills.csv")} == {"good.xlsx", "other.xlsx"}
    assert len(rows(out / "customers.csv")) == 1  # the same one twice
    before = (out / "bills.csv").read_bytes()
    again = run(good, "-o", out)
    assert again.exit_code == 2
    assert "--replace" in again.stderr
    assert (out / "bills.csv").read_bytes() == before
    assert run(bad, "-o", tmp_path / "nothing").exit_code == 1
    assert not (tmp_path / "nothing").exists()
    assert run(good, "-o", good).exit_code == 2
    assert run(good, "-o", out, "--replace").exit_code == 0
    assert {b["file"] for b in rows(out / "bills.csv")} == {"good.xlsx"}
