"""A banded rectangle, built strip by strip and panel by panel, and measured."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import hypot

from shapely import LineString, MultiPolygon, Polygon, box, unary_union

Span = tuple[float, float]


@dataclass(frozen=True)
class Way:
    """One direction: the whole length, the border at its two ends, the bands between them.

    A border of no width is none.  Bands stand where their ``places`` say, center lines from the
    first end, or else leave panels that are all alike.
    """

    whole: float
    first: float
    last: float
    bands: int
    wide: float
    places: tuple[float, ...] = ()

    @cached_property
    def spans(self) -> list[tuple[str, Span]]:
        """Return where each band inside (b) and each panel (p) begins and ends, in order."""
        end = self.whole - self.last
        alike = (end - self.first - self.bands * self.wide) / (self.bands + 1)
        at, out = self.first, []
        for number in range(self.bands):
            start = self.places[number] - self.wide / 2 if self.places else at + alike
            out += [("p", (at, start)), ("b", (start, start + self.wide))]
            at = start + self.wide
        return [*out, ("p", (at, end))]

    def of(self, kind: str) -> list[Span]:
        """Return the spans of the bands inside or of the panels."""
        return [span for k, span in self.spans if k == kind]

    @property
    def inside(self) -> Span:
        """Return where the border ends at one end and begins at the other."""
        return self.first, self.whole - self.last


@dataclass(frozen=True)
class Grid:
    """A rectangle with a border and bands both ways; ``x`` runs along its length, ``y`` across.

    ``through`` says which bands are laid whole where two cross, ``mitered`` that the border's
    corners are cut along their diagonals.
    """

    x: Way
    y: Way
    through: str = "Along"
    mitered: bool = False

    @cached_property
    def outside(self) -> Polygon:
        """Draw the outline."""
        return box(0, 0, self.x.whole, self.y.whole)

    @cached_property
    def within(self) -> Polygon:
        """Draw the inside of the border."""
        (left, right), (near, far) = self.x.inside, self.y.inside
        return box(left, near, right, far)

    @cached_property
    def border(self) -> Polygon:
        """Cut the inside out of the outline."""
        return self.outside.difference(self.within)

    @cached_property
    def strips_across(self) -> list[Polygon]:
        """Draw the bands inside that lie across the length, from border to border."""
        near, far = self.y.inside
        return [box(a, near, b, far) for a, b in self.x.of("b")]

    @cached_property
    def strips_along(self) -> list[Polygon]:
        """Draw the bands inside that run with the length, from border to border."""
        left, right = self.x.inside
        return [box(left, a, right, b) for a, b in self.y.of("b")]

    @cached_property
    def panels(self) -> list[Polygon]:
        """Draw the panels."""
        return [box(a, c, b, d) for a, b in self.x.of("p") for c, d in self.y.of("p")]

    @cached_property
    def inside(self) -> Polygon | MultiPolygon:
        """Lay all bands inside over one another: what they cover is counted once."""
        strips = [*self.strips_across, *self.strips_along]
        return unary_union(strips) if strips else MultiPolygon()

    @cached_property
    def bands(self) -> Polygon | MultiPolygon:
        """Lay border and bands beside each other."""
        parts = [part for part in (self.border, self.inside) if part.area > 0]
        return unary_union(parts) if parts else MultiPolygon()

    @cached_property
    def joint(self) -> float:
        """Measure the edges that bands and panels share."""
        bands = self.bands.boundary
        return float(sum(p.exterior.intersection(bands).length for p in self.panels))

    @cached_property
    def band_ends(self) -> float:
        """Measure the edges that bands inside and the border share."""
        if not self.inside.area or not self.border.area:
            return 0.0
        shared = self.inside.boundary.intersection(self.border.boundary)
        return float(shared.length)

    def side(self, name: str, what: Polygon | MultiPolygon) -> float:
        """Measure how much of one outside edge belongs to a drawn figure."""
        right, top = self.x.whole, self.y.whole
        ends = {
            "left": [(0, 0), (0, top)],
            "right": [(right, 0), (right, top)],
            "near": [(0, 0), (right, 0)],
            "far": [(0, top), (right, top)],
        }
        return float(what.boundary.intersection(LineString(ends[name])).length)

    @cached_property
    def miters(self) -> float:
        """Draw a line across each corner where the border turns, if it is mitered."""
        corners = [(a, b) for a in (self.x.first, self.x.last) for b in (self.y.first, self.y.last)]
        return sum(hypot(a, b) for a, b in corners if a and b) if self.mitered else 0.0

    @cached_property
    def runs(self) -> dict[str, list[float]]:
        """Return how long each run is: of the border at the ends and sides, of bands inside."""
        (left, right), (near, far) = self.x.inside, self.y.inside
        along_whole = self.through == "Along"
        ends = [s for s in (box(0, 0, left, self.y.whole),
                            box(right, 0, self.x.whole, self.y.whole)) if s.area]  # fmt: skip
        sides = [s for s in (box(0, 0, self.x.whole, near),
                             box(0, far, self.x.whole, self.y.whole)) if s.area]  # fmt: skip
        if not self.mitered and along_whole:
            ends = [_rest(s, sides)[0] for s in ends]
        elif not self.mitered:
            sides = [_rest(s, ends)[0] for s in sides]
        across, along = self.strips_across, self.strips_along
        if along_whole:
            across = [p for s in across for p in _rest(s, along)]
        else:
            along = [p for s in along for p in _rest(s, across)]
        return {
            "end": [_extent(s, 1) for s in ends],
            "side": [_extent(s, 0) for s in sides],
            "across": [_extent(s, 1) for s in across],
            "along": [_extent(s, 0) for s in along],
        }


def _rest(strip: Polygon, others: list[Polygon]) -> list[Polygon]:
    """Return what of a strip others leave, piece by piece."""
    figure = strip.difference(unary_union(others)) if others else strip
    parts = list(figure.geoms) if isinstance(figure, MultiPolygon) else [figure]
    return [p for p in parts if p.area > 0]


def _extent(figure: Polygon, way: int) -> float:
    left, low, right, high = figure.bounds
    return float(right - left if way == 0 else high - low)
