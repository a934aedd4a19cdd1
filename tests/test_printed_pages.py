"""Printed pages: none nearly empty, no drawing cut in two, the same sheets on Letter and on A4."""

from __future__ import annotations

import random
import re
import zipfile
from collections.abc import Callable, Sequence
from itertools import combinations, pairwise
from pathlib import Path

import openpyxl
import pytest

import programs
from pourtally.sheaf import LEAST, PAGE, THIN, breaks
from sample import some

PAPERS = {"1": "Letter", "9": "A4"}
"""What a file calls them."""
FIFTH = 0.2
FOOT = 0.06
"""The part of a page, at its end, where its number and its maker stand."""


@pytest.mark.parametrize("seed", range(some(40)))
def test_pages_begin_where_they_cost_least(seed: int) -> None:
    dice = random.Random(seed)
    count = dice.randint(2, 11)
    tall = [dice.choice([15.0, 15.0, 22.5, 40.0]) for _ in range(count)]
    costs = [dice.choice([0.0, 1.5, 50.0]) for _ in range(count)]
    room = dice.uniform(1.1, 4) * 50
    ways = [some for n in range(count) for some in combinations(range(1, count), n)]
    told = {way: _cost(way, tall, costs, room) for way in ways}
    least = min(cost for cost in told.values() if cost is not None)
    found = told[tuple(breaks(tall, costs, room))]
    assert found == pytest.approx(least)


def _cost(
    way: Sequence[int], tall: Sequence[float], costs: Sequence[float], room: float
) -> float | None:
    """Return what some pages cost, or nothing where one is too long and might be shorter."""
    cost = 0.0
    for first, after in pairwise([0, *way, len(tall)]):
        filled = (sum(tall[first:after]) + (tall[0] if first else 0)) / room
        if filled > 1 and after > first + 1:
            return None
        cost += PAGE + (THIN if filled < LEAST else (1 - filled) ** 2)
        cost += costs[first] if first else 0
    return cost


@pytest.mark.parametrize("name", ["blank-us-small", "blank-si", "finished", "blank-us-large"])
def test_no_drawing_is_cut_by_a_page(name: str, shelf: Callable[[str], Path]) -> None:
    found = 0
    for sheet in openpyxl.load_workbook(shelf(name)):
        begins = {line.id for line in sheet.row_breaks.brk}  # counted from 0
        for chart in sheet._charts:
            first, last = chart.anchor._from.row, chart.anchor.to.row
            assert begins & set(range(first + 1, last + 1)) == set(), sheet.title
            found += bool(begins)
    assert found > 20


@pytest.mark.parametrize("name", ["filled-us-small", "finished", "filled-si"])
def test_no_printed_page_is_nearly_empty(
    name: str, shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    files = {paper: _on(shelf(name), paper, tmp_path) for paper in PAPERS}
    programs.convert(files.values(), "pdf", tmp_path, tmp_path / "profile")
    counts = []
    for paper, path in files.items():
        told = programs.asked("pdftotext", "-bbox", path.with_suffix(".pdf"), "-")
        pages = told.split("<page ")[1:]
        thin = [(PAPERS[paper], n) for n, page in enumerate(pages, 1) if _filled(page) < FIFTH]
        assert thin == []
        counts.append(len(pages))
    assert counts[0] == counts[1] <= 130


def _on(workbook: Path, paper: str, folder: Path) -> Path:
    """Return a copy of a workbook whose sheets all print on one paper."""
    out = folder / f"{PAPERS[paper]}.xlsx"
    with zipfile.ZipFile(workbook) as package, zipfile.ZipFile(out, "w") as copy:
        for part in package.namelist():
            content = package.read(part)
            if part.startswith("xl/worksheets/sheet"):
                content = re.sub(rb'paperSize="\d+"', f'paperSize="{paper}"'.encode(), content)
            copy.writestr(part, content)
    return out


def _filled(page: str) -> float:
    """Return the part of a page's height from its first word to the last above its foot."""
    height = float(re.findall(r'height="([\d.]+)"', page)[0])
    words = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)"', page)
    body = [(float(top), float(end)) for top, end in words if float(end) < height * (1 - FOOT)]
    return (max(e for _, e in body) - min(t for t, _ in body)) / height if body else 0.0
