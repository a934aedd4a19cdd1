"""A fixed few slips in formulas: each is noticed by a hand-worked example of its own files.

``python tests/mutants.py`` tries all that it can think of, and takes long.
"""

from __future__ import annotations

from functools import cache

import pytest

from noticed import Bench, World, slipped

pytestmark = pytest.mark.xdist_group("mutants")  # the examples are worked out once

SLIPS = [
    # The larger where the lesser is meant: pay up to a base, a cap, what may be missing.
    ("75-wages", "burdens.one", "MIN(", "MAX("),
    ("75-wages", "burdens.six", "MIN(", "MAX("),
    ("75-wages", "burdens.percent.effect", "MIN(", "MAX("),
    ("75-wages", "overtime.overtime", "MAX(", "MIN("),
    ("87-payments", "payment.cap", "MIN({share}", "MAX({share}"),
    ("87-payments", "payment.cap", "MIN({price}", "MAX({price}"),
    # Up where half a cent decides.
    ("75-wages", "hour_cost.cost", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("76-hired", "hired.hire", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("77-costs", "costs.amount", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("77-costs", "costs.tax", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("78-price", "price.contingency", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("78-price", "price.before", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("78b-two-prices", "card_price.material", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("74b-card", "card.amount", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("87-payments", "draws.reached", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("87-payments", "billing.kept", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("48-surface-products", "product_order.packages.computed", "ROUNDUP(", "ROUND("),
    # Which faces a product's cost goes to.
    ("48-surface-products", "costs.face", "2*", "1*"),
    ("48-surface-products", "costs.face", "+2", "-2"),
    ("48-surface-products", "product_order.only_plain", "=0)", "<>0)"),
    ("78-price", "finish_price.like", "2-", "1-"),
    # Words that a customer or a supplier reads.
    ("87-payments", "draws.says", "Over what", "Under what"),
    ("87-payments", "draws.says", "Percent or amount", "Percent and amount"),
    ("87-payments", "draws.says", "Name, and", "Name and"),
    ("87-payments", "billing.named", "Retainage", "Retention"),
    ("87-payments", "schedule.missing", " short of", " less than"),
    ("46-color", "supply.name", '"mix 1"', '"1"'),
    ("74-prices", "costs.name", '"mix 1"', '"1"'),
    # An edge, a sign, a line, a constant.
    ("75-wages", "burdens.three", ".year[3]}>", ".year[2]}>"),
    ("75-wages", "classes.no_wage", "{people}>0", "{people}>1"),
    ("77-costs", "costs.used", "<>0", "=0"),
    ("78-price", "price.left", "-{profit_share}", "+{profit_share}"),
    ("82-supplies", "list.supplier", "Not set", "Set"),
    ("87-payments", "draws.over", ">0)", ">=0)"),
    ("87-payments", "cancel.past", "-", "+"),
]


@cache
def world() -> World:
    """Return the template with the examples of the files named here."""
    return World("us", frozenset(f"{file}.toml" for file, *_ in SLIPS))


NAMES = [f"{key}: {old} is not {new}" for _, key, old, new in SLIPS]


@pytest.mark.parametrize(("file", "key", "old", "new"), SLIPS, ids=NAMES)
def test_a_slip_is_noticed_by_an_example(file: str, key: str, old: str, new: str) -> None:
    change = slipped(world().book, f"{file}.toml", key, old, new)
    assert change in Bench(world(), key).noticed([change])


def test_what_is_not_changed_is_not_noticed() -> None:
    part = world().book.parts["burdens.one"][2]
    change = slipped(world().book, "75-wages.toml", part.key, "MIN(", "MIN(")
    assert change.part == part
    assert Bench(world(), part.key).noticed([change]) == {}
