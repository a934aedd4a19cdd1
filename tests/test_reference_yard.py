"""The plan of the yard: its polygons, read from the drawings a workbook declares, by shapely.

What is filled is painted one area over the other, as a spreadsheet does; what remains seen of
each fill is held against the workbook's own measures, in true size.
"""

from __future__ import annotations

import tomllib
from itertools import combinations, pairwise
from math import pi, sin
from random import Random
from typing import Any

import pytest
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from conftest import JOBS
from pourtally import charts
from pourtally.jobfile import job_entries
from pourtally.model import Chart, Run, Series, Units
from pourtally.template import columns
from sample import some
from shop import laid_out, work_out

FILLS = ("light", "middle", "strong")
SEEDS = range(some(4))
TALL = 2 / 3
STEP = 1e-4
"""To what a place from left to right is rounded where it is filled."""
Lines = list[list[tuple[float, float]]]


class Plan:
    """All drawings of the yard of one job, with the figures of its workbook."""

    def __init__(self, job: dict[str, Any], units: Units = "us") -> None:
        """Work the whole workbook out, as it is built."""
        book, self.places = laid_out(units, "small")
        entries, problems = job_entries(book, job, "test")
        assert problems == []
        cells, values = work_out(units, entries, "small")
        self.at: dict[Any, Any] = {(c.sheet, c.row, c.column): c.content for c in cells} | values
        self.figures = columns(cells, values)
        self.charts = next(b.charts for b in book.blocks if b.key == "plan")
        self.scale, self.left, self.low = (
            self.one(f"yard_scale.{key}") for key in ("scale", "left", "low")
        )

    def one(self, key: str, line: int = 1) -> float:
        """Return a figure of a line."""
        return float(self.figures[key][line - 1] or 0)

    def run(self, run: Run) -> list[float]:
        """Return the figures of a run of cells."""
        sheet, top, left, bottom, right = charts._run(self.places, run)
        rows, columns = range(int(top), int(bottom) + 1), range(int(left), int(right) + 1)
        return [float(self.at[sheet, r, c] or 0) for r in rows for c in columns]

    def lines(self, block: str) -> Lines:
        """Return the lines that are drawn of a block."""
        every = [s for c in self.charts if not c.fills for s in c.series]
        mine = [s for s in every if s.x.first.startswith(f"{block}.") and not s.name]
        return [list(zip(self.run(s.x), self.run(s.y), strict=True)) for s in mine]

    def seen(self, words: str) -> dict[str, BaseGeometry]:
        """Return what is seen of each fill, where later areas are painted over earlier ones."""
        seen: dict[str, BaseGeometry] = dict.fromkeys((*FILLS, "paper"), Polygon())
        for chart in self.charts:
            if chart.fills and chart.words.startswith(words):
                for fill, area in self.areas(chart):
                    seen = {f: shape.difference(area) for f, shape in seen.items()}
                    seen[fill] = unary_union([seen[fill], area])
        return seen

    def areas(self, chart: Chart) -> list[tuple[str, BaseGeometry]]:
        """Return each filled area of a drawing, from heights that stand on one another."""
        found = []
        xs = [(x - 1) * STEP for x in self.run(chart.series[0].x)]
        under = [0.0] * len(xs)
        for series in chart.series:
            over = [low + high for low, high in zip(under, self.run(series.y), strict=True)]
            if series.fill != "none":
                found.append((series.fill.removesuffix("_flat"), between(xs, under, over)))
            under = over
        return found

    def box(self, code: str) -> BaseGeometry:
        """Return where the yard says that a shape stands, in the drawing."""
        line = 1 + CODES.index(code)
        x, y = (self.one(f"yard.at_{a}", line) + self.one(f"yard.in_{a}", line) for a in "xy")
        x, y = self.left + x * self.scale, self.low + y * self.scale
        across, up = (self.one(f"yard.{key}", line) * self.scale for key in ("across", "up"))
        return box(x, y, x + across, y + up)


CODES = next(b.codes for b in laid_out("us", "small")[0].blocks if b.key == "yard")


def between(xs: list[float], lows: list[float], highs: list[float]) -> BaseGeometry:
    """Return the area between two lines, in upright strips from point to point."""
    corners = zip(pairwise(xs), pairwise(lows), pairwise(highs), strict=True)
    return unary_union([
        Polygon([(a, la), (b, lb), (b, hb), (a, ha)])
        for (a, b), (la, lb), (ha, hb) in corners
        if b > a and (ha > la or hb > lb)
    ])  # fmt: skip


def patio(dice: Random, foot: float) -> dict[str, Any]:
    """Return a banded rectangle: any edges, bands of their own width, finishes of their own."""
    edges = {f"band_{s}": dice.choice(["Yes", "No"]) for s in ("left", "right", "near", "far")}
    sizes = {
        key: round(dice.uniform(low, high) * foot, 2)
        for key, low, high in (
            ("length", 20, 60), ("width", 20, 60), ("end_wide", 0.5, 1.5), ("side_wide", 0.5, 1.5),
            ("inside_across_wide", 0.5, 1.5), ("inside_along_wide", 0.5, 1.5),
        )
    }  # fmt: skip
    kinds = {
        f"{part}_{of}": dice.choice(among)
        for part in ("border", "inside", "panel")
        for of, among in (("finish", ["Stamped", "Broomed"]), ("mix", ["Plain", "Colored"]))
    }
    bands = {"inside_across": dice.randrange(9), "inside_along": dice.randrange(9)}
    return {"what": "Patio", **edges, **sizes, **kinds, **bands}


def fill_of(slab: dict[str, Any], part: str) -> str:
    """Return the fill that a part of a rectangle must have."""
    if slab[f"{part}_finish"] == "Stamped":
        return "strong"
    return "middle" if slab[f"{part}_mix"] == "Colored" else "light"


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_seen_of_each_fill_is_what_is_measured(seed: int, units: Units) -> None:
    dice = Random(f"{seed} {units}")
    foot = 1.0 if units == "us" else 0.3
    slabs = [patio(dice, foot) for _ in range(3)]
    turns = [{"line": f"bands_{n}", "turn": dice.randrange(4)} for n in (1, 2, 3)]
    plan = Plan({"bands": slabs, "yard": turns}, units)
    for n, slab in enumerate(slabs, 1):
        seen = plan.seen(f"Banded rectangle {n}:")
        meant = dict.fromkeys(FILLS, 0.0)
        for part in ("border", "inside", "panel"):
            meant[fill_of(slab, part)] += plan.one(f"bands.{part}_area", n)
        for fill in FILLS:
            slack = STEP * plan.scale * 20 * (slab["length"] + slab["width"])
            assert abs(seen[fill].area - meant[fill] * plan.scale**2) < slack, (n, fill)
        whole = unary_union(list(seen.values()))
        assert whole.symmetric_difference(plan.box(f"bands_{n}")).area < slack


def test_bands_stand_where_their_strings_are_in_each_turn() -> None:
    slab = {"length": 30, "width": 20, "inside_across": 2, "inside_along": 1}
    own = {"strings_x": [{"own": 8}, {"own": 20}], "strings_y": [{"own": 5}]}
    for turn in range(4):
        plan = Plan({"bands": [slab], "yard": [{"line": "bands_1", "turn": turn}], **own})
        seen = plan.seen("Banded rectangle 1:")["light"]
        frame = plan.box("bands_1").bounds
        for x, y in ((3.0, 12), (14, 12), (25, 12), (14, 3)):  # in panels
            assert seen.covers(turned(frame, x, y, turn, plan.scale)), (turn, x, y)
        for x, y in ((8.0, 12), (20, 12), (14, 5), (0.5, 12)):  # on bands
            assert not seen.covers(turned(frame, x, y, turn, plan.scale)), (turn, x, y)
        drawn = next(b.charts[1] for b in laid_out("us", "small")[0].blocks if b.key == "crew_job")
        for number, ends in ((0, ((8.0, 0), (8, 20))), (1, ((20, 0), (20, 20))),
                             (8, ((0, 5), (30, 5)))):  # fmt: skip
            series = drawn.series[number]
            points = list(zip(plan.run(series.x), plan.run(series.y), strict=True))
            for point, (x, y) in zip(points, ends, strict=True):
                assert turned(frame, x, y, turn, plan.scale).distance(Point(point)) < STEP
        assert [s.name is not None for s in drawn.series] == [True] * 16
        says = [plan.figures[f"crew_strings.{way}"] for way in ("left", "near")]
        assert says == [["8' 0\"", "20' 0\"", *[" "] * 6], ["5' 0\"", *[" "] * 7]]


def turned(frame: tuple[float, ...], x: float, y: float, turn: int, scale: float) -> BaseGeometry:
    """Return where a point of a rectangle of 30 by 20 lies after quarter turns to the left."""
    u, v = ((x, y), (20 - y, x), (30 - x, 20 - y), (y, 30 - x))[turn]
    return LineString([(frame[0] + u * scale, frame[1] + v * scale)] * 2).buffer(STEP)


CORNERS = [(3, 2), (23, 2), (23, 9), (15, 9), (15, 14), (3, 14)]
WALK = [
    {"kind": "Straight", "length": 20},
    {"kind": "Bend left", "angle": 90, "radius": 10},
    {"kind": "Bend right", "angle": 180, "radius": 8},
]
YARD: dict[str, Any] = {
    "bands": [{"length": 24, "width": 16, "inside_across": 1, "held_far": "Yes"}],
    "walks": [{"width": 4}, {"width": 3, "width_end": 6}],
    "legs": [*WALK, {"walk": 2, "kind": "Straight", "length": 30}],
    "outlines": [{"wide": 2}],
    "corners": [{"x": x, "y": y} for x, y in CORNERS],
    "curves": [{"inner": 8, "wide": 2, "angle": 120}],
    "pieces": [
        {"shape": "Circle", "a": 12}, {"shape": "Circle", "a": 4, "sign": "Hole"},
        {"shape": "Right triangle", "a": 9, "b": 6},
        {"shape": "Trapezoid", "a": 6, "b": 10, "c": 5},
        {"shape": "Triangle", "a": 7, "b": 9, "c": 5}, {"shape": "Rectangle", "a": 8, "b": 3},
        {"shape": "Rectangle", "a": 1, "b": 2, "sign": "Hole", "out_of": "Panel"},
        {"shape": "Border strip", "a": 40, "b": 1, "number": 4},
    ],
    "steps": [{"count": 3, "tread": 12, "riser": 7, "wide": 5}],
}  # fmt: skip


def yards() -> list[dict[str, Any]]:
    """Return the yard placed by itself, and with every shape turned and some placed by hand."""
    out = [YARD]
    for turn in (1, 2, 3):
        placed: dict[str, dict[str, Any]] = {code: {"turn": turn} for code in CODES}
        placed["walks_1"] |= {"x": 40, "y": 10}
        placed["bands_1"] |= {"x": 5, "y": 30}
        out.append(YARD | {"yard": [{"line": code, **line} for code, line in placed.items()]})
    return out


@pytest.fixture(scope="module", params=range(4))
def plan(request: pytest.FixtureRequest) -> Plan:
    """Return a drawn yard with every kind of shape."""
    return Plan(yards()[request.param])


def test_all_of_it_is_drawn_inside_the_frame(plan: Plan) -> None:
    frame = box(0, 0, 1, TALL)
    blocks = ("legs", "walk_plan", "corners", "sketches", "rounds", "nosings", "walls")
    for block in blocks:
        for line in plan.lines(block):
            if line[0][0] > -STEP and len({*line}) > 1:
                assert frame.covers(LineString(line)), (block, line)
    codes = [c for n, c in enumerate(CODES, 1) if plan.one("yard.across", n)]
    assert len(codes) == 14
    assert all(frame.covers(plan.box(code)) for code in codes)


def test_one_scale_serves_both_ways_and_measures_are_true(plan: Plan) -> None:
    true = plan.scale**2

    def areas(block: str) -> list[float]:
        lines = plan.lines(block)
        return [Polygon(line).area / true for line in lines if len({*line}) > 2]

    legs = areas("legs")
    assert sum(legs) == pytest.approx(
        80 + 135 + 4 * pi / 2 * 10 * EIGHTH + 4 * pi * 8 * QUARTER, rel=1e-6
    )
    outside, inside = areas("corners")
    assert (outside, outside - inside) == pytest.approx(
        (plan.one("outlines.inside"), plan.one("outlines.border"))
    )
    straight = [27, 40, plan.one("pieces.area", 5), 24, 2, plan.one("pieces.area", 8), 15]
    assert sorted(areas("sketches")) == pytest.approx(sorted(straight))
    arc = 120 / 360 * pi * (100 - 64) * sin(pi * 2 / 3 / 7) / (pi * 2 / 3 / 7)
    circles = [d * d / 4 * 8 * sin(pi / 8) for d in (12, 4)]
    assert sorted(areas("rounds")) == pytest.approx(sorted([arc, *circles]))


QUARTER, EIGHTH = (sin(a) / a for a in (pi / 4, pi / 8))
"""What four straight parts leave of half a circle, and of a quarter."""


def test_boxes_hold_what_is_drawn(plan: Plan) -> None:
    for block, first, each in (("legs", "walks_1", 3), ("corners", "outlines_1", 1)):
        drawn = unary_union([LineString(line) for line in plan.lines(block)[:each]])
        assert drawn.bounds == pytest.approx(plan.box(first).bounds, abs=2e-3), block


def test_what_is_placed_by_itself_overlaps_nothing() -> None:
    plan = Plan(YARD)
    alone = [c for n, c in enumerate(CODES, 1) if plan.one("yard.alone", n)]
    assert len(alone) == 12
    for one, other in combinations(alone, 2):
        assert plan.box(one).intersection(plan.box(other)).area == 0, (one, other)
    inside = {"pieces_2": "pieces_1", "pieces_7": "bands_1"}
    for hole, slab in inside.items():
        assert plan.box(slab).covers(plan.box(hole)), hole


def test_what_is_placed_by_hand_stands_there() -> None:
    for job in yards()[1:]:
        plan = Plan(job)
        for code, x, y in (("walks_1", 40, 10), ("bands_1", 5, 30)):
            left, low, *_ = plan.box(code).bounds
            assert left == pytest.approx(plan.left + x * plan.scale)
            assert low == pytest.approx(plan.low + y * plan.scale)


def test_the_side_at_the_house_is_drawn_in_each_turn() -> None:
    for turn in range(4):
        job = {"bands": YARD["bands"], "yard": [{"line": "bands_1", "turn": turn}]}
        plan = Plan(job)
        (wall,) = (line for line in plan.lines("walls") if len({*line}) > 1)
        x0, y0, x1, y1 = plan.box("bands_1").bounds
        side = ((x0, y1, x1, y1), (x0, y0, x0, y1), (x0, y0, x1, y0), (x1, y0, x1, y1))[turn]
        assert LineString(wall).bounds == pytest.approx(side)


BENT = [
    {"walk": 1, "kind": "Straight", "length": 20}, {"kind": "Bend left", "angle": 90, "radius": 10},
    {"kind": "Straight", "length": 15},
    {"walk": 2, "kind": "Straight", "length": 30},
    {"walk": 3, "kind": "Bend right", "angle": 40, "radius": 25}, {"kind": "Straight", "length": 9},
    {"walk": 4, "kind": "Straight", "length": 5}, {"kind": "Bend left", "angle": 170, "radius": 6},
]  # fmt: skip
WALKS = [{"width": 4}, {"width": 3, "finish": "Stamped"}, {"width": 5, "mix": "Colored"}]


@pytest.mark.parametrize("turn", range(4))
def test_a_walk_is_filled_between_its_edges(turn: int) -> None:
    turns = [{"line": f"walks_{n}", "turn": turn} for n in (1, 2, 3, 4)]
    plan = Plan({"walks": [*WALKS, {"width": 3}], "legs": BENT, "yard": turns})
    edges = [line for line in plan.lines("legs") if len({*line}) > 2]
    for n, (legs, fill) in enumerate(((edges[:3], "light"), (edges[3:4], "strong"),
                                      (edges[4:6], "middle")), 1):  # fmt: skip
        drawn = unary_union([Polygon(line).buffer(1e-9) for line in legs])
        assert_filled(plan, f"Walk {n}:", fill, drawn)
    straight = plan.seen("Walk 2:")["strong"]
    across = straight.bounds[2] - straight.bounds[0]
    measured = plan.one("walks.area", 2) * plan.scale**2
    assert straight.area == pytest.approx(measured, rel=3 * STEP / across)
    folded = unary_union([*plan.seen("Walk 4:").values()])
    assert folded.is_empty == (turn in (0, 2)), "back over itself"


def assert_filled(plan: Plan, words: str, fill: str, drawn: BaseGeometry) -> None:
    """Hold what is seen of a drawing against what its lines enclose, to two steps a corner."""
    seen = plan.seen(words)
    assert [f for f, area in seen.items() if not area.is_empty] == [fill], words
    x0, y0, x1, y1 = drawn.bounds
    assert seen[fill].symmetric_difference(drawn).area < 20 * STEP * (x1 - x0 + y1 - y0), words
    assert seen[fill].area == pytest.approx(drawn.area, rel=0.01), words


OUTLINES = {
    "L": CORNERS,
    "slanted": [(0, 0), (30, 4), (26, 19), (3, 22)],
    "octagon": [(3, 0), (9, 0), (12, 3), (12, 9), (9, 12), (3, 12), (0, 9), (0, 3)],
    "stair": [(0, 0), (20, 0), (20, 4), (15, 4), (15, 8), (9, 8), (9, 13), (0, 13)],
}


@pytest.mark.parametrize("name", OUTLINES)
@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("back", [False, True])
def test_an_outline_is_filled_between_its_sides(name: str, turn: int, back: bool) -> None:
    corners = OUTLINES[name][::-1] if back else OUTLINES[name]
    points = [{"x": x, "y": y} for x, y in corners]
    turns = [{"line": "outlines_1", "turn": turn}]
    plan = Plan({"outlines": [{"mix": "Colored"}], "corners": points, "yard": turns})
    (line, _) = plan.lines("corners")
    assert_filled(plan, "Outline 1 by its corners:", "middle", Polygon(line))


@pytest.mark.parametrize(("turn", "filled"), [(0, True), (1, False), (2, True), (3, False)])
def test_an_outline_crossed_twice_is_only_outlined(turn: int, filled: bool) -> None:
    u = [(0, 0), (20, 0), (20, 15), (16, 15), (16, 4), (4, 4), (4, 15), (0, 15)]
    points = [{"x": x, "y": y} for x, y in u]
    turns = [{"line": "outlines_1", "turn": turn}]
    plan = Plan({"outlines": [{}], "corners": points, "yard": turns})
    seen = plan.seen("Outline 1 by its corners:").values()
    assert any(not area.is_empty for area in seen) == filled


def test_pieces_holes_and_steps_are_filled(plan: Plan) -> None:
    drawn = [line for line in plan.lines("sketches") if len({*line}) > 2]
    for n, line in enumerate(drawn[:4], 1):
        assert_filled(plan, f"Pieces and steps, {n}:", "light", Polygon(line))


ROUND: dict[str, tuple[str, dict[str, Any], tuple[int, ...]]] = {
    "disk": ("pieces", {"shape": "Circle", "a": 12, "finish": "Stamped"}, (0, 1, 2, 3)),
    "slice": ("pieces", {"shape": "Ring or arc", "a": 0, "b": 9, "number": 120}, (0, 1, 2, 3)),
    "arc": ("pieces", {"shape": "Ring or arc", "a": 5, "b": 9, "number": 180}, (0, 2)),
    "ring": ("pieces", {"shape": "Ring or arc", "a": 5, "b": 9, "number": 360}, ()),
    "band": ("curves", {"inner": 14, "wide": 2, "angle": 75, "mix": "Colored"}, (0, 2)),
}  # fmt: skip
"""Round shapes, and how often turned no upright line meets them more than twice."""


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("name", ROUND)
def test_what_is_round_is_filled(name: str, turn: int, units: Units) -> None:
    block, shape, filled = ROUND[name]
    sizes = {k: v * (0.3 if units == "si" and k in ("a", "b", "inner", "wide") else 1)
             for k, v in shape.items() if isinstance(v, (int, float))}  # fmt: skip
    job = {block: [shape | sizes], "yard": [{"line": f"{block}_1", "turn": turn}]}
    plan = Plan(job, units)
    (line,) = (line for line in plan.lines("rounds") if len({*line}) > 1)
    if turn in filled:
        fill = {"disk": "strong", "band": "strong"}.get(name, "light")
        assert_filled(plan, "Circles", fill, Polygon(line))
    else:
        assert all(area.is_empty for area in plan.seen("Circles").values())


@pytest.mark.parametrize("turn", range(4))
def test_a_round_planter_is_filled_with_paper(turn: int) -> None:
    plan = Plan({
        "bands": [{"length": 24, "width": 16, "inside_across": 1}],
        "pieces": [{"shape": "Circle", "a": 6, "sign": "Hole", "out_of": "Panel"}],
        "yard": [{"line": "bands_1", "turn": turn}],
    })  # fmt: skip
    hole = plan.seen("Circles")["paper"]
    assert plan.box("bands_1").covers(hole)
    assert hole.area / plan.scale**2 == pytest.approx(9 * 8 * sin(pi / 8), rel=2e-3)


def test_names_stand_inside_what_is_cut_out_where_they_fit_else_under_it() -> None:
    for side, inside in ((1, False), (9, True)):
        hole = {"shape": "Circle", "a": side, "sign": "Hole", "out_of": "Panel", "what": "Planter"}
        plan = Plan({"bands": [{"length": 40, "width": 30}], "pieces": [hole]})
        line = 1 + CODES.index("pieces_1")
        at = LineString([[plan.one(f"yard.{key}", line) for key in ("middle_x", "under_y")]] * 2)
        assert plan.figures["yard.under"][line - 1] == "Planter"
        assert plan.box("pieces_1").covers(at)
        assert (plan.box("pieces_1").boundary.distance(at) > STEP) == inside


def test_what_is_not_there_lies_in_one_place_inside_the_frame(plan: Plan) -> None:
    lines = [n for n in range(1, 1 + len(CODES)) if not plan.one("yard.across", n)]
    assert {plan.figures["yard.under"][n - 1] for n in lines} == {" "}
    for line in (s for c in plan.charts for s in c.series if not s.fill):
        assert all(0 <= x <= 1 for x in plan.run(line.x)), line
        assert all(0 <= y <= TALL for y in plan.run(line.y)), line


def test_a_hole_is_filled_with_paper() -> None:
    pieces = [
        {"shape": "Rectangle", "a": 12, "b": 9, "finish": "Stamped"},
        {"shape": "Rectangle", "a": 2, "b": 3, "sign": "Hole"},
    ]
    plan = Plan({"pieces": pieces, "steps": [{"count": 3, "tread": 12, "riser": 7, "wide": 5}]})
    slab, hole, steps = (
        [(fill, area.area / plan.scale**2) for fill, area in plan.areas(chart) if area.area]
        for chart in plan.charts
        if chart.words.startswith(tuple(f"Pieces and steps, {n}:" for n in (1, 2, 3)))
    )
    assert slab == [("strong", pytest.approx(108, rel=2e-3))]
    assert hole == [("paper", pytest.approx(6, rel=0.01))]
    assert steps == [("light", pytest.approx(15, rel=5e-3))]


def test_fills_run_from_left_to_right_in_every_job() -> None:
    jobs = [tomllib.loads(path.read_text("utf-8")) for path in JOBS.values()]
    told = [(job.pop("units", "us"), job) for job in jobs] + [("us", job) for job in yards()]
    for units, job in told:
        plan = Plan(job, units)
        for chart in (c for c in plan.charts if c.fills):
            xs = plan.run(chart.series[0].x)
            assert xs == sorted(xs), chart.words
            assert all(x == round(x) and x <= 10001 for x in xs), chart.words
            assert xs[0] >= 1 or not any(plan.run(chart.series[1].y)), chart.words
            assert all(plan.run(s.x) == xs for s in chart.series), chart.words
            heights = [y for s in chart.series if s.fill != "none" for y in plan.run(s.y)]
            assert min(heights) >= -1e-12, chart.words


def test_series_of_one_drawing_are_as_long_as_each_other() -> None:
    for chart in Plan({}).charts:
        for series in chart.series:
            assert length(series, "x") == length(series, "y")


def length(series: Series, way: str) -> int:
    run: Run = getattr(series, way)
    return run.last_line - run.first_line


def test_an_arrow_points_where_a_rectangle_falls() -> None:
    for held, falls, way in (
        ("held_far", "Across", (0, -1)), ("held_near", "Across", (0, 1)),
        ("held_left", "Along", (1, 0)), ("held_right", "Along", (-1, 0)),
    ):  # fmt: skip
        for turn in range(4):
            slab = {"length": 24, "width": 16, held: "Yes", "falls": falls}
            plan = Plan({"bands": [slab], "yard": [{"line": "bands_1", "turn": turn}]})
            (x0, y0), (x1, y1), *barbs = plan.lines("arrows")[0]
            dx, dy = (way, (-way[1], way[0]), (-way[0], -way[1]), (way[1], -way[0]))[turn]
            assert (x1 - x0, y1 - y0) == pytest.approx((dx * 0.045, dy * 0.045), abs=1e-9)
            for x, y in (barbs[0], barbs[2]):  # behind the point, one to each side
                assert (x1 - x) * dx + (y1 - y) * dy > 0
            assert LineString([barbs[0], barbs[2]]).crosses(LineString([(x0, y0), (x1, y1)]))
            assert plan.box("bands_1").covers(LineString([(x0, y0), (x1, y1), *barbs]))


@pytest.mark.parametrize("turn", range(4))
def test_a_panel_says_how_large_it_is(turn: int) -> None:
    slab = {"length": 30, "width": 20, "inside_across": 2, "inside_along": 1}
    plan = Plan({"bands": [slab], "yard": [{"line": "bands_1", "turn": turn}]})
    said = {0: "8' 8\" × 8' 6\"", 1: "8' 6\" × 8' 8\""}[turn % 2]
    assert plan.figures["arrows.says"] == [said, " ", " "]  # a figure would stand for no words
    at = (plan.one("arrows.says_x"), plan.one("arrows.says_y"))
    assert plan.seen("Banded rectangle 1:")["light"].covers(LineString([at, at]).buffer(STEP))
