"""The papers for the plant, the truck and the tickets: whole, in order, on one page each."""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import programs
import shop
from filled import filled
from pourtally.model import Units
from reference.workbook import Answers, asking
from sample import some
from shop import STOP, laid_out, results

UNITS = pytest.mark.parametrize("units", ["us", "si"])
PAPERS = ("Order", "Supplies", "Crew", "Tickets")
HEADS = ("Concrete order", "To buy or load", "String marks", "Ticket log")
"""What each of them says and no other does."""
PACKAGES = {
    "color.bags": 6, "color.pails": 6, "shake.bags": 8, "product_order.packages": 14,
    "mats.own": 1, "mats.cut": 1, "forms.boards": 1, "forms.bender": 1, "forms.stakes": 1,
    "forms.strips": 1, "grout.volume": 1, "base.stone": 1, "base.fill_order": 1, "steel.bars": 3,
    "steel_more.sheets": 1, "steel_more.chairs": 1, "steel_more.dowels": 1,
    "fiber.bags": 6, "joints.tubes": 1, "sheeting.rolls": 1,
}  # fmt: skip
"""What is bought or loaded, and on how many lines."""
NOT_BOUGHT = {"pours.order", "trucks.loads", "base.loads", "old_out.loads", "joints.cut",
              "labor.hours", "calendar.counted"}  # fmt: skip
"""Figures a person may replace that are no packages."""
PAGE = 45
"""Lines of the supply list."""

supplies = asking("supply", "suppliers", "list", "checks", "forms.nails", *PACKAGES)
orders = asking("order_to", "order_when", "order_mix", "order_color", "order_loads")
papers = asking("order_when", "order_loads", "order_driver", "pours.order", "ticket", "delivered")

# Supplies ------------------------------------------------------------------------------


@UNITS
def test_every_package_that_is_ordered_goes_onto_the_supply_list(units: Units) -> None:
    book, _ = laid_out(units)
    replaceable = {k.removesuffix(".yours") for k in book.entries() if k.endswith(".yours")}
    assert replaceable - NOT_BOUGHT == PACKAGES.keys()
    assert {k: book.parts[k][0].lines for k in PACKAGES} == PACKAGES


def _typed(dice: random.Random, share: float) -> dict[str, Any]:
    """Return figures of one's own for some packages, in the way of a job."""
    job: dict[str, Any] = {}
    for key, lines in PACKAGES.items():
        block, field = key.split(".")
        rows = job.setdefault(block, [{} for _ in range(lines)])
        for row in rows:
            if dice.random() < share:
                row[f"{field}.yours"] = dice.randint(0, 40)
    suppliers = ["Decorative supply", "Building supply", "Quarry", "Own shop", "Corner store"]
    job["suppliers"] = [{}, {}, {}, {}, {"name": "Corner store"}]
    job["supply"] = [
        {"supplier": dice.choice(suppliers)} if dice.random() < 0.3 else {} for _ in range(50)
    ]
    return job


def _listed(got: Answers) -> list[tuple[str, str, float, str]]:
    columns = (got[f"list.{key}"] for key in ("supplier", "what", "count", "unit"))
    return [line for line in zip(*columns, strict=True) if any(line)]


@pytest.mark.parametrize("seed", range(some(6)))
def test_each_supply_needed_stands_on_the_paper_once_by_supplier(seed: int) -> None:
    dice = random.Random(seed)
    job = _typed(dice, dice.choice([0.1, 0.4, 0.6]))
    slab = {"shape": "Rectangle", "a.ft": dice.randint(5, 40), "b.ft": dice.randint(5, 30)}
    got = supplies("us", {**job, "pieces": [{**slab, "mix": dice.choice(["Plain", "Colored"])}]})
    needed = [
        line for line in zip(got["supply.name"], got["supply.count"], got["supply.unit"],
                             strict=True) if line[1] > 0
    ]  # fmt: skip
    listed = _listed(got)
    if len(needed) <= PAGE:
        assert Counter(line[1:] for line in listed) == Counter(needed)
        ordered = sum(sum(got[key]) for key in PACKAGES) + got["forms.nails"][0]
        assert sum(line[2] for line in listed) == pytest.approx(ordered)
    places = [got["suppliers.name"].index(line[0]) for line in listed]
    assert places == sorted(places)
    assert [bool(t) for t in got["list.tick"]] == [n < len(listed) for n in range(PAGE)]
    say = next(s for s in got["checks.say"] if s.startswith("More supplies"))
    state = got["checks.state"][got["checks.say"].index(say)]
    assert (state == STOP) == (len(needed) > PAGE)


# Order ---------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_the_loads_on_the_order_add_up_to_it(seed: int) -> None:
    dice = random.Random(seed)
    slabs = [{"shape": "Rectangle", "a.ft": dice.randint(20, 90), "b.ft": dice.randint(20, 60),
              "mix": mix} for mix in ("Plain", "Colored")]  # fmt: skip
    shown = dice.choice(["Pour 1", "Pour 2"])
    got = papers("us", {"pieces": slabs, "papers": {"placement": shown}})
    own = ["Pour 1", "Pour 2"].index(shown)
    volume, loads = got["order_when.volume"][0], int(got["order_when.loads"][0])
    assert volume == got["pours.order"][own] > 0
    sizes = [size for size in got["order_loads.size"] if size]
    assert len(sizes) == min(loads, 12)
    if loads <= 12:
        assert sum(sizes) == pytest.approx(volume)
        assert got["order_driver.further"] == ["None beyond those above"]
    else:
        assert got["order_driver.further"][0].startswith(f"{loads - 12} more")
    said = (shop.clock(time) for time in got["order_loads.arrives"][: len(sizes)])
    clocks = [datetime.strptime(s, "%I:%M %p") for s in said]
    starts = [clock.hour * 60 + clock.minute for clock in clocks]
    steps = [b - a for a, b in pairwise(starts)]
    assert starts[0] == pytest.approx(7 * 60)
    apart = [got["order_when.interval"][0]] * len(steps)
    assert steps == pytest.approx(apart, abs=1)  # each time is said to the minute


@UNITS
def test_an_order_for_nothing_says_so_and_shows_no_figure(units: Units) -> None:
    got = orders(units, {"placements": [{"start": None}] * 8, "delivery": {"oldest": None}})
    assert got["order_to.date"] == ["to be told"]
    for key in ("order_when.volume", "order_when.loads", "order_when.first", "order_mix.strength",
                "order_mix.air", "order_loads.batched"):  # fmt: skip
        assert set(got[key]) == {0}
    for key in ("order_mix.name", "order_mix.shape", "order_color.adds", "order_loads.name"):
        assert set(got[key]) == {""}


# Tickets -------------------------------------------------------------------------------


def test_tickets_by_a_clock_of_python_s_own() -> None:
    dice = random.Random(5)
    lines, ages, waits = [], [], []
    for _ in range(24):
        batched = dice.randint(5 * 60, 12 * 60)
        arrived = batched + dice.randint(10, 60)
        empty = arrived + dice.randint(5, 90)
        clock = {"batched": batched, "arrived": arrived, "discharged": empty}
        lines.append({k: timedelta(minutes=m) / timedelta(days=1) for k, m in clock.items()})
        ages.append(empty - batched)
        waits.append(empty - arrived)
    got = papers("us", {"ticket": lines})
    assert got["ticket.age"] == pytest.approx(ages)
    assert got["ticket.waited"] == pytest.approx(waits)  # nothing was planned to unload
    assert got["ticket.over"] == [age > 90 for age in ages]
    assert sum(got["ticket.early"]) == 0


def test_no_load_is_dropped_from_what_was_delivered() -> None:
    dice = random.Random(6)
    slabs = [{"shape": "Rectangle", "a.ft": 60, "b.ft": 30, "mix": m} for m in ("Plain", "Colored")]
    for _ in range(5):
        sizes = [dice.randint(4, 36) / 4 if dice.random() < 0.8 else None for _ in range(24)]
        pours = [dice.choice(["Pour 1", "Pour 2", "Pour 7"]) for _ in range(24)]
        tickets = [{"size": s, "to": p} for s, p in zip(sizes, pours, strict=True)]
        got = papers("us", {"pieces": slabs, "ticket": tickets})
        for number, volume in enumerate(got["delivered.volume"], 1):
            own = [s or 0 for s, p in zip(sizes, pours, strict=True) if p == f"Pour {number}"]
            assert volume == pytest.approx(sum(own))
            assert got["delivered.loads"][number - 1] == sum(s > 0 for s in own)
        assert sum(got["ticket.lost"]) == 0


# Print ---------------------------------------------------------------------------------


@UNITS
def test_nothing_on_a_paper_is_about_money(units: Units) -> None:
    book, _ = laid_out(units)
    assert any("dollar" in part.pint for _, _, part in book.parts.values())
    on_papers = [(b, f, p) for b, f, p in book.parts.values() if b.sheet in PAPERS]
    assert {b.sheet for b, _, _ in on_papers} == set(PAPERS)
    for _, field, part in on_papers:
        for text in (part.unit, part.format, part.pint, part.heading, field.label, *part.formulas):
            assert not re.search(r"[$€]|dollar|money|price|cost|\bcharge", text), part.key


SIZES = {"us": (612, 792), "si": (595, 842)}
"""Letter and A4 in points, to whole ones."""


def _pages(files: list[Path], folder: Path) -> dict[Path, list[str]]:
    """Return the words of every printed page of some workbooks."""
    papers = programs.printed(files, folder, *PAPERS)
    return {
        path: programs.asked("pdftotext", "-layout", paper, "-").split("\f")[:-1]
        for path, paper in papers.items()
    }


def test_each_paper_prints_on_one_page_with_nothing_cut_off(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    names = [shelf("filled-us"), shelf("filled-si")]
    for path, pages in _pages(names, tmp_path).items():
        units: Units = "us" if path.stem.endswith("us") else "si"
        got: Any = results(units, filled(units))
        assert len(pages) == len(HEADS), path.stem  # one page each, in the order of the sheets
        for number, (head, words) in enumerate(zip(HEADS, pages, strict=True), 1):
            assert head in words, (path.stem, head)
            assert "###" not in words and "Pourtally" not in words, (path.stem, head)
            info = programs.asked("pdfinfo", "-f", str(number), "-l", str(number),
                          tmp_path / f"{path.stem}.pdf")  # fmt: skip
            size = re.search(r"size: +([\d.]+) x ([\d.]+)", info)
            assert size
            assert tuple(sorted(round(float(n)) for n in size.groups())) == SIZES[units]
        order, supplies, _, tickets = pages
        assert "ask before crossing a curb." in order
        for what in got["list.what"]:
            assert what in supplies
        assert re.search(r"^ *24\b", tickets, re.MULTILINE)
        assert _apart(tmp_path / f"{path.stem}.pdf", len(pages)) >= PEN


PEN = 0.29 * 72
"""Points that a line to write in by pen needs: 0.3 inches, less what a sheet is fitted by."""


def _apart(paper: Path, page: int) -> float:
    """Return how far apart two lines of the ticket log stand on paper, in points."""
    told = programs.asked("pdftotext", "-bbox", "-f", str(page), "-l", str(page), paper, "-")
    places = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>(11|12)<', told)
    low, high = (min((float(x), float(y)) for x, y, n in places if n == said)
                 for said in ("11", "12"))  # fmt: skip
    return high[1] - low[1]
