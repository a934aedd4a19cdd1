"""Random bands and random mats: the workbook's counts against mats laid one by one."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference import mats, slabs
from reference.banded import Banded, places, rectangles, usual_bands
from reference.measure import Length, Units, base
from reference.workbook import Answers, asking
from test_reference import NAMES, SETTINGS, UNITS

answers = asking("band_mats", "curve_mats", "mats", "placements.mats")
STAMPED = {"Stamped", "Floated", "Washed"}


@UNITS
@SETTINGS
@given(data=st.data())
def test_mats_of_straight_and_curved_bands(units: Units, data: st.DataObject) -> None:
    usual = data.draw(slabs.usuals(units))
    of_bands = data.draw(usual_bands(units))
    drawn = data.draw(st.lists(rectangles(units, usual, of_bands), min_size=1, max_size=6))
    curves = data.draw(st.lists(slabs.curved_bands(units, usual), max_size=4))
    long, wide = data.draw(slabs.lengths(units, 0.4, 1.2)), data.draw(slabs.lengths(units, 0.2, 1))
    spares = data.draw(st.integers(0, 3))
    finishes = [{"name": n, "stamped": "Yes" if n in STAMPED else "No"} for n in slabs.FINISHES]
    got = answers(units, {
        **NAMES, "finishes": finishes, "usual": usual.typed, "usual_bands": of_bands,
        "mat": {"length": long, "width": wide, "spares": spares},
        "bands": [b.typed for b in drawn], "curves": [c.typed for c in curves], **places(drawn),
    })  # fmt: skip
    # what the day has to stamp is what the price pays for, wherever a slab is poured
    assert sum(got["placements.mats"]) == got["mats.placements"][0]
    lanes = [0]
    for line, band in enumerate(drawn):
        lanes += _compare_band(got, line, band, long.marks, wide.marks)
        lanes += _compare_panels(got, line, band, long.marks, wide.marks)
    for line, curve in enumerate(curves):
        lanes += _compare_curve(got, line, curve, long, wide)
    total = sum(got["band_mats.placements"]) + sum(got["band_mats.panel_placements"])
    assert got["mats.placements"][0] == total + sum(got["curve_mats.placements"])
    assert got["mats.row"][0] == max(lanes)
    assert got["mats.own"][0] == max(lanes) + spares * (max(lanes) > 0)
    assert got["mats.cut"][0] == sum(got["band_mats.mats_cut"]) + sum(got["curve_mats.cut"])


def _marks(length: float, units: Units) -> Fraction:
    """Return a drawn length in whole tape marks and simple fractions of one."""
    return Fraction(length / Length(1, units).base).limit_denominator(18)


def _compare_band(got: Answers, line: int, band: Banded, long: int, wide: int) -> list[int]:
    """Lay mats along every run of border and bands, and cut the end pieces kind by kind."""
    typed, grid = band.typed, band.grid
    width = {k: Fraction(typed[f"{k}_wide"].marks) for k in ("end", "side")}
    width |= {"across": _marks(grid.x.wide, got.units), "along": _marks(grid.y.wide, got.units)}
    own = {"across": band.own["y"] and grid.through == "Along",
           "along": band.own["x"] and grid.through == "Across"}  # fmt: skip
    placed = ends = cut_mats = 0
    lanes = [0]
    for kind, runs in grid.runs.items():
        part = "border" if kind in ("end", "side") else "inside"
        if band.finish(part) not in STAMPED or not runs:
            continue
        side = mats.side_by_side(width[kind], wide)
        lanes.append(side)
        strips = mats.strips_from(wide, width[kind])
        pieces = []
        for run in runs:
            count, cut = mats.lay(_marks(run, got.units), long)
            placed += side * count
            pieces += [cut] * (side if cut else 0)
        lengths = len(pieces) if own.get(kind) else mats.first_fit(pieces, long)
        if not own.get(kind):  # all alike: so many from one length of a strip
            fit = int(long / Fraction(pieces[0])) if pieces else 1
            lengths = -(-len(pieces) // fit)
            assert lengths == mats.first_fit(pieces, long)
            assert -(-lengths // strips) == -(-len(pieces) // (fit * strips))
        cut_mats += -(-lengths // strips)
        ends += len(pieces)
    assert got["band_mats.placements"][line] == placed
    assert got["band_mats.cut"][line] == ends
    assert got["band_mats.whole"][line] == placed - ends
    assert got["band_mats.mats_cut"][line] == cut_mats
    return lanes


def _compare_panels(got: Answers, line: int, band: Banded, long: int, wide: int) -> list[int]:
    """Lay mats in every panel, in all of them along the longer side of the mean one."""
    if band.finish("panel") not in STAMPED:
        assert got["band_mats.panel_placements"][line] == 0
        return []
    x, y = (sum(b - a for a, b in way.of("p")) / len(way.of("p"))
            for way in (band.grid.x, band.grid.y))  # fmt: skip
    placed, rows = 0, []
    for left, low, right, high in (p.bounds for p in band.grid.panels):
        length, across = (_marks(s, got.units) for s in (right - left, high - low))
        if x < y - 1e-9:
            length, across = across, length
        rows.append(mats.side_by_side(across, wide))
        placed += rows[-1] * mats.side_by_side(length, long)
    assert got["band_mats.panel_placements"][line] == placed
    return [max(rows)]


def _compare_curve(
    got: Answers, line: int, curve: slabs.Slab, long: Length, wide: Length
) -> list[int]:
    inner, width = curve.typed["inner"].base, curve.typed["wide"].base
    if curve.typed["finish"] not in STAMPED or inner <= long.base / 2:
        assert got["curve_mats.placements"][line] == 0
        return []
    one = mats.chord_angle(long.base, inner)
    angle = base(curve.typed["angle"], "angle", got.units)
    lanes = mats.side_by_side(curve.typed["wide"].marks, wide.marks)
    placed, cut = mats.chords(angle, one)
    assert got["curve_mats.placed"][line] == placed
    assert got["curve_mats.placements"][line] == placed * lanes
    assert got["curve_mats.cut"][line] == cut * lanes
    assert got["curve_mats.wedges"][line] == placed - (curve.typed["angle"] < 360)
    same_at(got, line, "curve_mats.angle_one", "angle", one)
    drawn, side = mats.wedge(width, one)
    same_at(got, line, "curve_mats.wedge", "length", side)
    same_at(got, line, "curve_mats.wedge_area", "area", drawn.area)
    for where, radius in (("inner", inner), ("outer", inner + width)):
        to_chord = sqrt(radius**2 - (long.base / 2) ** 2)  # from the middle, by Pythagoras
        same_at(got, line, f"curve_mats.sag_{where}", "length", radius - to_chord)
    return [lanes]


def same_at(got: Answers, line: int, key: str, kind: str, expected: float) -> None:
    """Compare one line with a figure in SI base units."""
    assert got.base(key, kind)[line] == pytest.approx(expected, rel=1e-7, abs=1e-9), key
