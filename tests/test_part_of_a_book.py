"""What is worked out for a few keys is what the whole workbook comes to."""

from __future__ import annotations

import pytest

from filled import filled, spoiled
from pourtally.cause import Upstream, inputs
from pourtally.grid import is_formula
from pourtally.model import Units
from reference.measure import Length
from reference.workbook import asking
from shop import keys_of, results, usual_cells

UNITS = pytest.mark.parametrize("units", ["us", "si"])
SOME = (("pieces", "bands.band_area"), ("window", "list"), ("price", "drying"), ("checks",))
"""Blocks and parts near the entries, in the middle, and at the end of everything."""


@UNITS
def test_a_part_of_a_book_comes_to_what_the_whole_does(units: Units) -> None:
    for made in ({}, filled(units), spoiled(units)):
        whole = results(units, made)
        for names in SOME:
            keys = keys_of(units, names)
            assert results(units, made, keys) == {k: whole[k] for k in whole if k in keys}


@UNITS
def test_what_a_part_needs_is_all_there_and_nothing_else(units: Units) -> None:
    cells = usual_cells(units)
    standing = {cell.place for cell in cells}
    keys = keys_of(units, ("bands.band_area", "trucks.loads"))
    found = Upstream(cells).of(keys)
    needed = {p for c in found if is_formula(c.content) for p in inputs(c) if p in standing}
    assert {c.place for c in found} == needed | {c.place for c in cells if c.part in keys}
    assert len(found) < len(cells) / 8


def test_a_key_that_was_not_asked_for_is_an_error_not_an_empty_column() -> None:
    got = asking("bands")("us", {"bands": {"length": Length(480, "us")}})
    assert got["bands.length"][0] == 2.5
    with pytest.raises(KeyError, match=r"total\.area"):
        got["total.area"]
    with pytest.raises(KeyError, match=r"total\.aera is no part; did you mean 'total\.area'"):
        results("us", {}, frozenset({"total.area", "total.aera"}))
