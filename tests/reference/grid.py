"""A banded rectangle, built strip by strip and panel by panel, and measured."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from shapely import LineString, MultiPolygon, Polygon, box, unary_union

Span = tuple[float, float]


@dataclass(frozen=True)
class Way:
    """One direction: the whole length, its bands, and whether its two ends carry one."""

    whole: float
    bands: int
    wide: float
    first: bool
    last: bool

    @cached_property
    def order(self) -> str:
        """Return bands and panels one after the other: b, p, b, p, b."""
        inner = self.bands - self.first - self.last
        return "b" * self.first + "p" + "bp" * inner + "b" * self.last

    @cached_property
    def spans(self) -> list[tuple[str, Span]]:
        """Return where each band and panel begins and ends; panels share what bands leave."""
        panel = (self.whole - self.bands * self.wide) / self.order.count("p")
        at, out = 0.0, []
        for kind in self.order:
            size = self.wide if kind == "b" else panel
            out.append((kind, (at, at + size)))
            at += size
        return out

    def of(self, kind: str) -> list[Span]:
        """Return the spans of the bands or of the panels."""
        return [span for k, span in self.spans if k == kind]


@dataclass(frozen=True)
class Grid:
    """A rectangle with bands both ways; ``x`` runs along its length, ``y`` across it."""

    x: Way
    y: Way

    @cached_property
    def strips_across(self) -> list[Polygon]:
        """Draw the bands that lie across the length."""
        return [box(a, 0, b, self._top) for a, b in self.x.of("b")]

    @cached_property
    def strips_along(self) -> list[Polygon]:
        """Draw the bands that run with the length."""
        return [box(0, a, self._right, b) for a, b in self.y.of("b")]

    @cached_property
    def panels(self) -> list[Polygon]:
        """Draw the panels."""
        return [box(a, c, b, d) for a, b in self.x.of("p") for c, d in self.y.of("p")]

    @cached_property
    def bands(self) -> Polygon | MultiPolygon:
        """Lay all strips over one another: what they cover is counted once."""
        strips = [*self.strips_across, *self.strips_along]
        return unary_union(strips) if strips else MultiPolygon()

    @cached_property
    def outside(self) -> Polygon:
        """Draw the outline."""
        return box(0, 0, self._right, self._top)

    @cached_property
    def naive(self) -> float:
        """Add up the strips one by one, crossings as often as they are covered."""
        return float(sum(s.area for s in [*self.strips_across, *self.strips_along]))

    @cached_property
    def joint(self) -> float:
        """Measure the edges that bands and panels share."""
        bands = self.bands.boundary
        return float(sum(p.exterior.intersection(bands).length for p in self.panels))

    def side(self, name: str, what: Polygon | MultiPolygon) -> float:
        """Measure how much of one outside edge belongs to a drawn figure."""
        ends = {
            "left": [(0, 0), (0, self._top)],
            "right": [(self._right, 0), (self._right, self._top)],
            "near": [(0, 0), (self._right, 0)],
            "far": [(0, self._top), (self._right, self._top)],
        }
        return float(what.boundary.intersection(LineString(ends[name])).length)

    def runs(self, through: str) -> tuple[list[float], list[float]]:
        """Return the lengths of the bands that go through, and of the others between them."""
        whole, cut = self.strips_along, self.strips_across
        if through == "Across":
            whole, cut = cut, whole
        between = [
            piece
            for strip in cut
            for piece in _pieces(strip.difference(unary_union(whole)) if whole else strip)
        ]
        way = 0 if through == "Along" else 1
        return [_extent(s, way) for s in whole], [_extent(s, 1 - way) for s in between]

    @property
    def _right(self) -> float:
        return self.x.spans[-1][1][1]

    @property
    def _top(self) -> float:
        return self.y.spans[-1][1][1]


def _pieces(figure: Polygon | MultiPolygon) -> list[Polygon]:
    parts = list(figure.geoms) if isinstance(figure, MultiPolygon) else [figure]
    return [p for p in parts if p.area > 0]


def _extent(figure: Polygon, way: int) -> float:
    left, low, right, high = figure.bounds
    return float(right - left if way == 0 else high - low)
