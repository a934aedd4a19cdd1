"""Areas that stand on top of each other over a level axis, to the closed outlines they form.

Between two neighboring places of the axis an area is a trapezoid with upright sides.  Where
two of them meet they share a side, walked up by one and down by the other: what is walked
both ways is no edge of the whole, and the rest closes to loops, holes the other way round.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]
Loop = tuple[Point, ...]
_Edge = tuple[Point, Point]

_PLACES = 9  # decimals by which two heights are one
_STRAIGHT = 1e-8  # twice the area of the triangle of three points in one line


@dataclass(frozen=True)
class Strip:
    """A trapezoid between two places of the axis: its lower and upper end on either side."""

    left: tuple[float, float, float]
    right: tuple[float, float, float]


def strips(
    xs: Sequence[float], below: Sequence[float], heights: Sequence[float]
) -> Iterator[Strip]:
    """Yield what an area covers between each two places, where it has a height at all."""
    ends = [
        (x, round(low, _PLACES), round(low + max(high, 0.0), _PLACES))
        for x, low, high in zip(xs, below, heights, strict=True)
    ]
    for left, right in pairwise(ends):
        if right[0] > left[0] and (left[1] < left[2] or right[1] < right[2]):
            yield Strip(left, right)


def loops(covered: Iterable[Strip]) -> tuple[Loop, ...]:
    """Return the outlines of all strips together: the outer ones to the left, holes to the right.

    Strips that lie over each other are none of these: areas stand on one another.
    """
    ahead: dict[Point, list[Point]] = defaultdict(list)
    for start, end in _edges(list(covered)):
        ahead[start].append(end)
    found = []
    while ahead:
        here = first = next(iter(ahead))
        loop = []
        while True:
            loop.append(here)
            here = _step(ahead, here)
            if here == first:
                break
        found.append(_corners(loop))
    return tuple(loop for loop in found if len(loop) > 2)


def _step(ahead: dict[Point, list[Point]], here: Point) -> Point:
    """Walk one edge and take it away."""
    there = ahead[here].pop()
    if not ahead[here]:
        del ahead[here]
    return there


def _edges(covered: list[Strip]) -> Iterator[_Edge]:
    """Yield the edges that are walked in one direction only."""
    sloping: set[_Edge] = set()
    upright: dict[float, list[tuple[float, float, int]]] = defaultdict(list)
    for strip in covered:
        (x, low, high), (to, low_to, high_to) = strip.left, strip.right
        for edge in (((x, low), (to, low_to)), ((to, high_to), (x, high))):
            back = edge[1], edge[0]
            if back in sloping:
                sloping.remove(back)
            else:
                sloping.add(edge)
        upright[x].append((low, high, -1))
        upright[to].append((low_to, high_to, 1))
    yield from sorted(sloping)
    for x in sorted(upright):
        yield from _upright(x, upright[x])


def _upright(x: float, sides: list[tuple[float, float, int]]) -> Iterator[_Edge]:
    """Yield the pieces of upright sides at one place that are not walked both ways."""
    heights = sorted({y for low, high, _ in sides for y in (low, high)})
    for low, high in pairwise(heights):
        way = sum(up for start, end, up in sides if start <= low and high <= end)
        if way:
            ends = (x, low), (x, high)
            yield ends if way > 0 else (ends[1], ends[0])


def _corners(loop: list[Point]) -> Loop:
    """Return a loop without the points that lie on a straight line between their neighbors."""
    kept: list[Point] = []
    for point, after in zip(loop, [*loop[1:], loop[0]], strict=True):
        before = kept[-1] if kept else loop[-1]
        if abs(_turn(before, point, after)) > _STRAIGHT:
            kept.append(point)
    return tuple(kept)


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
