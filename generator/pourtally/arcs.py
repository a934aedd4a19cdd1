"""Arcs that the sides of a drawn line stand for: equal chords, each turned alike from the last.

A bulge is what drawing programs keep of an arc in place of a side: the tangent of a quarter of
the angle it goes through, positive to the left.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, dist, pi, remainder, tan

from .outlines import Loop, Point

_SAME = 1e-4  # of a foot or a meter: chords and places that are no farther apart are the same
_TURN = 1e-3  # radians
_LEAST = 3  # equal chords make an arc


@dataclass(frozen=True)
class Chord:
    """A side of a line, and the bulge of the arc it stands for."""

    start: Point
    end: Point
    bulge: float


def bulges(points: Loop) -> list[float]:
    """Return the bulge of each side of a line that goes through some points, 0 where straight."""
    sides = list(pairwise(points))
    found = [0.0] * len(sides)
    first = 0
    while first < len(sides):
        last = _run(sides, first)
        if last - first + 1 >= _LEAST:
            turn = _turn(sides[first], sides[first + 1])
            found[first : last + 1] = [tan(turn / 4)] * (last - first + 1)
            last += 1
        first = max(last, first + 1)
    return found


def chords(lines: Iterable[Loop]) -> list[Chord]:
    """Return the sides of some lines that stand for arcs."""
    return [
        Chord(*side, bulge)
        for points in lines
        for side, bulge in zip(pairwise(points), bulges(points), strict=True)
        if bulge
    ]


def along(loop: Loop, arcs: Sequence[Chord]) -> Iterator[tuple[float, float, float]]:
    """Yield the corners of a closed loop, each with the bulge of the side that begins there."""
    for start, end in pairwise((*loop, loop[0])):
        ahead = (a.bulge for a in arcs if _same(a.start, start) and _same(a.end, end))
        back = (-a.bulge for a in arcs if _same(a.start, end) and _same(a.end, start))
        yield *start, next(ahead, next(back, 0.0))


def _run(sides: list[tuple[Point, Point]], first: int) -> int:
    """Return the last of the sides that go on from the first one as its next one does."""
    last = first
    while last + 1 < len(sides):
        one, other = sides[last], sides[last + 1]
        turn, begun = _turn(one, other), _turn(*sides[first : first + 2])
        if abs(turn - begun) > _TURN or abs(turn) < _TURN or abs(dist(*one) - dist(*other)) > _SAME:
            break
        last += 1
    return last


def _turn(one: tuple[Point, Point], other: tuple[Point, Point]) -> float:
    return remainder(_way(other) - _way(one), 2 * pi)


def _way(side: tuple[Point, Point]) -> float:
    (x, y), (to_x, to_y) = side
    return atan2(to_y - y, to_x - x)


def _same(one: Point, other: Point) -> bool:
    return dist(one, other) < _SAME
