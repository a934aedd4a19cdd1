"""Random fillings of a whole workbook: a fixed few of those that ``fillings.py`` tries."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import openpyxl
import pytest

import engines
from fillings import KINDS, TOTALS, Fault, Filled, Found, Typed, faults, run, shrunk, spoils
from noticed import slipped
from pourtally.model import Size, Units
from sample import some
from shop import STOP, keys_of
from test_engines import ERRORS

SEED = 1


@cache
def book(units: Units, size: Size = "small") -> Filled:
    return Filled(units, size)


@pytest.mark.parametrize(("units", "many"), [("us", 10), ("si", 6)])
def test_no_error_is_seen_no_figure_stands_without_its_stop_and_no_line_is_lost(
    units: Units, many: int
) -> None:
    found = Found()
    run(book(units), SEED, range(some(many)), found)
    assert [str(fault) for _, fault, _ in found.first.values()] == []
    assert found.fillings == some(many)
    assert found.stopped > 0
    assert found.looked > 5_000 * found.fillings
    assert found.totals > 50 * found.fillings


@pytest.mark.parametrize("key", ["finishes.name", "mixes.name", "products.name", "placements.name"])
def test_a_name_that_begins_with_an_equals_sign_is_a_stop(key: str) -> None:
    mine = book("us")
    for name, odd in (('="=5"', 1.0), ('="5"', 0.0)):  # a formula: typed, it would be one anyway
        mine.fill({(key, 0): name})
        assert mine.column(f"{key}.odd")[0] == odd, name
        assert (STOP in mine.numbers("checks.state")) == bool(odd), name


def test_the_same_number_gives_the_same_filling_and_another_another() -> None:
    filler = book("us").filler
    one, other, again = (filler.filling(SEED, n) for n in (3, 4, 3))
    assert one == again != other
    assert filler.filling(SEED + 1, 3) != one


def test_fillings_hold_all_that_people_do() -> None:
    fillings = [book("us").filler.filling(SEED, n) for n in range(60)]
    values = [value for typed in fillings for value in typed.values()]
    parts = book("us").world.book.parts
    assert {type(value) for value in values} == {type(None), bool, float, str}
    kinds = {parts[key][2].entry for typed in fillings for key, _ in typed}
    assert kinds == {"number", "choice", "text", "date", "time"}
    bad = [sum(spoils(parts[k][2], v) for (k, _), v in typed.items()) for typed in fillings]
    assert 0 in bad and max(bad) > 100
    tables = [key for key, (block, _, _) in book("us").world.book.entries().items()
              if block.lines > 2]  # fmt: skip
    lines: dict[str, list[list[int]]] = {key: [] for key in tables}
    for typed in fillings:
        for key in tables:
            lines[key].append([n for n in range(parts[key][0].lines) if (key, n) in typed])
    last_alone = {k for k, of in lines.items() if [parts[k][0].lines - 1] in of}
    skipped = {k for k, of in lines.items() if any(n and n != list(range(len(n))) for n in of)}
    assert len(last_alone) > len(tables) / 2
    assert len(skipped) > len(tables) / 2


SLIPS = {
    "error cells": (
        "64-loads.toml", "trucks.unload", "IF({rate}>0,{largest}/{rate}", "({largest}/{rate}",
    ),
    "headlines without stop": (
        "02-start.toml", "figures.area", "ISNUMBER({headline.area}),{headline.area}",
        "1=1,{total.area}",
    ),
    "totals that differ": ("72-labor.toml", "hours.total", "SUM(", "MAX("),
}  # fmt: skip
"""For each kind of fault a formula that gives it: file, part, what stands there, a slip."""


@pytest.mark.parametrize("kind", KINDS)
def test_a_broken_formula_is_found_and_its_filling_shrunk(kind: str) -> None:
    whole = book("us")
    slip = slipped(whole.world.book, *SLIPS[kind])
    with whole.with_change(slip.part):
        number, fault = first_fault(whole, kind)
        typed = whole.filler.filling(SEED, number)
        small = shrunk(whole, typed, fault, tries=TRIES)
        assert small.items() < typed.items()
        assert (fault.kind, fault.part) in {(f.kind, f.part) for f in faults(whole, small)}
    assert faults(whole, small) == []


def first_fault(whole: Filled, kind: str) -> tuple[int, Fault]:
    """Return the first filling that shows a fault of a kind, and the fault."""
    for number in range(20):
        for fault in faults(whole, whole.filler.filling(SEED, number)):
            if fault.kind == kind:
                return number, fault
    raise AssertionError(f"no filling shows {kind}")


TRIES = 5


def test_every_total_has_lines_and_every_sheet_its_state() -> None:
    whole = book("us")
    whole.fill({})
    assert sum(1 for sums in TOTALS for _ in sums(whole)) > 60
    shown = {sheet.name for sheet in whole.world.book.sheets if not sheet.hidden}
    # Start says it in its own words; what goes outside shows no money instead
    assert shown - whole.states.keys() == {"Start", "Proposal", "Invoice", "Care", "Guide"}


WINDOW = 40


def test_garbage_in_all_that_the_stamping_window_reads_gives_no_error() -> None:
    part = Filled("us", "small", keys_of("us", ("window",)))
    assert not part.seen == part.hidden == []
    for number in range(some(WINDOW)):
        part.fill(part.filler.filling(SEED, number))
        failing = [c for c in (*part.seen, *part.hidden) if part.engine.fails(c.place)]
        assert {f"{c.part}[{c.line + 1}]" for c in failing} == set(), number


def test_libreoffice_comes_to_the_same_for_fillings(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    whole, worked = book("us"), {}
    for number in (2, 5, 9):
        path = tmp_path / f"filling-{number}.xlsx"
        typed = {at: v for at, v in whole.filler.filling(SEED, number).items() if alike(v)}
        write(whole, shelf("blank-us-small"), typed, path)
        whole.fill(typed)
        worked[path] = {
            (c.sheet, c.row + 1, c.column + 1): whole.engine.value(c.place) for c in whole.seen
        }
    for path, values in engines.by_libreoffice(worked, tmp_path / "lo").items():
        assert {at: v for at, v in values.items() if v in ERRORS and at in worked[path]} == {}
        there = {at: "" if v is None else v for at, v in worked[path].items()}
        differ = {
            at: (v, values[at]) for at, v in there.items() if engines.difference(v, values[at])
        }
        assert differ == {}


def alike(value: object) -> bool:
    """Tell whether programs read the same in a cell, and say it in the same digits.

    LibreOffice counts a truth value as 1, writes 4E21 with its E, and tells 1E-23 from 0.
    """
    if isinstance(value, bool) or not isinstance(value, float):
        return not isinstance(value, bool)
    return not value or 0.001 <= abs(value) <= 1e6


def write(whole: Filled, blank: Path, typed: Typed, path: Path) -> None:
    """Type a filling into a blank workbook's file."""
    workbook = openpyxl.load_workbook(blank)
    for (key, line), value in typed.items():
        sheet, row, column = whole.world.of_part[key][line]
        workbook[sheet].cell(row + 1, column + 1).value = value
    workbook.save(path)
