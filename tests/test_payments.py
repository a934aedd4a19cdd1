"""Payments, change orders, retainage and bills, held against decimal arithmetic and a calendar.

What is due, held back and owed is worked out here once more in ``Decimal``, half cents up.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from random import Random
from typing import Any

import pytest

import programs
from pourtally.formula import find
from pourtally.jobfile import job_entries
from pourtally.model import Units
from reference.workbook import Answers, asking
from sample import some
from shop import LOOK, build, keys_of, laid_out, results

answers = asking("draws", "schedule", "contract", "billing", "status.stops")
calendar = asking("cancel")
invoices = asking("invoice_head", "invoice_sum", "invoice_pay")
CENT = Decimal("0.01")
DRAWS, CHANGES, RELEASE = 6, 8, 15
FIRST = date(1899, 12, 30)
"""The day that spreadsheets count from."""
PRINTED = {
    "company", "customer", "terms", "job", "payment", "changes", "billing", "bill", "status",
    "states",
    "proposal_head", "invoice_of", "invoice_to", "invoice_head", "invoice_sum", "invoice_pay",
    "invoice_rows", "invoice_taxes", "tax_rates",
}  # fmt: skip
"""What an invoice may look at."""

Draw = tuple[Decimal | None, Decimal | None]
"""Percent and amount of one payment, where there are such."""


def cents(value: Decimal) -> Decimal:
    return value.quantize(CENT, ROUND_HALF_UP)


def money(dice: Random, least: int, most: int) -> Decimal:
    return Decimal(dice.randint(least * 100, most * 100)) / 100


def floats(values: list[Decimal]) -> list[float]:
    return [float(v) for v in values]


def serial(day: date) -> float:
    return float((day - FIRST).days)


# Payments by percent, by amount, and the rest ------------------------------------------


def schedule(dice: Random) -> tuple[Decimal, list[Draw]]:
    """Return a price and its payments, the last of which takes the rest."""
    price, count = money(dice, 900, 90_000), dice.randint(1, DRAWS)
    draws: list[Draw] = []
    for _ in range(count - 1):
        if dice.random() < 0.3:
            draws.append((None, cents(price * dice.randint(1, 15) / 100)))
        else:
            draws.append((Decimal(dice.randint(100, 1700)) / 100, None))
    return price, [*draws, (None, None)]


def due(price: Decimal, draws: list[Draw]) -> list[Decimal]:
    """Return what each payment is: percents by running totals, amounts as typed, the rest."""
    out, through = [], Decimal(0)
    for percent, amount in draws[:-1]:
        before = cents(price * through / 100)
        through += percent or 0
        out.append(amount or cents(price * through / 100) - before)
    return [*out, price - sum(out)]


def typed(draws: list[Draw]) -> list[dict[str, Any]]:
    """Return the lines of the table of payments, with nothing left of the usual ones."""
    lines = [
        {"name": f"Stage {n}", "percent": percent, "amount": amount}
        for n, (percent, amount) in enumerate(draws, 1)
    ]
    lines += [{"name": None, "percent": None, "amount": None}] * (DRAWS - len(lines))
    return [{k: float(v) if isinstance(v, Decimal) else v for k, v in x.items()} for x in lines]


@pytest.mark.parametrize("seed", range(some(4)))
def test_payments_make_the_price_to_the_cent(seed: int) -> None:
    price, draws = schedule(Random(seed))
    got = answers("us", {"payment": {"agreed": float(price)}, "draws": typed(draws)})
    assert got["draws.due"][: len(draws)] == pytest.approx(floats(due(price, draws)), abs=1e-9)
    assert cents(Decimal(sum(got["draws.due"]))) == price
    assert got["schedule.says"] == ["They make the contract price."]
    assert got["status.stops"] == [0]


@pytest.mark.parametrize("parts", [3, 6])
def test_like_percents_of_a_hundred_make_the_price_to_the_cent(parts: int) -> None:
    dice = Random(parts)
    each = (Decimal(100) / parts).quantize(CENT)
    percents = [each] * (parts - 1) + [100 - each * (parts - 1)]
    for _ in range(3):
        price = money(dice, 1, 50_000)
        lines = typed([(p, None) for p in percents])
        got = answers("us", {"payment": {"agreed": float(price)}, "draws": lines})
        assert cents(Decimal(sum(got["draws.due"]))) == price
        for share in got["draws.due"][: parts - 1]:
            assert abs(Decimal(share) - price * each / 100) <= CENT


@pytest.mark.parametrize("seed", range(some(2)))
def test_payments_that_do_not_add_up_are_a_stop_that_says_by_how_much(seed: int) -> None:
    dice = Random(seed)
    price, draws = schedule(dice)
    whole = due(price, draws)
    off = money(dice, 1, 500) * dice.choice([1, -1])
    lines = typed([(None, amount) for amount in [*whole[:-1], whole[-1] + off]])
    got = answers("us", {"payment": {"agreed": float(price)}, "draws": lines})
    words = f"${abs(off):,.2f} {'more than' if off > 0 else 'short of'} the price."
    assert got["schedule.says"] == [words]
    assert got["draws.says"][len(draws) - 1] == words
    assert got["status.stops"] == [1]


# Bills ---------------------------------------------------------------------------------


def contract(dice: Random) -> tuple[dict[str, Any], dict[str, Decimal]]:
    """Return a job with changes and bills, and where its contract stands by decimals."""
    price, draws = schedule(dice)
    percent = Decimal(dice.randint(0, 2000)) / 100
    orders = [money(dice, -900, 2500) or CENT for _ in range(dice.randint(0, CHANGES))]
    approved = [amount for amount in orders if dice.random() < 0.7]
    changes = [
        {"what": "More", "when": "When done", "days": 1, "amount": float(amount),
         "approved": serial(date(2026, 5, 4)) if amount in approved else None}
        for amount in orders
    ]  # fmt: skip
    amounts = due(price, draws) + [Decimal(0)] * (DRAWS - len(draws))
    amounts += [a if a in approved else Decimal(0) for a in orders]
    bills: list[dict[str, Any]] = [{} for _ in range(RELEASE)]
    billed = held = paid = Decimal(0)
    for bill, amount in zip(bills, amounts, strict=False):
        if amount and dice.random() < 0.7:
            keep = cents(abs(amount) * percent / 100) * (1 if amount > 0 else -1)
            billed, held = billed + amount, held + keep
            bill["billed_on"] = serial(date(2026, 6, dice.randint(1, 6)))
            if dice.random() < 0.5:
                bill |= {"paid_on": bill["billed_on"] + 5, "paid": float(amount - keep)}
                paid += amount - keep
    if held and dice.random() < 0.4:
        bills[-1]["billed_on"] = serial(date(2026, 7, 1))
        held = Decimal(0)
    to_date = price + sum(approved)
    stands = {"to_date": to_date, "billed": billed, "balance": to_date - billed,
              "retained": held, "paid": paid, "owed": billed - held - paid}  # fmt: skip
    job = {"payment": {"agreed": float(price), "retainage": float(percent)},
           "draws": typed(draws), "changes": changes, "billing": bills}  # fmt: skip
    return job, stands


@pytest.mark.parametrize("seed", range(20, 20 + some(5)))
def test_a_contract_stands_where_decimals_put_it(seed: int) -> None:
    job, stands = contract(Random(seed))
    got = answers("us", job)
    for key, amount in stands.items():
        assert got[f"contract.{key}"] == pytest.approx([float(amount)], abs=1e-9), key
    assert got["status.stops"] == [0]
    for key in ("held", "to_pay", "open"):
        for shown in got[f"billing.{key}"]:
            assert shown == pytest.approx(round(shown, 2), abs=1e-9)


@pytest.mark.parametrize("seed", range(40, 40 + some(2)))
def test_every_bill_printed_adds_up_and_all_of_them_make_what_is_billed(seed: int) -> None:
    job, stands = contract(Random(seed))
    whole = to_pay = 0.0
    for line in range(1, RELEASE + 1):
        if not job["billing"][line - 1]:
            continue
        got = invoices("us", {**job, "bill": {"shown": line}})
        page = {k: got[k][0] for k in got.values if k.startswith(("invoice_sum", "invoice_pay"))}
        assert page["invoice_sum.sum"] == pytest.approx(float(stands["to_date"]))
        assert page["invoice_sum.before"] + page["invoice_sum.this"] + page[
            "invoice_sum.left"] == pytest.approx(page["invoice_sum.sum"])  # fmt: skip
        whole += page["invoice_sum.this"]
        to_pay += page["invoice_pay.to_pay"]
    assert whole == pytest.approx(float(stands["billed"]))
    assert to_pay == pytest.approx(float(stands["billed"] - stands["retained"]))


@pytest.mark.parametrize("seed", [44])
def test_bills_in_the_order_of_their_dates_count_up(seed: int) -> None:
    job, stands = contract(Random(seed))
    days = {n: b["billed_on"] for n, b in enumerate(job["billing"][:-1], 1) if b}
    assert len(set(days.values())) < len(days)  # some of them on the same day
    before = 0.0
    for line in sorted(days, key=lambda n: (days[n], n)):
        got = invoices("us", {**job, "bill": {"shown": line}})
        assert got["invoice_sum.before"][0] == pytest.approx(before)
        before += got["invoice_sum.this"][0]
    assert before == pytest.approx(float(stands["billed"])) != 0


# Things to look at ---------------------------------------------------------------------

QUIET: dict[str, Any] = {
    "payment": {"agreed": 9000},
    "changes": [{"what": "Bench", "when": "When done", "amount": 700, "days": 0}],
    "billing": [{"billed_on": date(2026, 6, 1), "paid_on": date(2026, 6, 9), "paid": 900}],
}
LOOKS: dict[str, dict[str, Any]] = {
    "A percent on Terms is below 1": {"draws": [{}, {"percent": 0.1}]},
    "The price worked out is no longer": {
        "own": [{"what": "The work", "typed": 1, "price": 9}],
    },
    "A change order lacks": {"changes": [{"what": "Bench", "amount": 700, "when": "When done"}]},
    "A bill is dated with nothing": {"billing": [{"paid": 900, "paid_on": date(2026, 6, 9)}]},
}
"""For each look check, by its first words, what must make it open."""


def _open(job: dict[str, Any]) -> set[str]:
    entries, problems = job_entries(laid_out("us")[0], job, "test")
    assert problems == []
    got: Any = results("us", entries, keys_of("us", ("checks",)))
    states = zip(got["checks.say"], got["checks.state"], strict=True)
    return {name for say, state in states for name in LOOKS if state == LOOK and name in say}


@pytest.mark.parametrize("name", LOOKS)
def test_what_does_not_go_together_is_looked_at(name: str) -> None:
    assert _open({**QUIET, **LOOKS[name]}) == {name}


def test_a_contract_in_order_has_nothing_to_look_at() -> None:
    assert _open(QUIET) == set()


# Right to cancel -----------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_the_right_to_cancel_ends_by_python_s_own_calendar(seed: int) -> None:
    dice = Random(seed)
    for _ in range(3):
        signed = date(2026, 1, 1) + timedelta(days=dice.randint(0, 700))
        days = dice.randint(1, 10)
        off = [signed + timedelta(days=dice.randint(0, 15)) for _ in range(dice.randint(0, 6))]
        last, left = signed, days
        while left:
            last += timedelta(days=1)
            left -= last.weekday() < 6 and last not in off  # 6 is Sunday
        got = calendar("us", {
            "payment": {"signed": serial(signed)}, "cancel": {"days": days},
            "holidays": [{"day": serial(day)} for day in off],
        })  # fmt: skip
        assert got["cancel.ends"] == [serial(last)], (signed, days, off)


# Invoice -------------------------------------------------------------------------------


def test_an_invoice_looks_at_nothing_but_the_contract_and_who_it_is_between() -> None:
    book, _ = laid_out("us")
    seen = {"invoice": 0}
    for key, (block, _, part) in book.parts.items():
        if key.startswith("invoice_"):
            for formula in part.formulas:
                refs = [r.part for r in find(book, block, formula, key) if r.lines != "line"]
                assert {r.split(".")[0] for r in refs} <= PRINTED, key
                seen["invoice"] += len(refs)
    assert seen["invoice"] > 20


LONG = "Concrete placed, stamped, and cut along the whole back of the house and"
BILLED: dict[str, Any] = {
    "job": {"name": "Back yard, walk along the garage and both aprons"},
    "payment": {"agreed": 14820.55, "signed": date(2026, 5, 21), "retainage": 5},
    "draws": [{}, {"name": LONG}],
    "bill": {"shown": 2},
    "billing": [{"billed_on": date(2026, 5, 21)}, {"billed_on": date(2026, 6, 1)}],
}


def _printed(units: Units, folder: Path) -> list[str]:
    """Return the words of each page on which the invoice is printed."""
    entries, problems = job_entries(laid_out(units)[0], BILLED, "test")
    assert problems == []
    path = folder / f"{units}.xlsx"
    build(units, entries, path)
    page = programs.printed([path], folder, "Invoice")[path]
    words = programs.asked("pdftotext", "-layout", page, "-")
    return words.split("\f")[:-1]


@pytest.mark.parametrize("units", ["us", "si"])
def test_an_invoice_prints_on_one_page_with_nothing_cut_off(units: Units, tmp_path: Path) -> None:
    (page,) = _printed(units, tmp_path)
    assert "###" not in page
    assert LONG in page
    assert BILLED["job"]["name"] in page
    # 30 % of 14,820.55 is 4,446.165, by running totals 40 % less 10 %: 5,928.22 - 1,482.06
    for figure in ("14,820.55", "1,482.06", "4,446.16", "222.31", "4,223.85", "Jun 15, 2026"):
        assert figure in page, figure
    assert not re.search(r"\b(cost|wage|margin|markup|overhead|profit)", page, re.IGNORECASE)


def shown(got: Answers) -> list[float]:
    keys = [k for k in got.values if k.startswith(("invoice_sum.", "invoice_pay."))]
    return [got[k][0] for k in keys if isinstance(got[k][0], (int, float))]


def test_an_invoice_shows_no_figure_while_something_stops_the_job() -> None:
    job: dict[str, Any] = {
        "payment": {"agreed": 9000.0}, "billing": [{"billed_on": serial(date(2026, 6, 1))}],
    }  # fmt: skip
    fine = invoices("us", job)
    assert any(shown(fine))
    stopped = invoices("us", {**job, "pieces": [{"shape": "Rectangle"}]})
    assert stopped["invoice_head.what"][0].startswith("STOP")
    assert not any(shown(stopped))
