"""What the copy says of the choices, and what nobody can work out from it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from itertools import combinations, product
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import pytest

from conftest import JOBS
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Scalar
from pourtally.share import fitted
from pourtally.template import Template
from pourtally.trial import tried
from shop import FINE, TEMPLATES, keys_of, laid_out, load_book, read_jobs, results, write_copy

pytestmark = pytest.mark.xdist_group("share")  # its workbooks are made once

TENTH = [Decimal(n) / 1000 for n in range(1000, 3001)]
"""The factors a customer tries: from 1 to 3 in steps of a thousandth."""


def entries_of(job: dict[str, Any]) -> Entries:
    """Return a job on a slab that costs nothing, its options priced."""
    entries, problems = job_entries(load_book(), {**FREE, **job}, "test")
    assert problems == []
    free: Entries = {"prices.price": [0.0] * load_book().parts["prices.price"][0].lines}
    return tried(TEMPLATES["us", "usual"], entries | free).entries


def demo() -> Entries:
    (job,), problems = read_jobs([JOBS["demo"]], None)
    assert problems == []
    return dict(job.entries)


def options(*costs: int, **more: Any) -> list[dict[str, Any]]:
    """Return options that cost so much, and nothing else."""
    return [{"name": f"Extra {n}", "extra": cost, **more} for n, cost in enumerate(costs, 1)]


FREE: dict[str, Any] = {
    "pieces": [{"shape": "Rectangle", "a": 20, "b": 10}],
    "classes": [{"people": 0}] * 3, "mixes": [{"placed": "Chute"}], "delivery": {"short": 0},
    "equipment": [{"what": "Own"}] * 3,
}  # fmt: skip
"""A slab that costs nothing, so that a job costs what its own lines say."""
LINES = [0, 1, 2, 3, 4, 5]
"""Which options of the demo have a price, and so stand in its copy."""


def chosen(answers: Iterable[Any]) -> list[Scalar]:
    """Return answers to the options of the demo's copy, as the job has them."""
    column: list[Scalar] = [None] * 8
    for line, answer in zip(LINES, answers, strict=True):
        column[line] = answer
    return column


def cells(path: Path) -> dict[str, Any]:
    """Return what stands on the first sheet of a copy."""
    sheet = openpyxl.load_workbook(path, data_only=True)["Proposal"]
    return {c.coordinate: c.value for row in sheet.iter_rows() for c in row if c.value is not None}


def numbers(path: Path) -> list[float]:
    """Return every number of every sheet of a workbook."""
    book = openpyxl.load_workbook(path, data_only=True)
    found = [c.value for sheet in book for row in sheet.iter_rows() for c in row]
    return [float(v) for v in found if isinstance(v, (int, float)) and not isinstance(v, bool)]


# One price, a round one -------------------------------------------------------------------


def fitting(prices: dict[Decimal, Decimal], known: tuple[Decimal, int]) -> list[Decimal]:
    """Return the factors that fit what a customer sees, who knows what one option costs.

    A factor fits where price / factor lies within the rounding step of a whole ten for every
    price seen, and within the step of its cost for the one he knows: no price tells more,
    since it was rounded to that step.
    """

    def near(price: Decimal, factor: Decimal, cost: Decimal | None) -> bool:
        guess = price / factor
        ten = cost if cost is not None else (guess / 10).quantize(Decimal(1)) * 10
        return abs(guess - ten) <= prices[price]

    price, cost = known
    return [
        factor
        for factor in TENTH
        if near(price, factor, Decimal(cost)) and all(near(p, factor, None) for p in prices)
    ]


def told(job: dict[str, Any], path: Path) -> tuple[dict[Decimal, Decimal], list[Decimal]]:
    """Return each price in a job's copy with the step it is rounded to, and the options' own."""
    worked = results("us", entries_of(job))
    write_copy("us", worked, path)
    seen = cells(path)
    shown = [Decimal(str(seen[f"H{22 + n}"])) for n in range(8) if f"H{22 + n}" in seen]
    steps = [Decimal(str(step)) for step in worked["options.step"]]
    base = Decimal(str(seen["P7"]))
    prices = dict(zip(shown, steps, strict=False))
    assert base > 3000
    step = Decimal(str(job["markups"]["step"]))
    return prices | ({base: step} if step >= 5 else {}), shown


@pytest.mark.parametrize("seed", range(6))
def test_two_prices_and_one_cost_give_no_factor_away(seed: int, tmp_path: Path) -> None:
    """At a step under 5 the work itself is not looked at: its cost is a sum of hundreds of lines.

    It is no whole ten, and a look check warns of prices in cents.
    """
    dice = Random(seed)
    costs = [10 * dice.randint(3, 30), 10 * dice.randint(30, 1500), 10 * dice.randint(10, 200)]
    job = {
        "own": [{"what": "The work", "typed": 1, "price": 10 * dice.randint(300, 4000)}],
        "markups": {"profit": dice.randint(5, 40), "overhead": dice.randint(0, 25),
                    "step": [0.01, 1, 5, 10, 25, 100][seed]},
        "options": options(*costs),
    }  # fmt: skip
    prices, shown = told(job, tmp_path / "copy.xlsx")
    assert len(shown) == len(costs)
    for price, cost in zip(shown, costs, strict=True):
        assert len(fitting(prices, (price, cost))) >= 15, (price, cost)


def test_the_attack_finds_the_factor_where_prices_are_exact() -> None:
    factor, costs = Decimal("1.437"), (250, 1480)
    exact = {(factor * cost).quantize(Decimal("0.01")): Decimal("0.01") for cost in costs}
    assert fitting(exact, (next(iter(exact)), 250)) == [factor]


def test_an_option_has_one_price_wherever_it_stands(tmp_path: Path) -> None:
    entries = demo()
    entries["options.chosen"] = chosen(["Yes", None, None, None, None, "Yes"])
    worked = results("us", entries)
    write_copy("us", worked, tmp_path / "copy.xlsx")
    seen = cells(tmp_path / "copy.xlsx")
    block = load_book().parts["signed.today"][0]
    papers = dict(zip(worked["proposal_prices.says"], worked["proposal_prices.amount"],
                      strict=True))  # fmt: skip
    offers = dict(zip(worked["proposal_offers.name"], worked["proposal_offers.price"], strict=True))
    assert [n for n, name in enumerate(worked["options.offer"]) if name] == LINES
    for line, name in enumerate(n for n in worked["options.offer"] if n):
        at = worked["options.offer"].index(name)
        price = worked["options.price"][at]
        assert isinstance(price, float)
        assert price % 5 == 0  # the step of the demo
        assert (seen[f"B{22 + line}"], seen[f"H{22 + line}"]) == (name, price)
        assert {**offers, **papers}[name] == price
        signed = worked["signed.today"][block.codes.index(f"option_{at + 1}")]
        assert signed == (price if worked["options.on"][at] else 0)


# Tax --------------------------------------------------------------------------------------


def taxed(material: int, shown: str) -> Entries:
    """Return a job of 1,000 with some material in it, and what it is told with."""
    return entries_of(
        {
            "own": [
                {"what": "Stuff", "kind": "Material", "typed": 1, "price": material},
                {"what": "Hands", "kind": "Labor", "typed": 1, "price": 1000 - material},
            ],
            "markups": {"contingency": 0, "overhead": 0, "profit": 0, "step": 25, "tax": 8.25,
                        "tax_on": "Material price"},
            "terms": {"tax_shown": shown},
            "options": options(250, 1480),
        }
    )  # fmt: skip


def test_tax_in_one_figure_leaves_nothing_to_work_material_out_from(tmp_path: Path) -> None:
    """Copies of jobs with different material hold the same numbers, so none of them tells it."""
    found = []
    for material in (710, 750, 790):
        worked = results("us", taxed(material, "In one figure with the price"))
        path = tmp_path / f"{material}.xlsx"
        write_copy("us", worked, path)
        found.append(numbers(path))
        secret = {round(float(worked[key][0]), 2)  # type: ignore[arg-type]
                  for key in ("price.taxed", "price.tax", "sale.base", "price.total")}  # fmt: skip
        assert worked["price.taxed"] == [material]
        assert secret & {round(n, 2) for n in found[-1]} == set()
        assert 0.0825 not in found[-1]
        seen = cells(path)
        assert (seen["N9"], seen["P9"]) == ("Sales tax included", seen["G19"])
        assert "N10" not in seen
        assert seen["G19"] == worked["sale.total"][0] == 1075
        assert worked["proposal_price.says"] == ["In all, sales tax included"]
    assert found[0] == found[1] == found[2]


def test_tax_on_its_own_line_is_told_to_the_owner() -> None:
    keys = keys_of("us", ("checks.say", "checks.state"))
    for shown, fine in (("On a line of its own", False), ("In one figure with the price", True)):
        got = results("us", taxed(700, shown), keys)
        line = next(n for n, say in enumerate(got["checks.say"]) if "divides it by" in str(say))
        assert (got["checks.state"][line] == FINE) is fine


def test_tax_in_one_figure_adds_up_with_every_choice(tmp_path: Path) -> None:
    within: Entries = {"terms.tax_shown": ["In one figure with the price"]}
    entries = tried(TEMPLATES["us", "usual"], demo() | within).entries
    keys = keys_of("us", ("options.on", "sale.total", "draws.due"))
    book, given = fitted(load_book(), results("us", entries))
    copy = Template(book)
    for line in range(5):
        answers = ["Yes" if n in (line, 5) else "No" for n in range(6)]
        entries["options.chosen"] = chosen(answers)
        job = results("us", entries, keys)
        shown = copy.results(given | {"choices.chosen": list(answers)})
        assert shown["total.total"] == pytest.approx(job["sale.total"])
        assert shown["payments.due"] == pytest.approx([d for d in job["draws.due"] if d])
        assert round(float(shown["total.total"][0]), 2) % 5 == 0  # type: ignore[arg-type]


# Unit prices ------------------------------------------------------------------------------

LINE = re.compile(r".+, ([\d.]+) ft² at \$([\d.]+) per ft²")


@pytest.mark.parametrize("step", [0.01, 1.0, 25.0])
def test_unit_prices_multiply_out_to_their_totals(step: float, tmp_path: Path) -> None:
    entries = demo() | {"terms.prices_shown": ["By finish with unit prices"],
                        "markups.step": [step]}  # fmt: skip
    worked = results("us", entries)
    write_copy("us", worked, tmp_path / "copy.xlsx")
    seen = cells(tmp_path / "copy.xlsx")
    copied = {seen[f"N{row}"]: seen[f"P{row}"] for row in range(21, 31) if f"N{row}" in seen}
    printed = dict(zip(worked["proposal_prices.says"], worked["proposal_prices.amount"],
                       strict=True))  # fmt: skip
    for lines in (copied, printed):
        units = {m: amount for says, amount in lines.items() if (m := LINE.fullmatch(str(says)))}
        assert len(units) == 2
        for found, amount in units.items():
            exact = Decimal(found[1]) * Decimal(found[2])
            assert exact.quantize(Decimal("0.01"), ROUND_HALF_UP) == Decimal(str(amount))
    assert sum(copied.values()) == pytest.approx(worked["price.price"][0])
    assert 0 <= copied.get("All else and rounding", 0) < 5


# Rules of the choices ---------------------------------------------------------------------


@cache
def copy_of_demo() -> tuple[Template, Entries]:
    book, given = fitted(load_book(), results("us", demo()))
    return Template(book), given


SAID = frozenset({"total.unread", "total.clash", "total.over", "answered.on", "total.total"})


def said(answers: list[Any], **more: list[Any]) -> Entries:
    copy, given = copy_of_demo()
    return copy.results(given | {"choices.chosen": answers} | more, SAID)


def test_the_copy_finds_the_clashes_that_the_job_finds() -> None:
    keys = keys_of("us", ("options.clash",))
    found = set()
    for answers in product(("Yes", "No"), repeat=6):
        entries = demo()
        entries["options.chosen"] = chosen(answers)
        clash = any(results("us", entries, keys)["options.clash"])
        words = said(list(answers))["total.clash"][0]
        assert bool(words) is clash, answers
        found.add(words)
    assert found == {"", "Two you chose change the same part: ask us for the price of both."}


@pytest.mark.parametrize("typed", ["y", "Y", "yes", "YES", "Yes"])
def test_a_yes_in_other_letters_counts(typed: str) -> None:
    plain, asked = said(["Yes", *["No"] * 5]), said([typed, *["No"] * 5])
    assert asked == plain
    assert asked["answered.on"][0] == 1


@pytest.mark.parametrize("typed", ["n", "no", "NO", None])
def test_a_no_in_other_letters_counts(typed: str | None) -> None:
    assert said([typed, *["No"] * 5]) == said(["No"] * 6)


@pytest.mark.parametrize("typed", [" Yes", "ja", "x", "maybe later", "1", " "])
def test_any_other_answer_is_said(typed: Any) -> None:
    got = said(["No", typed, "No", "No", "No", "No"])
    assert got["total.unread"] == [
        "Yes or No is expected beside each option: Without the bands, one plain slab."
    ]
    assert got["total.total"] == said(["No"] * 6)["total.total"]


RULES: list[dict[str, Any]] = [
    {"rule": "Lesser of percent and amount", "percent": 10, "amount": 1000},
    {"rule": "Percent of the price", "percent": 10},
    {"rule": "Greater of percent and special orders", "percent": 5, "special": 990},
    {"rule": "Percent plus special orders", "percent": 2, "special": 790},
]


@pytest.mark.parametrize("rule", RULES, ids=lambda r: str(r["rule"]))
def test_a_deposit_over_the_cap_is_said_as_the_job_would(rule: dict[str, Any]) -> None:
    keys = keys_of("us", ("draws.over", "payment.cap"))
    capped = {k: v for k, v in entries_of({"payment": rule}).items() if k.startswith("payment.")}
    entries = demo() | capped
    if rule["rule"] == "Percent of the price":  # a deposit of so many percent never goes over it
        entries["draws.percent"] = [None, 0.3, 0.4, None, None, None]
        entries["draws.amount"] = [905.0, *[None] * 5]
    book, given = fitted(load_book(), results("us", entries))
    copy = Template(book)
    seen = set()
    for many in range(3):
        for lines in combinations(range(6), many):
            answers: list[Scalar] = ["Yes" if n in lines else "No" for n in range(6)]
            entries["options.chosen"] = chosen(answers)
            job = results("us", entries, keys)
            words = copy.results(given | {"choices.chosen": answers}, SAID)["total.over"][0]
            cap = f"At signing the law allows no more than ${job['payment.cap'][0]:,.2f}."
            assert words == (cap if job["draws.over"][0] else "")
            seen.add(bool(words))
    assert seen == {True, False}


def test_the_words_stand_where_they_can_be_read() -> None:
    book = laid_out("us")[0]
    assert "terms.tax_shown" in book.parts
    copy, _ = copy_of_demo()
    spots = copy.places.spots
    assert spots["total.unread"].row == spots["choices.chosen"].row - 2
    assert {spots[key].sheet for key in SAID if key.startswith("total.")} == {"Proposal"}
