"""Stamping mats laid one by one, in whole tape marks and exact fractions of them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import acos, cos, sin, sqrt

from shapely import Polygon

Marks = int | Fraction


def lay(run: Marks, mat: Marks) -> tuple[int, Marks]:
    """Step along a run; return how many mats were set down and how long a cut one was."""
    at: Marks = 0
    cut: Marks = Fraction(0)
    placed = 0
    while at < run:
        piece = min(mat, run - at)
        placed, cut, at = placed + 1, piece if piece < mat else Fraction(0), at + piece
    return placed, cut


def side_by_side(wide: Marks, mat: Marks) -> int:
    """Return how many mats it takes to get across."""
    return lay(wide, mat)[0]


def strips_from(mat: Marks, wide: Marks) -> int:
    """Return how many strips as wide as a band come from one mat, 1 where it is wider."""
    return max(1, len(range(1, int(mat / Fraction(wide)) + 1)))


def first_fit(pieces: Sequence[Marks], mat: Marks) -> int:
    """Cut the longest piece first, each from the first length that has room for it."""
    left: list[Marks] = []
    for piece in sorted(pieces, reverse=True):
        for number, room in enumerate(left):
            if piece <= room:
                left[number] = room - piece
                break
        else:
            left.append(mat - piece)
    return len(left)


def chord_angle(chord: float, radius: float) -> float:
    """Return the angle a chord takes, by the law of cosines."""
    return acos(1 - chord * chord / (2 * radius * radius))


def chords(angle: float, one: float) -> tuple[int, bool]:
    """Turn chord by chord; return how many it takes and whether the last one is cut."""
    at, placed = 0.0, 0
    while at < angle - 1e-6 * one:
        at, placed = at + one, placed + 1
    return placed, abs(at - angle) > 1e-6 * one


def wedge(wide: float, one: float) -> tuple[Polygon, float]:
    """Draw what two mats leave open that touch at an inner corner; return its outer sides too.

    It reaches to where the outer sides of the mats would meet.
    """
    half = one / 2
    first = (wide * sin(half), wide * cos(half))  # outer corners, the touching corner at 0, 0
    meet = (0.0, first[1] + first[0] * sin(half) / cos(half))
    other = (-first[0], first[1])
    side = sqrt((meet[0] - first[0]) ** 2 + (meet[1] - first[1]) ** 2)
    return Polygon([(0, 0), first, meet, other]), 2 * side
