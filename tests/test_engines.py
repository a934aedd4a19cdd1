"""Several engines work out every formula of the written files, and agree with what is stored.

What stands in the file beside a formula is what a phone or a mail preview shows, so it
must be what a spreadsheet program works out; engines that share no code say what that is.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter

import engines
from conftest import HARNESS, LOOKED_AT
from filled import filled, spoiled
from pourtally.model import Units
from sample import TIMES
from shop import laid_out, results

ERRORS = {"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!", "#SPILL!", "#CALC!"}
Engine = Callable[[Path], engines.Values]


def disagreements(path: Path, worked: engines.Values) -> list[str]:
    """Return a line for each cell whose stored value an engine does not come to."""
    formulas, shown = engines.formula_cells(path), engines.stored(path)
    assert shown.keys() == worked.keys()
    assert len(shown) > 0
    return [
        f"{sheet} row {row} column {column}: {shown[sheet, row, column]!r} is stored, "
        f"{worked[sheet, row, column]!r} comes out of {formulas[sheet, row, column]}"
        for sheet, row, column in shown
        if engines.difference(shown[sheet, row, column], worked[sheet, row, column])
    ]


@pytest.mark.parametrize("engine", [engines.by_ironcalc, engines.by_formualizer])
def test_an_engine_comes_to_the_stored_values(workbook: Path, engine: Engine) -> None:
    assert disagreements(workbook, engine(workbook)) == []


def test_libreoffice_comes_to_the_stored_values(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    worked = engines.by_libreoffice([shelf(name) for name in LOOKED_AT], tmp_path)
    assert {p.stem: d for p, v in worked.items() if (d := disagreements(p, v))} == {}


def test_numbers_in_words_are_those_of_the_country(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    # DIN 1333 and CLDR: a comma is the decimal sign of German figures, a point parts thousands
    books = [shelf(name) for name in ("demo", "courtyard-metric-small", "finished-small")]
    turned = str.maketrans(".,", ",.")
    found = 0
    for path, worked in engines.by_libreoffice(books, tmp_path, "de-DE").items():
        there = {
            at: re.sub(r"\d[\d.,]*\d", lambda n: n[0].translate(turned), value)
            if isinstance(value, str)
            else value
            for at, value in engines.stored(path).items()
        }
        differ = {
            at: (value, worked[at])
            for at, value in there.items()
            if engines.difference(value, worked[at])
        }
        assert differ == {}
        found += sum(value != there[at] for at, value in engines.stored(path).items())
    assert found > 60


def test_the_harness_comes_to_the_stored_values(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    books = [shelf(name) for name in HARNESS]
    if TIMES == 1:
        # an empty text is no empty cell: what gives one stays a formula
        said = {at for path in books for at, value in engines.stored(path).items() if value == ""}
        books = [engines.thinned(p, tmp_path / p.name, between() - said) for p in books]
    worked = engines.by_formulas(books)
    assert min(map(len, worked.values())) > 5_000
    assert {p.stem: d for p, v in worked.items() if (d := disagreements(p, v))} == {}


def between() -> set[engines.Place]:
    """Return the cells of columns of one formula but for the first two lines and the last.

    Loading a formula takes the harness milliseconds, and what a column holds is one formula:
    ``longer.py`` lets it work out all of them.
    """
    book, places = laid_out("us", "small")
    return {
        (spot.sheet, row + 1, column + 1)
        for key, (block, _, part) in book.parts.items()
        if part.kind == "formula" and len(part.formulas) == 1
        for spot in [places.spots[key]]
        for row, column in map(spot.at, range(2, block.lines - 1))
    }


def test_no_cell_shows_an_error(workbook: Path) -> None:
    shown = engines.stored(workbook)
    assert {p: v for p, v in shown.items() if v in ERRORS} == {}


def test_no_formula_gives_a_truth_value(workbook: Path) -> None:
    assert engines.truths(workbook) == []


@pytest.mark.parametrize("units", ["us", "si"])
def test_the_filled_workbook_is_a_job_like_any_other(units: Units) -> None:
    worked = results(units, filled(units))
    assert worked["status.stops"] == [0]
    empty = {key for key, column in filled(units).items() if None in column}
    one_or_the_other = {"products.coverage", "products.dose", "draws.amount", "trucks.each",
                        "signed.figure", "draws.signed"}  # in place of one sum  # fmt: skip
    no_room = {"own.driver", "equipment.task"}  # Estimate has fewer lines than there are costs
    shown = {"trial.option", "trial.also"}  # it would be a job on trial
    own_places = {k for k in empty if k.startswith(("strings_x.own", "strings_y.own"))}
    ways_to_tape = {k for k in empty if k.startswith("legs.")}  # a bend takes two of them
    assert empty <= one_or_the_other | no_room | own_places | ways_to_tape | shown | {
        "receipts.for"
    }
    assert results(units, spoiled(units))["status.stops"] > [0]


def test_every_engine_can_disagree(tmp_path: Path) -> None:
    path = tmp_path / "wrong.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Sums")
        sheet.write_number("A1", 1.005)
        sheet.write_formula("B1", "=A1*2", None, 3)
        sheet.write_formula("B2", "=ROUND(A1,2)", None, 1.00)
        sheet.write_formula("B3", '=IF(A1>1,"more","less")', None, "less")
        sheet.write_formula("B4", "=N(A1>1)*2", None, 1)
        sheet.write_formula("B5", "=A1>1", None, False)
    assert engines.truths(path) == [("Sums", 5, 2)]
    right = [2.01, 1.01, "more", 2.0, 1.0]
    worked = [
        engines.by_ironcalc(path),
        engines.by_formualizer(path),
        engines.by_formulas([path])[path],
        engines.by_libreoffice([path], tmp_path)[path],
    ]
    for values in worked:
        assert list(values.values()) == pytest.approx(right)
        assert len(disagreements(path, values)) == len(right)
