"""Random bands: stakes driven side by side, and what of the forms is bent."""

from __future__ import annotations

from itertools import pairwise
from math import pi

from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString

from reference import slabs
from reference.banded import SIDES, Banded, rectangles
from reference.measure import Length, Units, base
from reference.steel import rows
from reference.workbook import asking
from test_reference import NAMES, SETTINGS, UNITS, same

answers = asking("edges", "curves.bent", "curves.stakes")


@UNITS
@SETTINGS
@given(data=st.data())
def test_stakes_are_driven_along_every_side(units: Units, data: st.DataObject) -> None:
    usual = data.draw(slabs.usuals(units))
    drawn = data.draw(st.lists(rectangles(units), max_size=3))
    curves = data.draw(st.lists(slabs.curved_bands(units, usual), max_size=3))
    names, foot = ("stakes", "bent_stakes"), 1 if units == "us" else 0.3
    typed = {k: round(data.draw(st.integers(5, 60)) / 10 * foot, 3) for k in names}
    spacing, closer = (base(typed[k], "length", units) for k in names)
    got = answers(units, {
        **NAMES, "form_rates": typed,
        "bands": [b.typed for b in drawn], "curves": [c.typed for c in curves],
    })  # fmt: skip
    sides = [side for band in drawn for side in _formed(band)]
    straight = sum(len(rows(side, spacing)) for side in sides)
    stakes = dict(zip(got["edges.name"], got["edges.stakes"], strict=True))
    assert stakes["Banded rectangles"] == straight
    assert stakes["Curved bands"] == sum(got["curves.stakes"])
    same(got, "curves.bent", "length", [max(0, sum(_arcs(c)) - c.held) for c in curves])
    for have, curve in zip(got["curves.stakes"], curves, strict=False):
        most = _curve_stakes(curve, spacing, closer)
        free, held = curve.edge - curve.held, curve.held
        if not held:
            assert have == most
        elif free < 1e-6:
            assert have == 0
        else:  # a house takes away what stood along it, and never a stake that is needed
            assert most - held / closer - 1e-6 <= have <= most
            assert have >= (sum(_arcs(curve)) - held) / closer


@UNITS
def test_a_curve_without_a_house_takes_every_stake(units: Units) -> None:
    long, short = Length(9000, units), Length(600, units)
    closer = base(1.5 if units == "us" else 0.45, "length", units)
    spacing = 2 * closer
    for angle in (1, 75, 359, 360):
        typed = {"inner": long, "wide": short, "angle": angle}
        got = answers(units, {**NAMES, "curves": [typed]})
        assert got["curves.stakes"][0] == _curve_stakes(slabs.Slab(typed), spacing, closer)


def _formed(band: Banded) -> list[float]:
    """Return every side that is boarded: outside and free, or of a panel along a band."""
    outside = [
        band.grid.side(name, band.grid.outside) for name in SIDES if name not in band.against
    ]
    at_bands = []
    for panel in band.grid.panels:
        corners = list(panel.exterior.coords)
        for start, end in pairwise(corners):
            shared = LineString([start, end]).intersection(band.grid.bands.boundary).length
            if shared > 1e-9:
                at_bands.append(LineString([start, end]).length)
    return [*outside, *at_bands]


def _arcs(curve: slabs.Slab) -> tuple[float, float]:
    inner, wide = curve.typed["inner"].base, curve.typed["wide"].base
    turn = curve.typed["angle"] / 180 * pi
    return inner * turn, (inner + wide) * turn


def _curve_stakes(curve: slabs.Slab, spacing: float, closer: float) -> int:
    """Walk both arcs, and both ends where it has any; a closed arc ends where it began."""
    arcs = [len(rows(arc, closer)) for arc in _arcs(curve)]
    if curve.typed["angle"] == 360:
        return sum(arcs) - 2
    return sum(arcs) + 2 * len(rows(curve.typed["wide"].base, spacing))
