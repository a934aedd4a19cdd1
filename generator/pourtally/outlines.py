"""Areas that stand on top of each other over a level axis, to what is seen of them from above.

Between two neighboring places of the axis an area is a trapezoid with upright sides.  What is
drawn later covers what is under it; of each kind of area all that is left is put together.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import shapely
from shapely.geometry.base import BaseGeometry

Point = tuple[float, float]
Loop = tuple[Point, ...]
Kind = TypeVar("Kind", bound=Hashable)

_GRID = 1e-6  # of a foot or a meter: what lies closer together is one


@dataclass(frozen=True)
class Outline:
    """A closed area: the corners around it, and around each of its holes."""

    around: Loop
    holes: tuple[Loop, ...] = ()

    def through(self, change: Callable[[Loop], Loop]) -> Outline:
        """Return it with each of its loops changed alike."""
        return Outline(change(self.around), tuple(map(change, self.holes)))


def strips(xs: Sequence[float], below: Sequence[float], heights: Sequence[float]) -> Iterator[Loop]:
    """Yield what an area covers between each two places, where it has a height at all."""
    ends = [(x, low, low + high) for x, low, high in zip(xs, below, heights, strict=True)]
    for (x, low, high), (to, low_to, high_to) in pairwise(ends):
        if to - x > _GRID and max(high - low, high_to - low_to) > _GRID:
            yield (x, low), (to, low_to), (to, high_to), (x, high)


def seen(areas: Iterable[tuple[Kind, Iterable[Loop]]]) -> Iterator[tuple[Kind, Outline]]:
    """Yield what is seen of areas of some kinds, each of which covers those before it."""
    shown: dict[Kind, BaseGeometry] = {}
    for kind, loops in areas:
        over = _together(map(shapely.polygons, loops))
        shown = {k: area.difference(over, grid_size=_GRID) for k, area in shown.items()}
        shown[kind] = _together([shown.get(kind, over), over])
    for kind, area in shown.items():
        for part in shapely.get_parts(area.normalize()):
            if part.geom_type == "Polygon" and part.area > _GRID:
                yield kind, _outline(part.simplify(_GRID))


def _together(areas: Iterable[BaseGeometry]) -> BaseGeometry:
    return shapely.union_all(list(areas), grid_size=_GRID)


def _outline(area: BaseGeometry) -> Outline:
    rings = (area.exterior, *area.interiors)
    around, *holes = (tuple((x, y) for x, y in ring.coords[:-1]) for ring in rings)
    return Outline(around, tuple(holes))
