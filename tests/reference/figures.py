"""Figures drawn and measured: slab pieces, outlines, sections of steps and thickened edges.

Straight-sided figures are shapely polygons.  Arcs are exact: the length of an arc is its
angle times its radius, and by Pappus a band between two arcs has its width times the path
of its middle as area; ``drawn_ring`` is the same band as a polygon of many chords.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, pi, sin, sqrt

import numpy as np
from shapely import LineString, Polygon, box, unary_union

Point = tuple[float, float]

CHORDS = 4000
"""Chords of a drawn arc: a full turn is short by (2π/4000)²/6, less than 1 in 2 million."""


@dataclass(frozen=True)
class Figure:
    """What counts of a figure: its area and all its edges, inner ones too."""

    area: float
    edge: float


def of_polygon(polygon: Polygon) -> Figure:
    """Measure a drawn figure."""
    return Figure(polygon.area, polygon.length)


def rectangle(a: float, b: float) -> Figure:
    """Draw a rectangle."""
    return of_polygon(box(0, 0, a, b))


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
    ends = 0 if angle >= 2 * pi - 1e-12 else 2 * wide
    return Figure(wide * middle * angle, inner * angle + outer * angle + ends)


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
