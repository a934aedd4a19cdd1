"""What is promised is paid for: every order is a line of cost, every sentence has its price."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from filled import filled
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Scalar, Units
from shop import keys_of, laid_out, results

PAID_BY_HOURS = {
    "calendar.counted": "days on site are paid by their hours",
    "joints.cut": "sawn by the hour, and a saw is hired by the hours of its task",
    "labor.hours": "what is paid is the hour of each wage class",
}
"""An order whose figure moves lines of labor alone."""


def ordered() -> list[str]:
    """Return every figure with one of your own beside it: what is bought, sent for or worked."""
    entries = laid_out("us")[0].entries()
    return sorted(key.removesuffix(".yours") for key in entries if key.endswith(".yours"))


def test_every_order_is_in_a_line_of_cost() -> None:
    """Type another figure for each order in turn: some line of cost must count another number."""
    start: Entries = dict(filled("us"))
    for key in ordered():
        start[f"{key}.yours"] = [None] * len(start[f"{key}.yours"])
    keys = keys_of("us", ("costs.count", "costs.rate", "costs.name", *ordered()))
    before = results("us", start, keys)
    silent, hours_alone = [], []
    for key in ordered():
        moved: set[str] = set()
        for line, figure in enumerate(before[key]):
            if moved or not isinstance(figure, (int, float)):
                continue
            column = list(start[f"{key}.yours"])
            column[line] = float(2 * figure + 3)
            after = results("us", {**start, f"{key}.yours": column}, keys)
            moved |= {
                str(name)
                for name, *pairs in zip(before["costs.name"], *(
                    zip(before[k], after[k], strict=True) for k in ("costs.count", "costs.rate")
                ), strict=True)
                if any(a != b for a, b in pairs)
            }  # fmt: skip
        if not moved:
            silent.append(key)
        elif all(name.startswith(("Labor, ", "Overtime")) for name in moved):
            hours_alone.append(key)
    assert silent == []
    assert hours_alone == sorted(PAID_BY_HOURS)


SLAB = {"shape": "Rectangle", "a": [20, 0], "b": [10, 0]}
FREE = ("boards", "product_4", "stakes", "nails", "stone", "bars_1", "chairs", "plastic")
"""Supplies of that slab, at no cost here."""
WAGE = {"wage": 20, "people": 1, "insurance": 8}
DAY = date(2026, 4, 20)


def job(**more: Any) -> dict[str, Any]:
    """Return a slab of which all is priced; dirt and fill as ``more`` says."""
    prices = [{"line": line, "price": 0, "date": DAY} for line in FREE]
    prices += [{"line": "concrete_1", "price": 150, "date": DAY}, *more.pop("prices", [])]
    return {
        "pieces": [SLAB], "mixes": [{"placed": "Chute"}], "delivery": {"short_flat": 0},
        "classes": [WAGE, {"people": 0}, {"people": 0}],
        "equipment": [
            {"what": "Loader"},
            {"what": "Plate", "task": "Compact each layer of base", "hourly": 10, "date": DAY},
            {"what": "Saw", "task": "Saw joints", "hourly": 10, "date": DAY},
        ],
        "prices": prices, **more,
    }  # fmt: skip


def haul(price: float) -> dict[str, Any]:
    return {"prices": [
        {"line": "dirt_haul", "price": price, "date": DAY},
        {"line": "dirt_dump", "price": 0, "date": DAY},
    ]}  # fmt: skip


def worked(said: dict[str, Any], units: Units = "us") -> Entries:
    entries, problems = job_entries(laid_out(units)[0], said, "test")
    assert problems == []
    keys = ("promises", "estimate", "includes", "status", "open", "pricing", "costs", "equipment")
    return results(units, entries, keys_of(units, keys))


def looks(got: Entries) -> dict[str, object]:
    """Return {the first words of an open check: where it is first}."""
    return {str(says)[:45]: first for says, first in zip(got["open.says"], got["open.first"],
                                                        strict=True) if says}  # fmt: skip


UNPAID = "The proposal promises work that no line of co"
UNTOLD = "A line of cost is told by no sentence of the "
INCLUDED = "A line under Included promises what no task a"


def test_dirt_that_nobody_is_paid_to_haul_is_named_with_its_line() -> None:
    got = worked(job(**haul(0)))
    assert looks(got)[UNPAID] == "Dirt: Dirt, haul truck"
    assert looks(got)[INCLUDED] == "Dirt"
    assert got["status.stops"] == [0]


@pytest.mark.parametrize(
    "more",
    [
        haul(95),
        {**haul(0), "promises": [{"line": "dirt", "elsewhere": "Yes"}],
         "includes": [{"line": 3, "free": "Yes"}]},
    ],
)  # fmt: skip
def test_dirt_that_is_paid_for_here_or_elsewhere_is_no_matter(
    more: dict[str, object],
) -> None:
    assert not {UNPAID, INCLUDED} & looks(worked(job(**more))).keys()


def test_dirt_that_stays_is_in_no_sentence_and_its_line_under_included_is_named() -> None:
    got = worked(job(**haul(95), base={"loads": {"yours": 0}}))
    assert got["promises.said"][got["promises.name"].index("Dirt")] == 0
    assert UNPAID not in looks(got)
    assert looks(got)[INCLUDED] == "Dirt"  # it says that dirt is hauled, and none is


def test_a_price_that_nobody_typed_for_hauling_is_missing() -> None:
    got = worked(job())
    assert got["pricing.missing"] == [2]
    assert got["status.stops"] == [1]


def test_a_machine_without_a_price_is_missing_and_one_at_nothing_is_not() -> None:
    machines: list[dict[str, Any]] = [{"what": "Loader", "task": "Dig and load by machine"},
                {"what": "Plate", "hourly": 0}, {"what": "Saw", "hourly": 0}]  # fmt: skip
    got = worked(job(**haul(95), equipment=machines))
    assert (got["pricing.missing"], got["equipment.lacks"][:3]) == ([1], [1, 0, 0])
    machines[0]["hourly"] = 0
    assert worked(job(**haul(95), equipment=machines))["pricing.missing"] == [0]


@pytest.mark.parametrize(
    ("line", "under"),
    [
        ({"tells": "The whole job"}, "The whole job"),
        ({"driver": "Base area"}, "Ground"),
        ({"driver": "Base area", "tells": "Concrete"}, "Concrete"),
    ],
)
def test_a_line_of_ones_own_is_told_under_its_measure_or_as_is_said(
    line: dict[str, object], under: str
) -> None:
    own = [{"what": "Mats to drive on", "price": 80, "typed": 1, "date": DAY, **line}]
    got = worked(job(**haul(95), own=own))
    at = got["estimate.what"].index("Mats to drive on")
    assert (got["estimate.under"][at], got["estimate.untold"][at]) == (under, 0)
    assert UNTOLD not in looks(got)


def test_a_cost_that_no_sentence_tells_is_named() -> None:
    own = [{"what": "Crane", "price": 80, "typed": 1, "date": DAY}]
    assert looks(worked(job(**haul(95), own=own)))[UNTOLD] == "Crane: "
    drain = [{"what": "Crane", "price": 80, "typed": 1, "date": DAY, "tells": "Drains"}]
    got = worked(job(**haul(95), own=drain))
    assert looks(got)[UNTOLD] == "Crane: Drains"
    assert got["promises.says"][got["promises.name"].index("Drains")] == "► not told"


def test_a_task_that_is_left_out_leaves_its_promise_unpaid() -> None:
    backfill = {"line": 33, "difficulty": 0}
    got = worked(job(**haul(95), labor=[backfill]))
    assert looks(got)[INCLUDED] == "Edges"
    assert INCLUDED not in looks(worked(job(**haul(95))))


@pytest.mark.parametrize("units", ["us", "si"])
def test_every_cost_and_every_measure_is_told_under_a_head_of_the_proposal(units: Units) -> None:
    keys = ("costs.under", "drivers.under", "promises.name", "scope.head")
    got = results(units, filled(units), keys_of(units, keys))
    heads = {*got["promises.name"]}
    named = {*got["drivers.under"], *(u for u in got["costs.under"] if u)}
    assert named <= heads
    assert {*got["scope.head"]} - heads <= {"Time", "Parts", "Permits", ""}


def total(column: list[Scalar]) -> float:
    return sum(float(value or 0) for value in column)


def test_cost_by_promise_is_all_cost() -> None:
    """What stands behind the heads, and what no head tells, adds up to the cost of the job."""
    got = worked(job(**haul(95), own=[{"what": "Crane", "price": 80, "typed": 1, "date": DAY}]))
    told = total(got["promises.cost"])
    lines = zip(got["estimate.amount"], got["estimate.untold"], strict=True)
    untold = total([amount for amount, wrong in lines if wrong])
    assert round(told + untold - total(got["costs.amount"]), 6) == 0
    assert untold == 80
