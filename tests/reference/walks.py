"""Walks drawn leg by leg and measured: a center line of many chords, and what lies beside it.

A walker goes along the center line in small steps, turning as the leg bends, and sets a point
to either side at each.  What the workbook works out from angles is measured here on the
polygons and lines between those points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, hypot

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon

Points = NDArray[np.float64]
STEPS = 3000
"""Chords of a leg: a full turn is short by (2π/3000)²/24, less than 1 in 5 million."""
STRIP = STEPS // 20
DUST = 1e-6


@dataclass(frozen=True)
class Leg:
    """A leg of a center line: how long, and by how much it turns, to the left above 0."""

    length: float
    turn: float = 0.0


@dataclass(frozen=True)
class Drawn:
    """One leg as drawn: its lines from left to right, and what lies between them.

    Where there is no edge band, its inner side is the edge and its middle is empty.
    """

    center: float
    left: float
    right: float
    inner: tuple[float, float]
    lines: tuple[float, float]
    area: float
    bands: float
    widest: float


@dataclass(frozen=True)
class Walk:
    """A walk by its legs, its widths at both ends, and its edge bands on the left and right."""

    legs: Sequence[Leg]
    start: float
    end: float
    bands: tuple[float, float] = (0.0, 0.0)

    @property
    def length(self) -> float:
        """Return the length of its center line."""
        return sum(leg.length for leg in self.legs)

    def drawn(self) -> list[Drawn]:
        """Draw every leg, one after the other."""
        out, at, heading, place = [], 0.0, 0.0, np.zeros(2)
        for leg in self.legs:
            path, headings = _path(leg, place, heading)
            along = at + np.linspace(0, leg.length, STEPS + 1)
            half = (self.start + (self.end - self.start) * along / self.length) / 2
            out.append(_draw(leg, path, headings, half, self.bands))
            at, heading, place = at + leg.length, headings[-1], path[-1]
        return out


def by_chord(chord: float, rise: float) -> tuple[float, float]:
    """Return radius and angle of an arc of up to half a circle through three points.

    Its center is as far from the middle of the arc as from either end: found by halving.
    """
    low, high = chord / 2 * 0.999, chord**2 / rise * 2
    for _ in range(200):
        middle = (low + high) / 2
        nearer = hypot(chord / 2, middle - rise) > middle
        low, high = (middle, high) if nearer else (low, middle)
    return middle, 2 * asin(min(1.0, chord / 2 / middle))


def count(length: float, step: float) -> int:
    """Walk a length step by step; return how many steps are begun, dust at its end aside."""
    at, many = 0.0, 0
    while at < length - DUST * step:
        at, many = at + step, many + 1
    return many


def _path(leg: Leg, place: Points, heading: float) -> tuple[Points, Points]:
    """Return the points of a center line, and the direction it has in each."""
    headings = heading + np.linspace(0, leg.turn, STEPS + 1)
    chord = leg.length / STEPS  # as long as its bit of arc, but for a millionth of it
    between = (headings[:-1] + headings[1:]) / 2
    steps = chord * np.column_stack([np.cos(between), np.sin(between)])
    return place + np.vstack([np.zeros(2), np.cumsum(steps, axis=0)]), headings


def _draw(
    leg: Leg, path: Points, headings: Points, half: Points, bands: tuple[float, float]
) -> Drawn:
    """Measure a leg; a band is as wide as it says square to its own edge."""
    edges, inners, lines, areas = [], [], [], 0.0
    across = np.column_stack([-np.sin(headings), np.cos(headings)])
    for side, band in zip((1, -1), bands, strict=True):
        edge = path + side * half[:, None] * across
        slant = _slant(edge, across)
        inner = edge - side * band * slant[:, None] * across
        middle = edge - side * band / 2 * slant[:, None] * across
        areas += _area(edge, inner) if band else 0.0
        edges.append(edge)
        inners.append(LineString(inner).length if band else 0.0)
        lines.append(LineString(middle).length if band else 0.0)
    left, right = edges
    return Drawn(
        leg.length, LineString(left).length, LineString(right).length, (inners[0], inners[1]),
        (lines[0], lines[1]), _area(left, right), areas, 2 * float(max(half)),
    )  # fmt: skip


def _slant(edge: Points, across: Points) -> Points:
    """Return how much longer a line square to the center line is than one square to the edge."""
    steps = np.gradient(edge, axis=0)
    away = np.abs(np.sum(steps * across, axis=1))
    whole = np.maximum(np.hypot(steps[:, 0], steps[:, 1]), 1e-12)
    return np.asarray(1 / np.sqrt(np.maximum(1 - (away / whole) ** 2, 0.01)))


def _area(one: Points, other: Points) -> float:
    """Return the area between two lines, in strips small enough not to cross themselves."""
    strips = [slice(n, n + STRIP + 1) for n in range(0, STEPS, STRIP)]
    return float(sum(Polygon(np.vstack([one[s], other[s][::-1]])).area for s in strips))


def stakes(lengths: Sequence[float], step: float) -> int:
    """Return the stakes along lines, one at the start of each and one at every step begun."""
    return sum(1 + count(length, step) for length in lengths if length > 0)
