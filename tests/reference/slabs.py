"""Random slabs: what a person types on a line, and what it must come to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import cos, pi, sin
from typing import Any

from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import translate

from . import figures
from .figures import Figure, Side, stakes
from .measure import Length, Units, base, factor

FINISHES = ["Broomed", "Stamped", "Exposed aggregate", "Troweled", "Floated", "Washed"]
MIXES = ["Plain", "Colored", "Gray with fiber", "Dark"]
STRAIGHT: dict[str, tuple[str, Callable[..., Figure]]] = {
    "Rectangle": ("ab", figures.rectangle),
    "Right triangle": ("ab", figures.right_triangle),
    "Triangle": ("abc", figures.triangle),
    "Trapezoid": ("abc", figures.trapezoid),
}
Line = dict[str, Any]


@dataclass(frozen=True)
class Slab:
    """One line of a table: what is typed, and its true figures in SI base units."""

    typed: Line
    area: float = 0.0
    volume: float = 0.0
    edge: float = 0.0
    held: float = 0.0
    finish: str = ""
    mix: str = ""
    seam: float = 0.0
    sides: tuple[Side, ...] = ()
    without: tuple[Side, ...] = ()
    times: int = 1

    def stakes(self, step: float, closer: float) -> int:
        """Drive stakes along every side of one, but along a wall and in a seam, for each."""
        driven = sum(stakes(s, closer if s.bent else step) for s in self.sides)
        return self.times * max(0, driven - sum(stakes(s, step) for s in self.without))


@dataclass(frozen=True)
class Usual:
    """The usual slab of a job."""

    typed: Line
    thickness: float
    finish: str
    mix: str
    slope: float


@st.composite
def lengths(draw: st.DrawFn, units: Units, least: float, most: float) -> Length:
    """Draw a length between two figures in meters: any, or a round one as in practice."""
    each = 1 if draw(st.booleans()) else {"us": 3 * 16, "si": 50}[units]  # 3 in, 50 mm
    step = factor("mark", units) * each
    count = draw(st.integers(int(least / step) + 1, max(int(most / step), int(least / step) + 1)))
    return Length(count * each, units)


def thicknesses(units: Units) -> st.SearchStrategy[float]:
    """Draw a thickness as typed: eighths of an inch, or whole millimeters."""
    eighths = st.integers(16, 96).map(lambda n: n / 8)
    return eighths if units == "us" else st.integers(50, 300).map(float)


@st.composite
def usuals(draw: st.DrawFn, units: Units) -> Usual:
    """Draw the usual slab."""
    thickness = draw(thicknesses(units))
    slope = draw(st.integers(1, 16)) / (32 if units == "us" else 0.5)
    finish, mix = draw(st.sampled_from(FINISHES)), draw(st.sampled_from(MIXES))
    typed = {"thickness": thickness, "slope": slope, "finish": finish, "mix": mix}
    return Usual(
        typed, base(thickness, "thickness", units), finish, mix, base(slope, "slope", units)
    )


@st.composite
def kinds(draw: st.DrawFn, units: Units, usual: Usual) -> tuple[Line, float, str, str]:
    """Draw thickness, finish and mix, each typed or left to the usual slab."""
    typed: Line = {}
    depth, finish, mix = usual.thickness, usual.finish, usual.mix
    if draw(st.booleans()):
        typed["thickness"] = draw(thicknesses(units))
        depth = base(typed["thickness"], "thickness", units)
    if draw(st.booleans()):
        finish = typed["finish"] = draw(st.sampled_from(FINISHES))
    if draw(st.booleans()):
        mix = typed["mix"] = draw(st.sampled_from(MIXES))
    return typed, depth, finish, mix


@st.composite
def shapes(draw: st.DrawFn, units: Units) -> tuple[Line, Figure]:
    """Draw the shape of a slab piece and its sizes."""
    shape = draw(st.sampled_from([*STRAIGHT, "Circle", "Ring or arc", "Border strip"]))
    if shape == "Border strip":
        return draw(borders(units))
    a, b, c = (draw(lengths(units, 0.5, 20)) for _ in range(3))
    if shape == "Circle":
        return {"shape": shape, "a": a}, figures.ring(0, a.base / 2, 2 * pi)
    if shape == "Ring or arc":
        outer, angle = Length(a.marks + b.marks, units), draw(st.integers(1, 24)) * 15.0
        figure = figures.ring(a.base, outer.base, base(angle, "angle", units))
        return {"shape": shape, "a": a, "b": outer, "number": angle}, figure
    if shape == "Triangle":  # no longer than the two others, no shorter than what they differ
        c = Length(draw(st.integers(abs(a.marks - b.marks) + 1, a.marks + b.marks - 1)), units)
    sizes = dict(zip(STRAIGHT[shape][0], (a, b, c), strict=False))
    return {"shape": shape, **sizes}, STRAIGHT[shape][1](*(n.base for n in sizes.values()))


@st.composite
def borders(draw: st.DrawFn, units: Units) -> tuple[Line, Figure]:
    """Draw a border strip: closed round a square-cornered outline, or open along a path."""
    wide = draw(lengths(units, 0.1, 0.9))
    leg = lengths(units, 2, 12)
    line: Line = {"shape": "Border strip", "b": wide}
    if draw(st.booleans()):
        long, short, cut_x, cut_y = (draw(leg) for _ in range(4))
        x, y = long.base + cut_x.base, short.base + cut_y.base
        corners = [(0, 0), (x, 0), (x, short.base), (long.base, short.base), (long.base, y), (0, y)]
        around = Length(2 * (long.marks + cut_x.marks + short.marks + cut_y.marks), units)
        figure = figures.closed_border(corners, wide.base)
        inner = figure.edge - around.base
        figure = replace(figure, sides=figures.equal_sides(around.base, inner, 4, wide.base))
        return {**line, "a": around, "number": 4.0}, figure
    turns = draw(st.sampled_from([[], [1], [1, 1], [1, -1], [-1, 1]]))
    legs = [draw(leg) for _ in range(len(turns) + 1)]
    outer = Length(sum(n.marks for n in legs), units)
    figure = figures.open_border([n.base for n in legs], turns, wide.base)
    inner = figure.edge - outer.base - 2 * wide.base
    figure = replace(figure, sides=figures.equal_sides(outer.base, inner, sum(turns), wide.base))
    return {**line, "a": outer, "number": float(sum(turns))}, figure


@st.composite
def pieces(draw: st.DrawFn, units: Units, usual: Usual, *, deducts: bool = True) -> Slab:
    """Draw a slab piece."""
    shape, figure = draw(shapes(units))
    more, depth, finish, mix = draw(kinds(units, usual))
    typed = {**shape, **more}
    times = 1
    if draw(st.booleans()):
        times = typed["count"] = draw(st.integers(1, 9))
    edge, held, seam = times * figure.edge, 0.0, 0.0
    if draw(st.booleans()):
        typed["against"] = draw(lengths(units, 0.1, 30))
        held = min(edge, times * typed["against"].base)
    elif deducts and draw(st.booleans()):
        typed["seam"] = draw(lengths(units, 0.1, 1.2 * figure.edge / 3))
        seam = times * typed["seam"].base
    without = tuple(Side(typed[key].base) for key in ("against", "seam") if key in typed)
    copies = times
    if deducts and draw(st.integers(0, 4)) == 0:
        typed["sign"], times = "Hole", -times
    area = times * figure.area
    return Slab(typed, area, area * depth, edge, held, finish, mix, seam, figure.sides, without,
                copies)  # fmt: skip


CUT = {"Cut at an edge": list(STRAIGHT), "Cut at a corner": ["Rectangle", "Right triangle"]}
"""What can be cut where: all of them with A along the edge, at a corner with A and B."""


@st.composite
def cut_slabs(draw: st.DrawFn, units: Units, step: Length) -> tuple[list[Line], Polygon, bool]:
    """Draw a rectangle with a piece out of its edge or corner, and what is left of it.

    Tells too whether the cut begins and ends at a stake.
    """
    even = draw(st.booleans())
    a, b, c = (Length(step.marks * draw(st.integers(1, 3)), units) if even
               else draw(lengths(units, 0.4, 2.5)) for _ in range(3))  # fmt: skip
    room = int(2.6 / step.base) + 1  # a trapezoid or a triangle may lean out over A
    start = Length(step.marks * (room + draw(st.integers(0, 3))), units)
    long, wide = (draw(lengths(units, 12, 18)) for _ in range(2))
    sign = draw(st.sampled_from(list(CUT)))
    shape = draw(st.sampled_from(CUT[sign]))
    if shape == "Triangle":
        c = Length(draw(st.integers(abs(a.marks - b.marks) + 1, a.marks + b.marks - 1)), units)
    at = start.base if sign == "Cut at an edge" else 0.0
    names = STRAIGHT[shape][0]
    cut = figures.cut_out(shape, *(n.base for n in (a, b, c)[: len(names)]))
    left = figures.rectangle_of(long.base, wide.base).difference(translate(cut, at))
    typed = dict(zip(names, (a, b, c), strict=False))
    slab = {"shape": "Rectangle", "a": long, "b": wide}
    return [slab, {"shape": shape, "sign": sign, **typed}], left, even


@st.composite
def seamed_slabs(draw: st.DrawFn, units: Units) -> tuple[list[Slab], Polygon]:
    """Draw two slabs that touch along a side and are poured as one."""
    a, b, c, d = (draw(lengths(units, 1, 12)) for _ in range(4))
    shape = draw(st.sampled_from(["Rectangle", "Right triangle"]))
    one = figures.rectangle_of(a.base, b.base)
    other = translate(figures.cut_out(shape, c.base, d.base), a.base)
    seam = Length(min(b.marks, d.marks), units)
    assert abs(one.intersection(other).length - seam.base) < 1e-9
    lines: list[Line] = [{"shape": "Rectangle", "a": a, "b": b}, {"shape": shape, "a": c, "b": d}]
    whole = one.buffer(0).union(other)
    drawn = [
        Slab({**line, "seam": seam}, sides=tuple(figures.sides(figure)), without=(Side(seam.base),))
        for line, figure in zip(lines, (one, other), strict=True)
    ]
    return drawn, whole


@st.composite
def outlines(draw: st.DrawFn, units: Units, usual: Usual) -> tuple[Slab, list[Line], Polygon]:
    """Draw a simple outline: corners seen one after the other from a point inside it."""
    count = draw(st.integers(3, 24))
    x0, y0 = draw(lengths(units, 12, 15)), draw(lengths(units, 12, 15))
    corners = []
    for n in range(count):
        reach = draw(st.integers(20, 100)) / 10  # meters
        turn = 2 * pi * (n + draw(st.integers(0, 40)) / 100) / count
        step = factor("mark", units)
        x = Length(x0.marks + round(reach * cos(turn) / step), units)
        y = Length(y0.marks + round(reach * sin(turn) / step), units)
        corners.append({"x": x, "y": y})
    polygon = Polygon([(c["x"].base, c["y"].base) for c in corners])
    more, depth, finish, mix = draw(kinds(units, usual))
    sign = -1 if draw(st.integers(0, 4)) == 0 else 1
    typed = {**more, "sign": "Hole" if sign < 0 else "Add"}
    area = sign * polygon.area
    sides = tuple(figures.sides(polygon))
    slab = Slab(typed, area, area * depth, polygon.length, 0.0, finish, mix, sides=sides)
    return slab, corners, polygon


@st.composite
def thick_edges(draw: st.DrawFn, units: Units, usual: Usual) -> Slab:
    """Draw a thickened edge."""
    length, wide = draw(lengths(units, 1, 40)), draw(lengths(units, 0.1, 1))
    extra, tapered = draw(thicknesses(units)), draw(st.booleans())
    section = figures.thick_section(wide.base, base(extra, "thickness", units), tapered)
    typed: Line = {"kind": "Tapered" if tapered else "Square", "length": length, "wide": wide}
    mix = draw(st.sampled_from(MIXES))
    typed |= {"extra": extra, "mix": mix}
    return Slab(typed, volume=section.area * length.base, mix=mix)


@st.composite
def flights(draw: st.DrawFn, units: Units, usual: Usual) -> Slab:
    """Draw a flight of solid steps."""
    inch = 1 if units == "us" else 25
    count = draw(st.integers(1, 12))
    tread, riser = draw(st.integers(6, 20)) * inch, draw(st.integers(4, 9)) * inch
    wide = draw(lengths(units, 0.8, 6))
    more, _, finish, mix = draw(kinds(units, usual))
    more.pop("thickness", None)
    deep, high = base(tread, "thickness", units), base(riser, "thickness", units)
    section, faces = figures.staircase(count, deep, high)
    typed = {**more, "count": count, "tread": tread, "riser": riser, "wide": wide}
    boards = (Side(wide.base), Side(deep), Side(deep)) * count  # front and both ends of each
    edge = sum(board.length for board in boards)
    volume = section.area * wide.base
    return Slab(typed, faces * wide.base, volume, edge, 0.0, finish, mix, sides=boards)


@st.composite
def curved_bands(draw: st.DrawFn, units: Units, usual: Usual) -> Slab:
    """Draw a curved band."""
    inner, wide = draw(lengths(units, 0.5, 20)), draw(lengths(units, 0.2, 3))
    angle = draw(st.integers(1, 360))
    figure = figures.ring(inner.base, inner.base + wide.base, base(angle, "angle", units))
    thickness = draw(thicknesses(units))
    finish, mix = draw(st.sampled_from(FINISHES)), draw(st.sampled_from(MIXES))
    against = draw(lengths(units, 0.1, 30))
    typed = {"inner": inner, "wide": wide, "angle": angle, "thickness": thickness}
    typed |= {"finish": finish, "mix": mix, "against": against}
    volume = figure.area * base(thickness, "thickness", units)
    held = min(figure.edge, against.base)
    return Slab(typed, figure.area, volume, figure.edge, held, finish, mix)
