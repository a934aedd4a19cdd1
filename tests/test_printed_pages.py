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
from PIL import Image

import programs
from pourtally.sheaf import LEAST, PAGE, THIN, breaks
from sample import some

PAPERS = {"1": "Letter", "9": "A4"}
"""What a file calls them."""
FIFTH = 0.2
FOOT = 0.06
"""The part of a page, at its end, where its number and its maker stand."""
PALE = 224
"""From this gray on, to white, nobody sees ink."""


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
        pages = tmp_path / PAPERS[paper]
        pages.mkdir()
        programs.asked("pdftoppm", "-r", "36", "-gray", path.with_suffix(".pdf"), pages / "p")
        drawn = sorted(pages.iterdir())
        thin = [(PAPERS[paper], n) for n, page in enumerate(drawn, 1) if _filled(page) < FIFTH]
        assert thin == []
        counts.append(len(drawn))
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


def _filled(page: Path) -> float:
    """Return the part of a page's height from its first ink to the last above its foot.

    Lines to write on count: a form that is not filled in yet is not an empty page.
    """
    with Image.open(page) as image:
        height = image.height
        ink = image.crop((0, 0, image.width, int(height * (1 - FOOT))))
        box = ink.point(lambda gray: 255 * (gray < PALE)).getbbox()
    return (box[3] - box[1]) / height if box else 0.0
