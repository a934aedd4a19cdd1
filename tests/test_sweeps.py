"""What must hold for every job, swept through the workbook's formulas."""

from __future__ import annotations

import random
from itertools import combinations, product
from math import pi

import pytest
from shapely import LineString, Polygon

from reference.banded import SIDES
from reference.grid import Grid, Way
from reference.slabs import Line
from reference.workbook import asking

answers = asking("bands", "band_mats.side_placed", "band_mats.side_rest", "pieces", "total",
                 "base.ground", "concrete", "joints.cut", "outlines.crossed")  # fmt: skip

# What must hold for every job -----------------------------------------------------------


def test_crossings_count_once_for_every_number_of_bands_and_every_edge() -> None:
    cases = list(product(range(9), range(9), product((0, 1), repeat=4)))
    for six in (cases[n : n + 6] for n in range(0, len(cases), 6)):
        lines = []
        for across, along, edges in six:
            line: Line = {"length.ft": 41, "width.ft": 29}
            line |= {"inside_across": across, "inside_along": along}
            line |= {"end_wide.ft": 0, "end_wide.in": 15, "inside_across_wide.in": 18}
            line |= {f"band_{s}": "Yes" if e else "No" for s, e in zip(SIDES, edges, strict=True)}
            lines.append(line | {"side_wide.ft": 0, "side_wide.in": 11})
        got = answers("us", {"bands": lines})
        for number, (across, along, (left, right, near, far)) in enumerate(six):
            area, check = got["bands.band_area"][number], got["bands.band_check"][number]
            end, side = 15 / 12, 11 / 12
            grid = Grid(Way(41, left * end, right * end, across, 1.5),
                        Way(29, near * side, far * side, along, side))  # fmt: skip
            assert area == pytest.approx(grid.bands.area, rel=1e-9)
            assert check == pytest.approx(grid.bands.area, rel=1e-9)
            by_runs = (left + right) * got["bands.end_run"][number] * end
            by_runs += (near + far) * got["bands.side_run"][number] * side
            by_runs += got["bands.across_runs"][number] * got["bands.across_run"][number] * 1.5
            by_runs += got["bands.along_runs"][number] * got["bands.along_run"][number] * side
            assert by_runs == pytest.approx(area, rel=1e-9)
            assert got["bands.band_check_off"][number] == 0


def test_wider_or_more_bands_take_more_area_from_the_panels() -> None:
    usual = {"length.ft": 30, "width.ft": 20, "inside_across": 1, "inside_along": 1}
    for key, steps in (
        ("end_wide.ft", range(1, 7)),
        ("side_wide.ft", range(1, 7)),
        ("inside_along_wide.ft", range(1, 7)),
        ("inside_across", range(6)),
        ("inside_along", range(6)),
    ):
        got = answers("us", {"bands": [{**usual, key: n} for n in steps]})
        bands, panels = got["bands.band_area"], got["bands.panel_area"]
        assert bands == sorted(bands) and len(set(bands)) == 6
        assert [b + p for b, p in zip(bands, panels, strict=True)] == pytest.approx([600] * 6)


def test_a_slab_in_two_parts_has_the_same_area_volume_and_concrete() -> None:
    dice = random.Random(1)
    for _ in range(20):
        a, cut, b = dice.uniform(4, 50), dice.uniform(0.05, 0.95), dice.uniform(4, 50)
        whole = [{"shape": "Rectangle", "a.ft": a, "b.ft": b}]
        parts = [{"shape": "Rectangle", "a.ft": x, "b.ft": b} for x in (a * cut, a * (1 - cut))]
        one, two = (answers("us", {"pieces": p}) for p in (whole, parts))
        for key in ("total.area", "total.volume", "concrete.need", "base.ground"):
            assert two[key][0] == pytest.approx(one[key][0], rel=1e-9)


def test_count_multiplies_and_deduct_subtracts() -> None:
    slab = {"shape": "Ring or arc", "a.ft": 7, "b.ft": 9, "number": 135}
    lines = [{**slab, "count": n} for n in range(1, 20)]
    got = answers("us", {"pieces": [*lines, *({**n, "sign": "Hole"} for n in lines)]})
    one, volume = got["pieces.area"][0], got["pieces.volume"][0]
    assert one == pytest.approx(135 / 360 * pi * (81 - 49))
    times = [*range(1, 20), *(-n for n in range(1, 20))]
    assert got["pieces.area"][:38] == pytest.approx([one * n for n in times])
    assert got["pieces.volume"][:38] == pytest.approx([volume * n for n in times])
    assert got["total.area"][0] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("step", [0.25, 0.3, 0.5, 1])
def test_an_order_covers_its_need_and_is_less_than_a_step_above_it(step: float) -> None:
    dice = random.Random(2)
    for _ in range(8):
        slabs = [{"shape": "Rectangle", "a.ft": dice.randint(1, 90), "b.ft": dice.randint(1, 36),
                  "mix": name} for name in ("Plain", "Colored")]  # fmt: skip
        got = answers("us", {"pieces": slabs, "plant": {"step": step}})
        for need, order in zip(got["concrete.need"], got["concrete.order"], strict=True):
            assert need - 1e-6 * step <= order < need + step
            assert order / step == pytest.approx(round(order / step), abs=1e-9)


def test_a_run_of_three_mats_takes_three() -> None:
    # 4.2 / 1.4 is a little more than 3 in floating point
    run: Line = {"length.ft": 4, "length.in": 2.4, "width.ft": 20}
    run |= {"band_left": "No", "band_right": "No"}
    got = answers("us", {"bands": [run], "mat": {"length.ft": 1, "length.in": 4.8}})
    assert (got["band_mats.side_placed"][0], got["band_mats.side_rest"][0]) == (6, 0)


def test_a_rectangle_drawn_by_its_corners_is_cut_like_one_by_its_sides() -> None:
    corners = [{"x.ft": x, "y.ft": y} for x, y in ((0, 0), (40, 0), (40, 30), (0, 30))]
    drawn = answers("us", {"corners": corners})
    sides = answers("us", {"pieces": [{"shape": "Rectangle", "a.ft": 40, "b.ft": 30}]})
    assert drawn["joints.cut"][0] == pytest.approx(sides["joints.cut"][0]) == 3 * 30 + 2 * 40


# Outlines whose sides cross ---------------------------------------------------------------


def test_outlines_that_cross_are_found_when_they_cross_an_odd_number_of_times() -> None:
    dice = random.Random(3)
    drawn = [
        [(dice.randint(0, 400) / 8, dice.randint(0, 400) / 8) for _ in range(n)]
        for n in (3, 4, 4, 5, 5, 6)
        for _ in range(40)
    ]
    for three in (drawn[n : n + 3] for n in range(0, len(drawn), 3)):
        corners = []
        for points in three:
            corners += [{"x.ft": x, "y.ft": y} for x, y in points] + [{}] * (24 - len(points))
        flagged = answers("us", {"corners": corners})["outlines.crossed"]
        for points, found in zip(three, flagged, strict=True):
            crossings = _crossings(points)
            assert Polygon(points).is_valid == (crossings == 0)
            if crossings == 0:
                assert found == 0  # never a false alarm
            elif crossings % 2:
                assert found == 1  # an odd number of loops: the turns cannot add up to one circle


def _crossings(points: list[tuple[float, float]]) -> int:
    sides = [LineString(ends) for ends in zip(points, [*points[1:], points[0]], strict=True)]
    apart = [
        (a, b) for a, b in combinations(range(len(sides)), 2) if b - a not in (1, len(sides) - 1)
    ]
    return sum(sides[a].crosses(sides[b]) for a, b in apart)
