"""An error value that is typed or pasted into an entry: a stop there, and nowhere else an error.

A spreadsheet hands an error on to every formula that reads it, and one bad length would turn
thousands of cells.  Here it is read as nothing, and the entry is named.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from pathlib import Path

import ironcalc
import openpyxl
import pytest

import engines
from filled import filled
from pourtally.grid import Cell, enter
from pourtally.recalc import Calculator
from sample import some
from shop import TEMPLATES, laid_out
from test_engines import ERRORS

KINDS = ("#N/A", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!")


class Spoiled:
    """A filled-in workbook in an engine, into whose entries error values can be put."""

    def __init__(self) -> None:
        """Fill a small workbook and work it out once."""
        template = TEMPLATES["us", "small"]
        self.book, self.places = template.book, template.places
        self.cells = enter(self.book, template.blank, filled("us", "small"))
        self._engine = Calculator(self.cells, [s.name for s in self.book.sheets])
        self._engine.values(self.cells)
        self._sheets = {s.name: n for n, s in enumerate(self.book.sheets)}
        self._formulas = [c for c in self.cells if str(c.content).startswith("=")]

    def at(self, key: str) -> tuple[int, int, int]:
        """Return sheet, row and column of a part's first cell, as the engine counts them."""
        spot = self.places.spots[key]
        row, column = spot.at(0)
        return self._sheets[spot.sheet], row + 1, column + 1

    def put(self, typed: dict[str, str]) -> None:
        """Type into first cells, and work everything out."""
        for key, said in typed.items():
            self._engine._model.set_user_input(*self.at(key), said)
        self._engine._model.evaluate()

    def restore(self, key: str) -> None:
        """Type into a first cell what stood there, and work everything out."""
        (cell,) = (c for c in self.cells if c.part == key and c.line == 0)
        self._engine._held.pop(cell.place, None)
        self._engine._put(cell)
        self._engine._model.evaluate()

    def wrong(self) -> set[object]:
        """Return the names of the entries that are told to be wrong."""
        spots = self.places.spots["limits.say"], self.places.spots["limits.count"]
        sheet = self._sheets["Checks"]
        lines = range(self.book.parts["limits.count"][0].lines)
        value = self._engine._model.get_cell_value
        shown = ([value(sheet, s.at(n)[0] + 1, s.at(n)[1] + 1) for s in spots] for n in lines)
        return {name for name, count in shown if count}

    def failing(self) -> list[Cell]:
        """Return the formula cells that a person sees and that hold an error."""
        kind, model = ironcalc.CellType.ErrorValue, self._engine._model
        hidden = {s.name for s in self.book.sheets if s.hidden}
        seen = (c for c in self._formulas if c.sheet not in hidden)
        return [
            c for c in seen
            if model.get_cell_type(self._sheets[c.sheet], c.row + 1, c.column + 1) == kind
        ]  # fmt: skip

    def shown(self, key: str) -> object:
        """Return the value of a part's first cell."""
        return self._engine._model.get_cell_value(*self.at(key))


@cache
def job() -> Spoiled:
    return Spoiled()


def entries(seed: int) -> list[str]:
    """Return some entries, a few of each kind that is typed."""
    dice, book = random.Random(seed), job().book
    kinds: dict[str, list[str]] = {}
    for key, (_, _, part) in book.entries().items():
        kinds.setdefault(part.entry, []).append(key)
    assert set(kinds) == {"number", "choice", "text", "date", "time"}
    return [dice.choice(keys) for keys in kinds.values()]


@pytest.mark.parametrize("key", [k for seed in range(some(4)) for k in entries(seed)])
def test_an_error_value_stops_the_job_at_its_entry_and_goes_nowhere(key: str) -> None:
    spoiled = job()
    book, before = spoiled.book, spoiled.shown("status.limits_wrong")
    assert isinstance(before, float)
    try:
        spoiled.put({key: random.Random(key).choice(KINDS)})
        assert [(c.sheet, c.row, c.column) for c in spoiled.failing()] == []
        block, item, _ = book.parts[key]
        assert f"{block.title}: {item.label}" in spoiled.wrong()
        assert str(spoiled.shown("headline.area")).startswith("STOP")
    finally:
        spoiled.restore(key)
    assert spoiled.shown("status.limits_wrong") == before


def test_error_values_in_every_entry_at_once_go_nowhere_in_libreoffice(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    path = tmp_path / "job.xlsx"
    book, places = laid_out("us", "small")
    workbook = openpyxl.load_workbook(shelf("filled-us-small"))
    typed: set[engines.Place] = set()
    for key in book.entries():
        spot = places.spots[key]
        row, column = spot.at(0)
        at = spot.sheet, row + 1, column + 1
        workbook[spot.sheet].cell(*at[1:]).value = KINDS[len(typed) % len(KINDS)]
        typed.add(at)
    workbook.save(path)
    assert len(typed) > 700
    worked = engines.by_libreoffice([path], tmp_path / "lo")[path]
    hidden = {s.title for s in workbook if s.sheet_state != "visible"}
    seen = {at: v for at, v in worked.items() if at[0] not in hidden and at not in typed}
    assert len(seen) > 7_000
    assert {at: v for at, v in seen.items() if v in ERRORS} == {}
