"""Figures drawn and measured: slab pieces, outlines, sections of steps and thickened edges.

Straight-sided figures are shapely polygons.  Arcs are exact: the length of an arc is its
angle times its radius, and by Pappus a band between two arcs has its width times the path
of its middle as area; ``drawn_ring`` is the same band as a polygon of many chords.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, hypot, pi, sin, sqrt

import numpy as np
from shapely import LineString, Polygon, box, unary_union
from shapely.geometry.polygon import orient

Point = tuple[float, float]

CHORDS = 4000
"""Chords of a drawn arc: a full turn is short by (2π/4000)²/6, less than 1 in 2 million."""


@dataclass(frozen=True)
class Side:
    """One side that a form stands along; a circle closes, and has no end; an arc is bent."""

    length: float
    closed: bool = False
    bent: bool = False


@dataclass(frozen=True)
class Figure:
    """What counts of a figure: its area, all its edges, inner ones too, and each side."""

    area: float
    edge: float
    sides: tuple[Side, ...] = ()


def of_polygon(polygon: Polygon) -> Figure:
    """Measure a drawn figure."""
    return Figure(polygon.area, polygon.length, tuple(sides(polygon)))


def sides(polygon: Polygon) -> Iterator[Side]:
    """Walk round a polygon and round its holes, from corner to corner."""
    for ring in (polygon.exterior, *polygon.interiors):
        for one, other in pairwise(ring.coords):
            yield Side(hypot(other[0] - one[0], other[1] - one[1]))


def stakes(side: Side, step: float) -> int:
    """Walk along a side with a stake at its start, at every step, and at its end."""
    at, driven = 0.0, 0 if side.closed or not side.length else 1
    while at < side.length - 1e-6 * step:
        at, driven = at + step, driven + 1
    return driven


def rectangle(a: float, b: float) -> Figure:
    """Draw a rectangle."""
    return of_polygon(box(0, 0, a, b))


def rectangle_of(a: float, b: float) -> Polygon:
    """Draw a rectangle with a along the ground, from the corner 0, 0."""
    return box(0, 0, a, b)


def cut_out(shape: str, a: float, b: float, c: float = 0.0) -> Polygon:
    """Draw a shape with its side a on the ground from 0, 0, and b up where it is square."""
    if shape == "Rectangle":
        return box(0, 0, a, b)
    if shape == "Right triangle":
        return Polygon([(0, 0), (a, 0), (0, b)])
    if shape == "Trapezoid":
        return Polygon([(0, 0), (a, 0), ((a + b) / 2, c), ((a - b) / 2, c)])
    x = (a * a + c * c - b * b) / (2 * a)
    return Polygon([(0, 0), (a, 0), (x, sqrt(max(0.0, c * c - x * x)))])


def right_triangle(a: float, b: float) -> Figure:
    """Draw a triangle with a square corner between a and b."""
    return of_polygon(Polygon([(0, 0), (a, 0), (0, b)]))


def triangle(a: float, b: float, c: float) -> Figure:
    """Draw a triangle from its sides: a on the ground, b and c swung until they meet."""
    x = (a * a + c * c - b * b) / (2 * a)
    return of_polygon(Polygon([(0, 0), (a, 0), (x, sqrt(c * c - x * x))]))


def trapezoid(a: float, b: float, apart: float) -> Figure:
    """Draw two parallel sides, one above the middle of the other."""
    return of_polygon(Polygon([(-a / 2, 0), (a / 2, 0), (b / 2, apart), (-b / 2, apart)]))


def ring(inner: float, outer: float, angle: float) -> Figure:
    """Measure a band between two arcs; the angle is in radians, its ends are edges too."""
    wide, middle = outer - inner, (outer + inner) / 2
    closed = angle >= 2 * pi - 1e-12
    ends = () if closed else (Side(wide), Side(wide))
    arcs = (Side(inner * angle, closed, True), Side(outer * angle, closed, True))
    edge = sum(s.length for s in (*arcs, *ends))
    return Figure(wide * middle * angle, edge, (*arcs, *ends))


def drawn_ring(inner: float, outer: float, angle: float) -> Polygon:
    """Draw a band between two arcs that do not close, with many chords."""
    at = np.linspace(0, angle, CHORDS + 1)
    arc = np.column_stack([np.cos(at), np.sin(at)])
    return Polygon(np.vstack([outer * arc, inner * arc[::-1]]))


def closed_border(corners: Sequence[Point], wide: float) -> Figure:
    """Cut the inside out of a square-cornered outline, leaving a border all round."""
    outside = Polygon(corners)
    return of_polygon(outside.difference(outside.buffer(-wide, join_style="mitre")))


def open_border(legs: Sequence[float], turns: Sequence[int], wide: float) -> Figure:
    """Lay a strip along a path of square turns; it lies on the left, so 1 turns outward."""
    path, heading = [(0.0, 0.0)], 0
    for leg, turn in zip(legs, [*turns, 0], strict=True):
        x, y = path[-1]
        path.append((x + leg * cos(heading * pi / 2), y + leg * sin(heading * pi / 2)))
        heading += turn
    strip = LineString(path).buffer(wide, single_sided=True, join_style="mitre")
    return of_polygon(strip)


def equal_sides(outer: float, inner: float, corners: int, wide: float) -> tuple[Side, ...]:
    """Cut the edges of a border strip into equal sides, one for each corner or one more."""
    many = 4 if corners == 4 else corners + 1
    ends = () if corners == 4 else (Side(wide), Side(wide))
    return (*(Side(outer / many),) * many, *(Side(inner / many),) * many, *ends)


def mitered(outline: Polygon, wide: float) -> Polygon | None:
    """Draw the inside of a border all round, or nothing where a side or the whole is gone."""
    inside = outline.buffer(-wide, join_style="mitre", mitre_limit=1e6)
    whole = isinstance(inside, Polygon) and not inside.is_empty and not inside.interiors
    return inside if whole and _headings(inside) == _headings(outline) else None


def _headings(polygon: Polygon) -> list[float]:
    """Return which ways the sides of a polygon go, to a millionth of a turn."""
    around = orient(polygon).exterior.coords
    turns = (atan2(y1 - y0, x1 - x0) / (2 * pi) for (x0, y0), (x1, y1) in pairwise(around))
    return sorted(round(turn % 1, 6) % 1 for turn in turns)


def staircase(count: int, tread: float, riser: float) -> tuple[Polygon, float]:
    """Draw the section of solid steps; return it and the length of its treads and risers."""
    blocks = [box(n * tread, 0, (n + 1) * tread, (n + 1) * riser) for n in range(count)]
    section = unary_union(blocks)
    hidden = count * tread + count * riser  # the ground and the back
    return section, section.length - hidden


def thick_section(wide: float, extra: float, tapered: bool) -> Polygon:
    """Draw what a thickened edge adds under a slab."""
    return Polygon([(0, 0), (wide, 0), (0, extra)]) if tapered else box(0, 0, wide, extra)


def path_length(corners: Sequence[Point]) -> float:
    """Return the length round an outline."""
    return sum(hypot(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in pairwise([*corners, corners[0]]))
