"""Whatever a person does with entries in LibreOffice, figures are those of what stands there.

Moves are made with the commands of its menus; after each one the same entries are typed into
a second copy, and no cell of the two may differ.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import openpyxl
import pytest

import shop
from pourtally.place import address
from programs import by_hand
from shop import read_workbook, report

laid_out = partial(shop.laid_out, size="small")
results = partial(shop.results, size="small")
HANDS = Path(__file__).with_name("hands.py")
Area = tuple[str, str]


def area(key: str, line: int = 0, to: str = "", to_line: int = 0) -> Area:
    """Return sheet and cells from one entry to another."""
    _, places = laid_out("us")
    first, last = places.spots[key], places.spots[to or key]
    cells = [address(*first.at(line)), address(*last.at(to_line if to else line))]
    return first.sheet, ":".join(dict.fromkeys(cells))


def line_of(key: str, last: str, line: int) -> Area:
    return area(key, line, last, line)


Move = dict[str, Any]
PIECE = "pieces.what", "pieces.out_of"  # what a line gave stands after it, locked


def moves() -> dict[str, Move]:
    """Return what is done, by what it is: each shape of block, its ends, and between shapes."""
    first, last = area("pieces.a.ft"), area("pieces.a.ft", -1 % lines("pieces"))
    whole = area("pieces.a.ft", 0, "pieces.b.in", 1)
    return {
        "the first cell of a column cut to three lines down": cut(first, area("pieces.a.ft", 3)),
        "undone": {"do": "undo", "steps": 2},
        "the first cell dragged to the last line": drag(first, last),
        "and cut back": cut(last, first),
        "inches cut into feet": cut(area("pieces.a.in", 1), area("pieces.a.ft", 1)),
        "a block of four columns and two lines dragged on": drag(whole, area("pieces.a.ft", 4)),
        "a whole line copied": copy(line_of(*PIECE, 0), area(PIECE[0], 2)),
        "a whole line cut": cut(line_of(*PIECE, 1), area(PIECE[0], 5)),
        "a line deleted": {"do": "delete", "from": line_of(*PIECE, 0)},
        "deleting undone": {"do": "undo", "steps": 1},
        "an entry cut from one rectangle to the next": cut(
            area("bands.length.ft"), area("bands.length.ft", 1)),
        "feet cut into inches, across": cut(area("bands.width.ft"), area("bands.width.in")),
        "a column across dragged to the last rectangle": drag(
            area("bands.what", 0, "bands.width.in", 0), area("bands.what", lines("bands") - 1)),
        "the usual thickness cut into another form": cut(
            area("usual.thickness"), area("usual.slope")),
        "a form's figure dragged into a table": drag(area("crew.size"), area("labor.rate", 2)),
        "a table's figure cut into a form": cut(area("labor.rate", 4), area("crew.size")),
        "a figure of one's own cut to another order": cut(
            area("labor.hours.yours", 0), area("labor.hours.yours", 5)),
        "a form's own figure dragged to the next": drag(
            area("forms.stakes.yours"), area("forms.strips.yours")),
        "a finish's name cut to another line": cut(
            area("finishes.name", 1), area("finishes.name", 7)),
        "a mix's whole line cut": cut(
            line_of("mixes.name", "mixes.pigment", 1), area("mixes.name", 4)),
        "a choice copied into a number": copy(area("pieces.shape", 2), area("pieces.thickness", 2)),
        "a price dragged over its date": drag(area("prices.price", 23), area("prices.date", 23)),
        "the first price cut to the last line": cut(
            area("prices.price", 1), area("prices.price", lines("prices") - 1)),
        "a date cut to another placement": cut(
            area("placements.date", 0), area("placements.date", 2)),
    }  # fmt: skip


def lines(block: str) -> int:
    return next(b for b in laid_out("us")[0].blocks if b.key == block).lines


def cut(one: Area, other: Area) -> Move:
    return {"do": "cut", "from": one, "to": other}


def copy(one: Area, other: Area) -> Move:
    return {"do": "copy", "from": one, "to": other}


def drag(one: Area, other: Area) -> Move:
    return {"do": "drag", "from": one, "to": other}


TYPED = {
    "labor.hours.yours": (0, 3.5), "forms.stakes.yours": (0, 60.0),
}  # fmt: skip


def test_figures_are_those_of_what_stands_there(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    book, places = laid_out("us")
    entries = [
        (spot.sheet, *spot.at(line))
        for key, (block, _, _) in book.entries().items()
        for spot in [places.spots[key]]
        for line in range(block.lines)
    ]
    typed = [{"do": "type", "to": area(key, line), "what": what}
             for key, (line, what) in TYPED.items()]  # fmt: skip
    told, saved = moves(), tmp_path / "saved.xlsx"
    asked = {"entries": entries, "moves": [*typed, *told.values()], "save": str(saved)}
    made = dict(
        zip(told, by_hand(HANDS, shelf("demo-small"), asked, tmp_path)[len(typed) :], strict=True)
    )
    assert [name for name, move in made.items() if not move["changed"]] == [], (
        "moves that did nothing"
    )
    differs = {
        name: [found for found in move["differs"] if not alike(*found[3:])]
        for name, move in made.items()
    }
    assert {name: found for name, found in differs.items() if found} == {}
    read_as_it_stands(saved)


def alike(one: Any, other: Any) -> bool:
    """Tell whether two values are the same but for float dust."""
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)
    return bool(one == other)


def read_as_it_stands(path: Path) -> None:
    """Hold what is read of a workbook that was handled against its cells."""
    book, places = laid_out("us")
    found = read_workbook(path)
    workbook = openpyxl.load_workbook(path, data_only=True, read_only=True)
    for key in ("pieces.a.ft", "pieces.a.in", "bands.length.ft", "finishes.name", "labor.rate"):
        spot, block = places.spots[key], book.parts[key][0]
        there = [workbook[spot.sheet].cell(r + 1, c + 1).value
                 for r, c in map(spot.at, range(block.lines))]  # fmt: skip
        assert found.entries[key] == there, key
    worked = results("us", found.entries)
    spot = places.spots["total.area"]
    assert workbook[spot.sheet].cell(spot.row + 1, spot.column + 1).value == pytest.approx(
        worked["total.area"][0])  # fmt: skip
    assert report(path).figures["total.area"].value == pytest.approx(worked["total.area"][0])
