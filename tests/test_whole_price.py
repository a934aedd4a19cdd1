"""The demo job's price worked out on paper, to the cent, from its dimensions.

Quantities and hours are those of the paper before it.  Prices, wages and percentages are
those of the job file; tax rates and wage bases of 2026 those of the sheet.  All of it is
decimal arithmetic, half cents up; nothing is read off the program.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, ROUND_UP, Decimal
from typing import Any

import pytest

import test_whole_job as paper

got = paper.got  # the same job, worked out once
CENT = Decimal("0.01")


def cents(amount: Decimal) -> Decimal:
    """Round to the cent, half up."""
    return amount.quantize(CENT, ROUND_HALF_UP)


def exact(number: float) -> Decimal:
    """Return a quantity worked out on paper as a decimal, without the dust of binary numbers."""
    return Decimal(f"{number:.9f}")


# Material: whole packages × price, each line rounded
MATERIAL = {
    "Pigment, Colored": 3 * Decimal("47.50"),  # 142.50
    "Powder release": Decimal(78),
    "Curing compound": Decimal("96.25"),
    "Sealer": Decimal("184.90"),
    "Grip additive": Decimal("14.35"),
    "Cleaner": Decimal("22.80"),
    "Stamping mats": (3 + 5) * Decimal(12),  # 96.00
    "Form boards": 20 * Decimal("9.48"),  # 189.60
    "Bender boards": 3 * Decimal("7.20"),  # 21.60
    "Stakes": 139 * Decimal("0.62"),  # 86.18
    "Nails or screws": 278 * Decimal("0.03"),  # 8.34
    "Isolation strip": Decimal("18.75"),
    "Base stone": Decimal("10.5") * Decimal("23.50"),  # 246.75
    "Bars #3, Bands": 16 * Decimal("6.85"),  # 109.60
    "Bars #3, Panels": 20 * Decimal("6.85"),  # 137.00
    "Chairs": 70 * Decimal("0.38"),  # 26.60
    "Sealant": Decimal("11.60"),
    "Plastic sheet": Decimal(64),
    "Concrete, Plain": Decimal("3.25") * 172,  # 559.00
    "Concrete, Colored": cents(Decimal("2.25") * Decimal("181.50")),  # 408.375 → 408.38
    # Both placements are under the plant's 4 yd³: 150 $ for each short load
    "Short loads, the plant's charge": 2 * Decimal(150),
}

# Labor: a year of 2,080 h, 168 of them paid leave; no overtime in a week of 40 h
PAID, WORKED = Decimal(2080), Decimal(2080 - 80 - 48 - 40)  # 1,912
PRODUCTIVE = Decimal("0.85")


def hour_of_tasks(wage: Decimal) -> Decimal:
    """Return what an hour of tasks costs at a wage, burden and lost time in it."""
    year = wage * PAID
    burden = (
        year * Decimal("0.062")  # Social Security, far below its base of 184,500
        + year * Decimal("0.0145")  # Medicare
        + 7000 * Decimal("0.006")  # federal unemployment: 42.00
        + 9500 * Decimal("0.027")  # state unemployment: 256.50
        + year * Decimal("7.85") / 100  # workers' compensation
    )
    return (year + burden) / WORKED / PRODUCTIVE


HOURS = exact(paper.TOTAL) / 4  # four people share the hours of tasks alike
LABOR = {
    "Labor, Foreman": cents(HOURS * hour_of_tasks(Decimal(34))),
    "Labor, Finisher": cents(2 * HOURS * hour_of_tasks(Decimal("28.5"))),
    "Labor, Laborer": cents(HOURS * hour_of_tasks(Decimal("21.75"))),
}

# A skid steer for 3.694 h of digging by two at 48 $ is 88.66 $, and costs at least 120 $
EQUIPMENT = {
    "Skid steer": max(cents(exact(paper.BANK * 0.4 / 2) * 48), Decimal(120)),
    "Plate compactor": Decimal(45),  # its least charge, above an hour or two at 14 $
    "Concrete saw": Decimal(60),  # its least charge, above 2.5 h at 22 $
    "Dirt, haul truck": 2 * Decimal(95),
}
OTHER = {"Dirt, dump fee": 2 * Decimal(42)}

LINES = MATERIAL | LABOR | EQUIPMENT | OTHER
COST = sum(LINES.values(), Decimal(0))
MATERIAL_COST = sum(MATERIAL.values(), Decimal(0))
CONTINGENCY = cents(COST * 5 / 100)
OVERHEAD = cents((COST + CONTINGENCY) * 12 / 100)
BEFORE = cents((COST + CONTINGENCY + OVERHEAD) / (1 - Decimal("0.15")))  # 15 % of the price
PRICE = (BEFORE / 5).to_integral_value(ROUND_UP) * 5
PROFIT = PRICE - COST - CONTINGENCY - OVERHEAD
TAXED = cents(PRICE * MATERIAL_COST / COST)  # material's share of the price
TAX = cents(TAXED * Decimal("0.0725"))
TOTAL = PRICE + TAX

FIGURES = {
    "price.material": MATERIAL_COST,
    "price.labor": sum(LABOR.values(), Decimal(0)),
    "price.equipment": Decimal(120 + 45 + 60 + 190),
    "price.other": Decimal(84),
    "price.cost": COST,
    "price.contingency": CONTINGENCY,
    "price.overhead": OVERHEAD,
    "price.price": PRICE,
    "price.profit": PROFIT,
    "price.tax": TAX,
    "price.total": TOTAL,
    "sale.total": TOTAL,  # no option is chosen
}


@pytest.mark.parametrize("key", FIGURES)
def test_money_comes_out_as_worked_on_paper(got: dict[str, list[Any]], key: str) -> None:
    assert cents(Decimal(repr(got[key][0]))) == FIGURES[key]
    assert got[key][0] == pytest.approx(float(FIGURES[key]), abs=1e-6)


def test_every_line_of_cost_comes_out_as_worked_on_paper(got: dict[str, list[Any]]) -> None:
    lines = zip(got["estimate.what"], got["estimate.amount"], strict=True)
    assert {what: cents(exact(amount)) for what, amount in lines if what} == LINES


def test_payments_by_running_totals_add_up_to_the_price(got: dict[str, list[Any]]) -> None:
    ends = [cents(TOTAL * share / 100) for share in (10, 40, 80)]
    due = [ends[0], ends[1] - ends[0], ends[2] - ends[1], TOTAL - ends[2]]
    assert [cents(exact(x)) for x in got["draws.due"][:4]] == due
