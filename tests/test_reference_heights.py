"""Heights, drains and old concrete against a yard that is walked, cut and loaded by hand.

Where center lines lie is taken from Strings, which have a proof of their own; everything else
is worked out here from its definition, in exact marks of the tape.
"""

from __future__ import annotations

from fractions import Fraction
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from reference import slabs
from reference.banded import Banded, places, rectangles, usual_bands
from reference.buying import packages
from reference.measure import Length, Units, base, factor
from reference.workbook import Answers, asking
from test_reference import NAMES, SETTINGS, UNITS, same

heights = asking("bench", "slopes", "grades", "points", "strings_x.near", "strings_y.near",
                 "strings_x.rectangle")  # fmt: skip
drained = asking("drains", "finish_area", "mix_volume.neat", "total", "narrow.area")
broken = asking("old", "old_out")

MARKS_PER_STEP = {"us": 16, "si": 1}
"""Marks of the tape in the unit of a thickness: sixteenths in an inch, a millimeter."""
STRIDE = Fraction(500)
"""How many marks a step on the way down takes."""


# Heights ---------------------------------------------------------------------------------


def walked(slope: Fraction, down: Fraction) -> int:
    """Walk down a slope stride by stride and return how far one stands below, in whole marks.

    ``slope`` is marks of drop for a mark of the way; half a mark and more counts as one.
    """
    below, left = Fraction(0), down
    while left > 0:
        stride = min(left, STRIDE)
        below, left = below + stride * slope, left - stride
    return floor(below + Fraction(1, 2))


def slope_of(typed: float, units: Units) -> Fraction:
    """Return the slope as marks of drop for a mark of the way: inches a foot, or mm a meter."""
    return Fraction(typed) / {"us": 12, "si": 1000}[units]


def in_marks(length: float, units: Units) -> Fraction:
    """Return a worked-out length in marks, without the dust of binary figures."""
    return Fraction(base(length, "length", units) / factor("mark", units)).limit_denominator(1000)


def down_from(band: Banded, at: Fraction) -> Fraction:
    """Return how far down the slope lies what is so far from the left end or the near side."""
    along = band.typed["falls"] == "Along"
    low, high = ("left", "right") if along else ("near", "far")
    whole = Fraction(band.typed["length" if along else "width"].marks)
    return whole - at if high in band.against and low not in band.against else at


def rods(got: Answers, key: str) -> list[float]:
    """Return rod readings in marks, as decimals."""
    return [v / factor("mark", got.units) for v in got.base(key, "length")]


@UNITS
@SETTINGS
@given(data=st.data())
def test_drops_and_readings_are_those_of_a_walk_down_the_slope(
    units: Units, data: st.DataObject
) -> None:
    usual, of_bands = data.draw(slabs.usuals(units)), data.draw(usual_bands(units))
    drawn = data.draw(st.lists(rectangles(units, usual, of_bands), min_size=1, max_size=4))
    by = data.draw(slabs.lengths(units, 0.01, 1))
    up = data.draw(st.booleans())
    spare = data.draw(slabs.lengths(units, 0.1, 3))
    rod = Length(spare.marks + (by.marks if up else 0), units)
    got = heights(units, {
        "usual": usual.typed, "bands": [b.typed for b in drawn], **places(drawn),
        "bench": {"rod": rod, "by": by, "way": "Above" if up else "Below"},
    })  # fmt: skip
    house = rod.marks + (-by.marks if up else by.marks)
    assert rods(got, "bench.at_house")[0] == pytest.approx(house, abs=1e-6)
    slope = slope_of(usual.typed["slope"], units)
    low = rods(got, "slopes.rod")
    for line, band in enumerate(drawn):
        whole = band.typed["length" if band.typed["falls"] == "Along" else "width"].marks
        assert low[line] == pytest.approx(house + float(whole * slope), abs=1e-6)
        _center_lines(got, band, line, house, slope)
    assert got["slopes.rod"][len(drawn) :] == [0] * (len(got["slopes.rod"]) - len(drawn))


def _center_lines(got: Answers, band: Banded, line: int, house: int, slope: Fraction) -> None:
    here = [n for n, r in enumerate(got["strings_x.rectangle"]) if r == line + 1]
    assert [got["grades.rectangle"][n] for n in here] == [line + 1] * len(here)
    assert [got["grades.band"][n] for n in here] == list(range(1, len(here) + 1))
    way = "x" if band.typed["falls"] == "Along" else "y"
    shown = rods(got, "grades.rod")
    for n in here:
        near = in_marks(got[f"strings_{way}.near"][n], got.units)
        drop = got["grades.drop"][n] * MARKS_PER_STEP[got.units]
        if near == 0:  # a line that no band takes
            assert (drop, shown[n]) == (0, 0)
            continue
        down = down_from(band, near)
        assert drop == pytest.approx(walked(slope, down), abs=1e-6) or _on_a_half(slope * down)
        assert abs(drop - slope * down) <= Fraction(1, 2) + Fraction(1, 1000)
        if drop:
            assert shown[n] == pytest.approx(house + drop, abs=1e-6)


def _on_a_half(exact: Fraction) -> bool:
    """Tell whether a drop lies so near to half a mark that dust decides."""
    return abs(exact % 1 - Fraction(1, 2)) < Fraction(1, 500)


KINDS = ["Corner", "Drain", "Door sill", "Step", "Other"]


@UNITS
@SETTINGS
@given(data=st.data())
def test_a_point_fits_or_does_not_as_a_person_with_a_tape_finds(
    units: Units, data: st.DataObject
) -> None:
    each = MARKS_PER_STEP[units]
    limits = {"sill": (0, 20), "least": (0, 70), "most": (80, 200), "grate": (0, 8),
              "uneven": (0, 8)}  # fmt: skip
    fits = {key: data.draw(st.integers(*ends)) for key, ends in limits.items()}
    slope = data.draw(st.integers(1, 16)) / (32 if units == "us" else 0.5)
    house = data.draw(st.integers(300, 900))
    points, said = [], []
    for _ in range(data.draw(st.integers(1, 8))):
        kind = data.draw(st.sampled_from(KINDS))
        down = data.draw(slabs.lengths(units, 0.1, 15))
        over = data.draw(st.integers(-60, 260))  # marks that it stands above the slab
        there = house + walked(slope_of(slope, units), Fraction(down.marks))
        riser = data.draw(st.none() | st.integers(60, 200))
        line = {"kind": kind, "from": down, "riser": riser and riser / each}
        read = there > over and data.draw(st.integers(0, 4)) > 0
        points.append({**line, "on": Length(there - over, units)} if read else line)
        said.append(judged(kind, over, riser, fits) if read else unread(kind))
    got = heights(units, {
        "usual": {"slope": slope}, "points": points,
        "fits": {key: marks / each for key, marks in fits.items()},
        "bench": {"rod": Length(house, units), "by": Length(0, units)},
    })  # fmt: skip
    assert got["points.says"][: len(said)] == said


def unread(kind: str) -> str:
    """Return what a person says of a point without a reading on it."""
    return "Rod reading? " if kind in ("Door sill", "Step") else ""


def judged(kind: str, over: int, riser: int | None, fits: dict[str, int]) -> str:
    """Return what a person says of a point that stands so many marks above the slab."""
    if kind == "Door sill":
        return "" if over >= fits["sill"] else "Sill too low. "
    if kind == "Drain":
        return "" if -fits["grate"] <= over <= 0 else "Drain does not fit. "
    if kind == "Step":
        alike = riser is None or abs(abs(over) - riser) <= fits["uneven"]
        good = fits["least"] <= abs(over) <= fits["most"] and alike
        return "" if good else "Riser does not fit. "
    return ""


# Drains ----------------------------------------------------------------------------------


@UNITS
@SETTINGS
@given(data=st.data())
def test_drains_are_cut_out_of_the_slab_they_lie_in(units: Units, data: st.DataObject) -> None:
    usual = data.draw(slabs.usuals(units))
    stock = data.draw(st.sampled_from([1.0, 1.5, 4.0]))
    a, b = data.draw(slabs.lengths(units, 4, 20)), data.draw(slabs.lengths(units, 4, 20))
    slab: Polygon = box(0, 0, a.base, b.base)
    outside, sides, pieces, lines = slab.length, 0.0, 0, []
    for number in range(data.draw(st.integers(1, 4))):
        wide = data.draw(slabs.lengths(units, 0.05, 0.4))
        length = Length(data.draw(st.integers(1, a.marks)), units)
        low = (number + 0.2) * b.base / 4  # each in a quarter of its own
        left = (a.base - length.base) / 2
        channel = box(left, low, left + length.base, low + wide.base)
        slab = slab.difference(channel)
        long = [LineString([(left, y), (left + length.base, y)]) for y in (low, low + wide.base)]
        sides += sum(slab.boundary.intersection(side).length for side in long)
        pieces += packages(length.base, base(stock, "length", units))
        lines.append({"length": length, "wide": wide})
    got = drained(units, {
        **NAMES, "usual": usual.typed, "drains": lines, "drain_rates": {"stock": stock},
        "pieces": [{"shape": "Rectangle", "a": a, "b": b}],
    })  # fmt: skip
    same(got, "total.area", "area", [slab.area])
    same(got, "total.volume", "volume", [slab.area * usual.thickness])
    area = dict(zip(slabs.FINISHES, got.base("finish_area.total", "area"), strict=False))
    assert area[usual.finish] == pytest.approx(slab.area)
    volume = dict(zip(slabs.MIXES, got.base("mix_volume.neat", "volume"), strict=False))
    assert volume[usual.mix] == pytest.approx(slab.area * usual.thickness)
    same(got, "total.tool", "length", [outside + sides])
    same(got, "total.form", "length", [outside])
    assert sum(got["drains.pieces"]) == pieces


# Old concrete ----------------------------------------------------------------------------


@UNITS
@SETTINGS
@given(data=st.data())
def test_trucks_are_loaded_until_they_are_full_or_heavy(units: Units, data: st.DataObject) -> None:
    draw = data.draw
    rate = {
        "loose": draw(st.integers(10, 25)) / 10, "density": draw(st.integers(15, 26)) / 10,
        "limit": draw(st.integers(4, 40)) / 2, "speed": draw(st.integers(2, 20)) / 2,
        "steel": draw(st.integers(10, 30)) / 10,
    }  # fmt: skip
    room = draw(st.integers(8, 40)) / 2
    lines, volume, slow, area = [], 0.0, 0.0, 0.0
    for _ in range(draw(st.integers(1, 4))):
        a, b = draw(slabs.lengths(units, 1, 20)), draw(slabs.lengths(units, 1, 12))
        thickness = draw(slabs.thicknesses(units))
        steel = draw(st.sampled_from(["Yes", "No", None]))
        lines.append({"length": a, "wide": b, "thickness": thickness, "steel": steel})
        one = box(0, 0, a.base, b.base).area
        area += one
        volume += one * base(thickness, "thickness", units)
        slow += one * base(thickness, "thickness", units) * (rate["steel"] if steel == "Yes" else 1)
    got = broken(units, {"old": lines, "old_rates": rate, "base_rates": {"truck": room}})
    same(got, "old_out.area", "area", [area])
    same(got, "old_out.volume", "volume", [volume])
    weight = volume * base(rate["density"], "heavy_per_volume", units)
    same(got, "old_out.weight", "heavy", [weight])
    same(got, "old_out.slow", "volume", [slow])
    hours = slow / base(rate["speed"], "volume", units)
    assert got["old_out.hours"][0] == pytest.approx(hours)
    trucks = loaded(volume, rate["loose"], base(room, "volume", units),
                    weight / volume, base(rate["limit"], "heavy", units))  # fmt: skip
    assert got["old_out.loads"][0] == trucks


def loaded(volume: float, loose: float, room: float, density: float, limit: float) -> int:
    """Load one truck after the other until it has no room or carries no more; count them."""
    trucks = 0
    while volume > 1e-6:
        volume -= min(room / loose, limit / density)
        trucks += 1
    return trucks
