"""Random rates and ways of two taxes against decimal arithmetic."""

from __future__ import annotations

import random
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest

from pourtally.jobfile import job_entries
from shop import TEMPLATES

CANADA = TEMPLATES["si", "usual", "canada"]
CENT = Decimal("0.01")
WAYS = ("Nothing", "Material cost", "Material price", "The total")
SHOWN = ("On a line of its own", "In one figure with the price")
KEYS = frozenset({"price.price", "price.use_tax", "sale.before", "sale.tax", "sale.total",
                  "sale.tax_one", "sale.tax_two", "price.differs", "terms.within"})  # fmt: skip


def cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)


@pytest.mark.parametrize("seed", range(60))
def test_two_taxes_come_out_as_in_decimals(seed: int) -> None:
    dice = random.Random(seed)
    material, other, option, stuff = (
        Decimal(dice.randrange(most)) / 100 for most in (900_000, 900_000, 90_000, 40_000)
    )
    material += 1
    rates = [Decimal(dice.randrange(1000, 15_001)) / 1000 for _ in range(2)]  # percent
    ways = [dice.choice(WAYS) for _ in range(2)]
    by_line = dice.random() < 0.5
    shown = SHOWN[0] if dice.random() < 0.7 else SHOWN[1]
    within = shown == SHOWN[1] and any(w in WAYS[2:] for w in ways)
    job: dict[str, Any] = {
        "own": [{"what": "Stone", "kind": "Material", "typed": 1, "price": float(material)},
                {"what": "Work", "kind": "Other", "typed": 1, "price": float(other)}],
        "markups": {"contingency": 0, "overhead": 0, "profit": 20, "profit_of": "Cost",
                    "step": 0.01, "tax": float(rates[0]), "tax_on": ways[0],
                    "tax_two": float(rates[1]), "tax_two_on": ways[1],
                    "tax_by": "At each line" if by_line else "On the sum"},
        "options": [{"name": "One", "extra": 1, "at": 1, "price": float(option),
                     "material": float(stuff), "chosen": "Yes"}],
        "terms": {"tax_shown": shown},
    }  # fmt: skip
    entries, problems = job_entries(CANADA.book, job, "test")
    assert problems == []
    got = {k: Decimal(repr(v[0])) for k, v in CANADA.results(entries, KEYS).items()}

    paid = sum((cents(material * r / 100) for r, w in zip(rates, ways, strict=True)
                if w == "Material cost"), Decimal(0))  # fmt: skip
    cost = material + other + paid
    price = cents(cost * Decimal("1.2"))
    part = cents(price * material / cost)
    taxes = []
    for rate, way in zip(rates, ways, strict=True):
        on = {"Material price": (part, stuff), "The total": (price, option)}.get(way)
        if on is None:
            taxes.append(Decimal(0))
        elif by_line or within:
            taxes.append(cents(on[0] * rate / 100) + cents(on[1] * rate / 100))
        else:
            taxes.append(cents((on[0] + on[1]) * rate / 100))
    assert got["price.use_tax"] == pytest.approx(paid)
    assert got["price.price"] == pytest.approx(price)
    assert [cents(got["sale.tax_one"]), cents(got["sale.tax_two"])] == taxes
    assert cents(got["sale.tax"]) == sum(taxes)
    assert cents(got["sale.total"]) == cents(got["sale.before"]) + sum(taxes)
    assert got["price.differs"] == 0
    assert bool(got["terms.within"]) == within
