"""Random jobs through the workbook's formulas against the reference model."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from reference import slabs
from reference.banded import LINES, SIDES, Banded, places, rectangles, usual_bands
from reference.buying import parts
from reference.figures import drawn_ring, ring
from reference.grid import Way
from reference.jobs import jobs
from reference.measure import Units, base
from reference.workbook import Answers, asking
from sample import some
from shop import STOP

answers = asking("pieces", "outlines", "thick", "steps", "curves", "bands", "piece_edges.held",
                 "strings_x", "strings_y", "finish_area", "mix_volume.neat", "total")  # fmt: skip
checked = asking("checks")
UNITS = pytest.mark.parametrize("units", ["us", "si"])
SETTINGS = settings(
    max_examples=some(20),
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],  # shrinking a whole job takes minutes
)
NAMES = {
    "finishes": [{"name": n} for n in slabs.FINISHES],
    "mixes": [{"name": n} for n in slabs.MIXES],
}


def same(got: Answers, key: str, kind: str, expected: Sequence[float], rel: float = 1e-9) -> None:
    """Compare a column from its first line with figures in SI base units."""
    have = got.base(key, kind)[: len(expected)]
    assert have == pytest.approx(list(expected), rel=rel, abs=1e-9), key


TOO_MUCH = "The loads do not add up"
"""A job drawn at random may take more loads than a workbook lists, and is told so."""


@UNITS
@settings(SETTINGS, max_examples=some(5))
@given(data=st.data())
def test_no_check_but_of_loads_throws_doubt_on_a_good_job(
    units: Units, data: st.DataObject
) -> None:
    got = checked(units, data.draw(jobs(units)).typed)
    states = zip(got["checks.say"], got["checks.state"], strict=True)
    assert [say for say, now in states if now == STOP and TOO_MUCH not in say] == []


@UNITS
@SETTINGS
@given(data=st.data())
def test_slabs_of_every_kind_and_their_totals(units: Units, data: st.DataObject) -> None:
    usual = data.draw(slabs.usuals(units))
    pieces = data.draw(st.lists(slabs.pieces(units, usual), min_size=3, max_size=9))
    drawn = data.draw(st.lists(slabs.outlines(units, usual), max_size=3))
    outlines = [slab for slab, _, _ in drawn]
    thick = data.draw(st.lists(slabs.thick_edges(units, usual), max_size=4))
    flights = data.draw(st.lists(slabs.flights(units, usual), max_size=3))
    curves = data.draw(st.lists(slabs.curved_bands(units, usual), max_size=4))
    corners = []
    for _, points, _ in drawn:
        corners += points + [{}] * (24 - len(points))
    got = answers(units, {
        **NAMES, "usual": usual.typed, "corners": corners,
        "pieces": [s.typed for s in pieces], "outlines": [s.typed for s in outlines],
        "thick": [s.typed for s in thick], "steps": [s.typed for s in flights],
        "curves": [s.typed for s in curves],
    })  # fmt: skip
    for block, lines in (("pieces", pieces), ("outlines", outlines), ("thick", thick),
                         ("steps", flights), ("curves", curves)):  # fmt: skip
        same(got, f"{block}.volume", "volume", [s.volume for s in lines])
        if block != "thick":
            same(got, f"{block}.area", "area", [s.area for s in lines])
            same(got, f"{block}.edge", "length", [s.edge for s in lines])
    same(got, "piece_edges.held", "length", [sum(s.held for s in pieces)])
    same(got, "curves.held", "length", [s.held for s in curves])
    drops = [usual.slope * s.typed["a"].base if s.area > 0 else 0.0 for s in pieces]
    same(got, "pieces.drop", "thickness", drops)
    same(got, "outlines.inside", "area", [p.area for _, _, p in drawn])
    assert got["outlines.crossed"] == [0, 0, 0]
    every = [*pieces, *outlines, *thick, *flights, *curves]
    areas = [sum(s.area for s in every if s.finish == f) for f in slabs.FINISHES]
    volumes = [sum(s.volume for s in every if s.mix == m) for m in slabs.MIXES]
    same(got, "finish_area.total", "area", areas)
    same(got, "mix_volume.neat", "volume", volumes)
    same(got, "total.area", "area", [sum(s.area for s in every)])
    same(got, "total.volume", "volume", [sum(s.volume for s in every)])
    same(got, "total.form", "length", [sum(s.edge - s.held - s.seam for s in every)])
    same(got, "total.isolation", "length", [sum(s.held for s in every)])
    same(got, "total.tool", "length", [sum(s.edge - s.seam for s in every)])
    same(got, "total.joint", "length", [0])


@UNITS
@SETTINGS
@given(data=st.data())
def test_banded_rectangles_against_strips_and_panels(units: Units, data: st.DataObject) -> None:
    usual, of_bands = data.draw(slabs.usuals(units)), data.draw(usual_bands(units))
    drawn = data.draw(st.lists(rectangles(units, usual, of_bands), min_size=1, max_size=6))
    got = answers(units, {
        **NAMES, "usual": usual.typed, "usual_bands": of_bands,
        "bands": [b.typed for b in drawn], **places(drawn),
    })  # fmt: skip
    grids = [b.grid for b in drawn]
    same(got, "bands.panels", "plain", [len(g.panels) for g in grids])
    same(got, "bands.panel_x", "length", [_mean(g.x) for g in grids])
    same(got, "bands.panel_y", "length", [_mean(g.y) for g in grids])
    same(got, "bands.panel_area", "area", [b.panel_area for b in drawn])
    for key in ("bands.band_area", "bands.band_check"):
        same(got, key, "area", [g.bands.area for g in grids])
    same(got, "bands.border_area", "area", [g.border.area for g in grids])
    same(got, "bands.inside_area", "area", [g.inside.area for g in grids])
    assert [*got["bands.misplaced"], *got["bands.band_check_off"]] == [0] * 12
    same(got, "bands.ratio", "plain", [max(_ratio(p.bounds) for p in g.panels) for g in grids])
    same(got, "bands.diagonal", "length", [_diagonal(g.outside.bounds) for g in grids])
    same(got, "bands.panel_diagonal", "length", [hypot(_mean(g.x), _mean(g.y)) for g in grids])
    same(got, "bands.outer", "length", [g.outside.length for g in grids])
    same(got, "bands.joint", "length", [b.joint for b in drawn])
    same(got, "bands.miters", "length", [g.miters for g in grids])
    same(got, "bands.held", "length", [b.held for b in drawn])
    same(got, "bands.forms_bands_first", "length", [b.forms_bands_first for b in drawn])
    same(got, "bands.forms_panels_first", "length", [b.forms_panels_first for b in drawn])
    same(got, "bands.tool", "length", [b.tool for b in drawn])
    same(got, "bands.drop", "thickness", [
        usual.slope * (b.grid.x if b.typed["falls"] == "Along" else b.grid.y).whole for b in drawn
    ])  # fmt: skip
    for number, what in enumerate(("border", "inside", "panel")):
        volumes = [b.parts[number][1] * b.depth(what) for b in drawn]
        same(got, f"bands.{what}_volume", "volume", volumes)
    for finish, total in zip(slabs.FINISHES, got.base("finish_area.total", "area"), strict=False):
        area = sum(a for b in drawn for what, a in b.parts if b.finish(what) == finish)
        assert total == pytest.approx(area, rel=1e-9)
    for mix, volume in zip(slabs.MIXES, got.base("mix_volume.neat", "volume"), strict=False):
        poured = sum(a * b.depth(w) for b in drawn for w, a in b.parts if b.mix(w) == mix)
        assert volume == pytest.approx(poured, rel=1e-9)
    _compare_stakes(got, drawn)
    _compare_runs(got, drawn)
    _compare_strings(got, drawn)


def _compare_runs(got: Answers, drawn: list[Banded]) -> None:
    for which in ("end", "side", "across", "along"):
        runs = [b.grid.runs[which] for b in drawn]
        if which in ("across", "along"):
            same(got, f"bands.{which}_runs", "plain", [len(r) for r in runs])
        means = [sum(r) / len(r) if r else 0.0 for r in runs]
        same(got, f"bands.{which}_run", "length", means)


def _compare_stakes(got: Answers, drawn: list[Banded]) -> None:
    """Walk round the outline and round every panel, a side after the other."""
    apart = base(3.0 if got.units == "us" else 0.9, "length", got.units)  # as usual
    for line, band in enumerate(drawn):
        g = band.grid
        sides = [g.side(s, g.outside) for s in SIDES if s not in band.against]
        for left, low, right, high in (p.bounds for p in g.panels):
            sides += [right - left] * ((low > 0) + (high < g.y.whole))
            sides += [high - low] * ((left > 0) + (right < g.x.whole))
        assert got["bands.stakes"][line] == sum(parts(s, apart) + 1 for s in sides)


def _compare_strings(got: Answers, drawn: list[Banded]) -> None:
    for way, block in (("x", "strings_x"), ("y", "strings_y")):
        near, far = got.base(f"{block}.near", "length"), got.base(f"{block}.far", "length")
        for line in range(6):
            middles = []
            if line < len(drawn):
                whole = getattr(drawn[line].grid, way)
                middles = [(a + b) / 2 for a, b in whole.of("b")]
                sizes = [b - a for a, b in whole.of("p")]
                shown = got.base(f"{block}.size", "length")[LINES * line :][: len(sizes)]
                assert shown == pytest.approx(sizes, rel=1e-9)
            rest = [0.0] * (LINES - len(middles))
            here = slice(LINES * line, LINES * line + LINES)
            assert near[here] == pytest.approx([*middles, *rest], rel=1e-9)
            from_far = [whole.whole - m for m in middles]
            assert far[here] == pytest.approx([*from_far, *rest], rel=1e-9)
        if got.units == "us":
            _compare_marks(got, block, near)


def _compare_marks(got: Answers, block: str, near: list[float]) -> None:
    for line, length in enumerate(near):
        feet, inches = got[f"{block}.near.ft"][line], got[f"{block}.near.in"][line]
        assert 0 <= inches < 12 and feet == int(feet) and inches * 16 == int(inches * 16)
        shown = base(feet, "length", "us") + base(inches, "inch", "us")
        assert abs(shown - length) <= base(0.5 + 1e-6, "mark", "us")


def _mean(way: Way) -> float:
    sizes = [b - a for a, b in way.of("p")]
    return sum(sizes) / len(sizes)


def _diagonal(bounds: tuple[float, float, float, float]) -> float:
    left, low, right, high = bounds
    return hypot(right - left, high - low)


def _ratio(bounds: tuple[float, float, float, float]) -> float:
    left, low, right, high = bounds
    return max(right - left, high - low) / min(right - left, high - low)


@given(st.floats(0.1, 50), st.floats(0.1, 20), st.floats(0.05, 6.2))
@settings(max_examples=30, derandomize=True, deadline=None, database=None)
def test_arcs_by_pappus_agree_with_arcs_of_many_chords(r: float, w: float, angle: float) -> None:
    drawn, exact = drawn_ring(r, r + w, angle), ring(r, r + w, angle)
    assert drawn.area == pytest.approx(exact.area, rel=1e-6)
    assert drawn.length == pytest.approx(exact.edge, rel=1e-6)
