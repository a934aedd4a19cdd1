"""The guide's list of cells, typed into LibreOffice key by key, shows what the guide says.

The cells are taken from the links that a person follows, so these are held too.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path

import openpyxl
import pytest

import shop
from pourtally.model import Units
from pourtally.place import address
from programs import by_hand

Shelf = Callable[[str], Path]
KEYS = Path(__file__).with_name("keys.py")
results = partial(shop.results, size="small")
STEPS = ("guide_measure", "guide_card", "guide_paper", "guide_day", "guide_price", "guide_more")
AREA = {"us": 24.5 * 16.75, "si": 7.47 * 5.11}


class Guide:
    """The guide of a blank workbook: where each of its links goes, and its words."""

    def __init__(self, units: Units, path: Path) -> None:
        self.book, self.places = shop.laid_out(units, "small")
        self.page = openpyxl.load_workbook(path)["Guide"]

    def words(self, key: str) -> list[str]:
        """Return the words of a column."""
        spot, (block, _, _) = self.places.spots[key], self.book.parts[key]
        cells = [self.page.cell(spot.row + n + 1, spot.column + 1) for n in range(block.lines)]
        return [str(cell.value) for cell in cells if cell.value]

    def links(self, key: str) -> list[list[str]]:
        """Return where the links of a column go, sheet and cell."""
        spot, (block, _, _) = self.places.spots[key], self.book.parts[key]
        cells = [self.page.cell(spot.row + n + 1, spot.column + 1) for n in range(block.lines)]
        goals = [re.fullmatch(r"'(.+)'!(\w+)", c.hyperlink.location) for c in cells if c.hyperlink]
        return [[goal[1], goal[2]] for goal in goals if goal]

    def typed(self, step: str) -> list[list[str]]:
        """Return what a step types: sheet, cell and keys."""
        where, what = self.links(f"{step}.cell"), self.words(f"{step}.type")
        assert len(where) == len(what) > 0
        return [[*cell, keys] for cell, keys in zip(where, what, strict=True)]

    def at(self, key: str) -> list[str]:
        """Return sheet and cell of a figure."""
        spot = self.places.spots[key]
        name = address(*spot.at(0))
        return [spot.sheet, name]


@pytest.mark.parametrize("units", ["us", "si"])
def test_the_first_ten_minutes_show_what_the_guide_says(
    units: Units, shelf: Shelf, tmp_path: Path
) -> None:
    guide = Guide(units, shelf(f"blank-{units}-small"))
    looks = guide.links("guide_shown.cell")
    typed = [guide.typed(step) for step in STEPS]
    sheet, first = guide.at("window.says")
    second = re.sub(r"\d+", lambda m: str(int(m[0]) + 1), first)  # the line of the border
    seen = by_hand(
        KEYS,
        shelf(f"blank-{units}-small"),
        [
            {"type": typed[0], "look": looks},
            {"type": typed[1], "look": [guide.at("figures.price"), guide.at("figures.margin")]},
            {
                "type": typed[2],
                "look": [guide.at("status.stops"), guide.at("proposal_state.ready")],
            },
            {"type": typed[3], "look": [[sheet, second]]},
            {
                "type": typed[4] + typed[5],
                "look": [guide.at(key) for key in ("status.stops", "card_price.says")],
            },
        ],
        tmp_path,
    )
    assert len(typed[0]) == {"us": 4, "si": 2}[units]
    assert seen[0] == guide.words("guide_shown.type")
    assert float(seen[0][0]) == pytest.approx(AREA[units], abs=0.5)
    assert len(typed[1]) == 4 and len(typed[2]) <= 10
    price, margin = seen[1]
    assert price.strip("$ ")[0].isdigit() and margin == "–"
    assert seen[2] == ["0", "1"]
    assert "min to spare" in seen[3][0]
    assert seen[4][0] == "0"
    assert re.search(r"The card is \$?[\d,.]+ (above|below)", seen[4][1])
    if units == "us":
        assert "0 h 18 min to spare, not a stamper away" in seen[3][0]
        assert price.strip("$ ") in guide.words("guide_card_looks.says")[0]
        assert seen[4][1].split(" what")[0] in guide.words("guide_looks.priced")[0]
