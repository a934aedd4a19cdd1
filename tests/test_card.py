"""The owner's card: its price by decimal arithmetic, and that no cost moves or holds it."""

from __future__ import annotations

import random
from datetime import date
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Any

import pytest

from pourtally.files import templates_folder
from pourtally.jobfile import job_entries
from pourtally.model import Entries
from sample import some
from shop import keys_of, laid_out, read_jobs, results

CENT = Decimal("0.01")
FINISHES = ("Broomed", "Stamped", "Exposed aggregate", "Troweled", "Floated")
ASKED = ("card", "card_price", "sale", "draws", "payment", "price", "finish_price",
         "status", "headline", "price_lines", "proposal_state", "signed")  # fmt: skip
ADDED = {"card", "card_price", "two_prices", "checks", "open", "status", "top", "limits"}
"""What may tell that a card is typed, though costs are offered."""


def worked(job: dict[str, Any], *names: str) -> dict[str, list[Any]]:
    """Return what a job comes to."""
    book, _ = laid_out("us")
    entries, problems = job_entries(book, job, "test")
    assert problems == []
    return results("us", entries, keys_of("us", names or ASKED))


def cents(amount: Decimal) -> Decimal:
    """Return an amount in whole cents, half a cent up."""
    return amount.quantize(CENT, ROUND_HALF_UP)


class Yard:
    """A random job with a card for all that it has, and what its customer pays."""

    def __init__(self, seed: int) -> None:
        dice = random.Random(seed)
        areas = {finish: Decimal(0) for finish in FINISHES}
        pieces = []
        for finish in dice.sample(FINISHES, dice.randint(1, 4)):
            a, b = dice.randint(4, 30), Decimal(dice.randint(8, 40)) / 2
            areas[finish] += a * b
            pieces.append({"shape": "Rectangle", "a": a, "b": float(b), "finish": finish})
        treads, edge, old = dice.randint(0, 4), dice.randint(0, 30), dice.randint(0, 200)
        prices = {n: Decimal(dice.randint(0, 3000)) / 100 for n in range(12)}
        counts: list[Decimal] = [*areas.values(), *[Decimal(0)] * 3]
        counts += [Decimal(treads), Decimal(0), Decimal(edge), Decimal(old)]
        self.least, self.step = dice.choice([0, 4000]), dice.choice(["0.01", "1", "25"])
        tax = Decimal(dice.randint(0, 900)) / 100
        self.listed = sum((cents(n * prices[at]) for at, n in enumerate(counts)), Decimal(0))
        lifted = max(self.listed, Decimal(self.least)) if self.listed else Decimal(0)
        step = Decimal(self.step)
        self.price = (lifted / step).to_integral_value(ROUND_CEILING) * step
        self.total = self.price + cents(self.price * tax / 100)
        self.job: dict[str, Any] = {
            "pieces": pieces,
            "steps": [{"count": treads, "tread": 12, "riser": 7, "wide": 5}] if treads else [],
            "thick": [{"length": edge, "wide": 1, "extra": 8}] if edge else [],
            "old": [{"typed": old, "thickness": 4}] if old else [],
            "card": [{"price": float(price)} for price in prices.values()],
            "card_price": {"way": "By the card"},
            "markups": {
                "least": self.least, "step": float(step),
                "tax": float(tax), "tax_on": "The total",
            },
        }  # fmt: skip


@pytest.mark.parametrize("seed", range(some(6)))
def test_a_card_comes_to_what_decimal_arithmetic_says(seed: int) -> None:
    yard = Yard(seed)
    got = worked(yard.job)
    assert got["card_price.listed"][0] == pytest.approx(float(yard.listed), abs=1e-6)
    assert got["price.price"][0] == pytest.approx(float(yard.price), abs=1e-6)
    assert got["payment.price"][0] == pytest.approx(float(yard.total), abs=1e-6)
    assert sum(got["draws.due"]) == pytest.approx(float(yard.total), abs=1e-6)
    assert got["price.differs"] == [0]
    if yard.price:
        assert got["status.stops"] == [0]
        assert got["headline.price"][0] == pytest.approx(float(yard.total), abs=1e-6)


@pytest.mark.parametrize("seed", range(some(3)))
def test_costs_typed_in_part_neither_move_nor_hold_a_card(seed: int) -> None:
    yard = Yard(seed)
    half: dict[str, Any] = {
        "prices": [{"line": "boards", "price": 9}, {"line": "concrete_1", "price": 170}],
        "own": [{"what": "Permit"}], "equipment": [{"hourly": 50}],
        "subs": [{"what": "Survey"}], "delivery": {"short": 9},
    }  # fmt: skip
    plain, costed = worked(yard.job), worked({**yard.job, **half})
    for key in ("payment.price", "sale.tax", "draws.due", "finish_price.price", "status.stops"):
        assert costed[key] == plain[key], key
    assert costed["price.profit"] == [0]


def test_a_card_that_is_not_offered_changes_no_figure() -> None:
    book, _ = laid_out("us")
    jobs, problems = read_jobs([templates_folder() / "jobs" / "demo.toml"], None)
    assert problems == []
    job = jobs[0].entries
    without = results("us", job)
    card: Entries = {"card.price": [9.0 + n for n in range(len(book.parts["card.price"][0].codes))]}
    typed = results("us", {**job, **card})
    moved = {key.split(".")[0] for key, column in without.items() if typed[key] != column}
    assert moved <= ADDED, moved


def test_what_was_signed_by_the_card_stays_when_the_card_changes() -> None:
    yard = Yard(1)
    before = worked(yard.job)
    today = before["signed.today"]
    kept = {
        **yard.job,
        "payment": {"signed": date(2026, 5, 1)},
        "signed": [{"figure": figure} for figure in today],
        "draws": [{"signed": due} for due in before["draws.due"][:4]],
    }
    dearer = [{"price": line["price"] + 5} for line in yard.job["card"]]
    after = worked({**kept, "card": dearer})
    assert after["price.price"][0] > before["price.price"][0]
    assert after["payment.price"] == before["payment.price"]
    assert after["draws.due"] == before["draws.due"]
    assert after["status.stops"] == [0]


def test_the_card_is_offered_on_the_proposal_line_by_line() -> None:
    yard = Yard(2)
    got = worked({**yard.job, "terms": {"prices_shown": "By finish with unit prices"}})
    assert sum(got["price_lines.amount"]) == pytest.approx(float(yard.total), abs=1e-6)
    assert got["proposal_state.ready"] == [1]
    assert got["finish_price.price"] == got["card.amount"][:8]
