"""Random bands and random mats: the workbook's counts against mats laid one by one."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference import mats, slabs
from reference.banded import Banded, rectangles
from reference.measure import Length, Units, base
from reference.workbook import Answers, asking
from test_reference import NAMES, SETTINGS, UNITS

answers = asking("band_mats", "curve_mats", "mats")
STAMPED = {"Stamped", "Floated", "Washed"}

Ends = Counter[tuple[str, mats.Marks]]
"""How many cut mats there are: on long or short runs, and how long."""


@UNITS
@SETTINGS
@given(data=st.data())
def test_mats_of_straight_and_curved_bands(units: Units, data: st.DataObject) -> None:
    usual = data.draw(slabs.usuals(units))
    drawn = data.draw(st.lists(rectangles(units), min_size=1, max_size=6))
    curves = data.draw(st.lists(slabs.curved_bands(units, usual), max_size=4))
    long, wide = data.draw(slabs.lengths(units, 0.4, 1.2)), data.draw(slabs.lengths(units, 0.2, 1))
    spares = data.draw(st.integers(0, 3))
    finishes = [{"name": n, "stamped": "Yes" if n in STAMPED else "No"} for n in slabs.FINISHES]
    got = answers(units, {
        **NAMES, "finishes": finishes, "usual": usual.typed,
        "mat": {"length": long, "width": wide, "spares": spares},
        "bands": [b.typed for b in drawn], "curves": [c.typed for c in curves],
    })  # fmt: skip
    lanes = [0]
    for line, band in enumerate(drawn):
        if band.typed["band_finish"] in STAMPED:
            lanes += _compare_band(got, line, band, long.marks, wide.marks)
        else:
            assert got["band_mats.placements"][line] == got["band_mats.mats_cut"][line] == 0
        lanes += _compare_panels(got, line, band, long.marks, wide.marks)
    for line, curve in enumerate(curves):
        lanes += _compare_curve(got, line, curve, long, wide)
    total = sum(got["band_mats.placements"]) + sum(got["band_mats.panel_placements"])
    assert got["mats.placements"][0] == total + sum(got["curve_mats.placements"])
    assert got["mats.row"][0] == max(lanes)
    assert got["mats.own"][0] == max(lanes) + spares * (max(lanes) > 0)
    assert got["mats.cut"][0] == sum(got["band_mats.mats_cut"]) + sum(got["curve_mats.cut"])


def _runs(band: Banded) -> tuple[list[tuple[str, Fraction, int]], int, int]:
    """Return all runs of a rectangle in marks: long or short, how long, how wide."""
    typed = band.typed
    sizes = {}
    for way, whole, count, wide in (
        ("x", "length", "across", "across_wide"),
        ("y", "width", "along", "along_wide"),
    ):
        parts = getattr(band.grid, way).order
        left = typed[whole].marks - typed[count] * typed[wide].marks
        sizes[way] = (Fraction(left, parts.count("p")), parts.count("p"))
    x, y = ("along", "length"), ("across", "width")
    through, other, between = (x, y, "y") if typed["through"] == "Along" else (y, x, "x")
    wide_long, wide_short = typed[f"{through[0]}_wide"].marks, typed[f"{other[0]}_wide"].marks
    runs = [("long", Fraction(typed[through[1]].marks), wide_long)] * typed[through[0]]
    each, pieces = sizes[between]
    runs += [("short", each, wide_short)] * (typed[other[0]] * pieces)
    return runs, wide_long, wide_short


def _compare_band(got: Answers, line: int, band: Banded, long: int, wide: int) -> list[int]:
    runs, wide_long, wide_short = _runs(band)
    ends: Ends = Counter()
    placed, lanes = 0, []
    for kind, run, across in runs:
        side = mats.side_by_side(across, wide)
        count, cut = mats.lay(run, long)
        placed += side * count
        lanes.append(side)
        if cut:
            ends[kind, cut] += side
        assert got[f"band_mats.lanes_{kind}"][line] == side
        assert got[f"band_mats.placed_{kind}"][line] == count
        shown = got.base(f"band_mats.end_{kind}", "length")[line]
        assert shown == pytest.approx(base(float(cut), "mark", got.units), abs=1e-9)
    assert got["band_mats.placements"][line] == placed
    assert got["band_mats.cut"][line] == ends.total()
    assert got["band_mats.whole"][line] == placed - ends.total()
    _compare_cutting(got["band_mats.mats_cut"][line], ends, long, wide, wide_long, wide_short)
    return lanes


def _compare_cutting(
    have: float, ends: Ends, long: int, wide: int, wide_long: int, wide_short: int
) -> None:
    strips = {
        "long": mats.strips_from(wide, wide_long),
        "short": mats.strips_from(wide, wide_short),
    }
    pieces = {
        k: [cut for (kind, cut), n in ends.items() if kind == k for _ in range(n)] for k in strips
    }
    across = {"long": min(wide, wide_long), "short": min(wide, wide_short)}
    used = sum(sum(p) * across[k] for k, p in pieces.items())
    assert Fraction(used, long * wide) <= have <= ends.total()  # no mat is bigger than a mat
    if wide_long == wide_short:
        every = [*pieces["long"], *pieces["short"]]
        greedy = -(-mats.first_fit(every, long) // strips["long"])
        sizes = sorted(set(every), reverse=True) + [Fraction(0)] * 2
        best = mats.fewest(sizes[0], every.count(sizes[0]) if sizes[0] else 0, sizes[1],
                           every.count(sizes[1]) if sizes[1] else 0, long)  # fmt: skip
        assert -(-best // strips["long"]) <= have == greedy
    else:
        lengths = [Fraction(mats.first_fit(p, long), strips[k]) for k, p in pieces.items()]
        assert have == -(-sum(lengths) // 1)


def _compare_panels(got: Answers, line: int, band: Banded, long: int, wide: int) -> list[int]:
    if band.typed["panel_finish"] not in STAMPED:
        assert got["band_mats.panel_placements"][line] == 0
        return []
    step = Length(1, got.units).base
    placed, rows = 0, []
    for panel in band.grid.panels:
        left, low, right, high = panel.bounds
        short, far = sorted([(right - left) / step, (high - low) / step])
        rows.append(mats.side_by_side(Fraction(short).limit_denominator(9), wide))
        placed += rows[-1] * mats.side_by_side(Fraction(far).limit_denominator(9), long)
    assert got["band_mats.panel_placements"][line] == placed
    return rows


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
