"""The drawings of one block, from the figures of a job: areas, lines and words at true size."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from .model import FILL_STEPS, Book, Chart, Entries, Run, Scalar, Series
from .outlines import Loop, Point, Strip, loops, strips

NO_LAYER = "0"
"""The layer of what names none, as programs that draw call it."""


@dataclass(frozen=True)
class Area:
    """What is filled alike: its outlines, holes among them."""

    layer: str
    fill: str
    outlines: tuple[Loop, ...]


@dataclass(frozen=True)
class Line:
    """A line through some points, its width in points of a page."""

    layer: str
    tone: str
    width: float
    points: Loop


@dataclass(frozen=True)
class Label:
    """Words that stand over a point."""

    layer: str
    words: str
    at: Point


@dataclass(frozen=True)
class Drawing:
    """All that is drawn, in feet or meters, in the order in which it covers what is under it."""

    areas: tuple[Area, ...]
    lines: tuple[Line, ...]
    labels: tuple[Label, ...]

    @cached_property
    def extent(self) -> tuple[Point, Point] | None:
        """Return the lower left and the upper right end of it; None where nothing is drawn."""
        points = [p for area in self.areas for loop in area.outlines for p in loop]
        points += [p for line in self.lines for p in line.points]
        if not points:
            return None
        xs, ys = zip(*points, strict=True)
        return (min(xs), min(ys)), (max(xs), max(ys))

    @property
    def layers(self) -> dict[str, Area | Line | Label]:
        """Return each layer with the first that stands on it."""
        first: dict[str, Area | Line | Label] = {}
        every: list[Area | Line | Label] = [*self.areas, *self.lines, *self.labels]
        for one in every:
            first.setdefault(one.layer, one)
        return first


def drawn(book: Book, figures: Entries) -> Drawing:
    """Return the drawings of the block that ``sheets.toml`` names as the plan.

    ``figures`` holds every figure of a job by its key.
    """
    key = book.keys["plan"]
    block = next(b for b in book.blocks if b.key == key)
    return to_scale(book, block.charts, figures, _numbers(figures[book.keys["plan_scale"]])[0])


def to_scale(book: Book, charts: tuple[Chart, ...], figures: Entries, scale: float) -> Drawing:
    """Return drawings, in which a foot or a meter is ``scale`` long, at their true size."""
    if scale <= 0:
        return Drawing((), (), ())
    held = _Figures(book, figures, scale)
    lined = [s for chart in charts if not chart.fills for s in chart.series]
    lines = [line for series in lined for line in _line(series, held)]
    labels = [label for series in lined for label in _label(series, held)]
    ends = sorted({x for line in lines for x, _ in line.points})
    filled = [chart for chart in charts if chart.fills]
    areas = [area for chart in filled for area in _areas(chart, held, ends)]
    return Drawing(tuple(areas), tuple(lines), tuple(labels))


@dataclass(frozen=True)
class _Figures:
    """The figures of a job, as the cells of a run hold them."""

    book: Book
    values: Entries
    scale: float

    def of(self, run: Run) -> list[Scalar]:
        if run.first == run.last:
            return self.values[run.first][run.first_line : run.last_line + 1]
        block, _, part = self.book.parts[run.first]
        keys = [p.key for p in block.parts(part.working)]
        along = keys[keys.index(run.first) : keys.index(run.last) + 1]
        return [self.values[key][run.first_line] for key in along]

    def numbers(self, run: Run) -> list[float]:
        return _numbers(self.of(run))


def _areas(chart: Chart, held: _Figures, ends: list[float]) -> Iterator[Area]:
    """Yield the areas of one drawing, all of one layer and fill together."""
    covered: dict[tuple[str, str], list[Strip]] = defaultdict(list)
    below: list[float] = []
    for series in chart.series:
        heights = held.numbers(series.y)
        below = below or [0.0] * len(heights)
        covered[series.layer or NO_LAYER, series.fill] += strips(
            held.numbers(series.x), below, heights
        )
        below = [low + high for low, high in zip(below, heights, strict=True)]
    for (layer, fill), some in covered.items():
        if fill != "none" and (outlines := loops(some)):
            true = (tuple(_true(p, held.scale, ends) for p in loop) for loop in outlines)
            yield Area(layer, fill, tuple(true))


def _true(point: Point, scale: float, ends: list[float]) -> Point:
    """Return where a point of an area is; a step of its axis is as good as the line end in it."""
    x = (point[0] - 1) / FILL_STEPS / scale
    after = bisect_left(ends, x)
    nearest = min(ends[max(after - 1, 0) : after + 1], key=lambda end: abs(end - x), default=x)
    step = 0.51 / FILL_STEPS / scale  # a half, and dust
    return (nearest if abs(nearest - x) <= step else x), point[1] / scale


def _line(series: Series, held: _Figures) -> Iterator[Line]:
    """Yield the line of a series, unless it stays at one place."""
    points: list[Point] = []
    for x, y in zip(held.numbers(series.x), held.numbers(series.y), strict=True):
        point = x / held.scale, y / held.scale
        if not points or point != points[-1]:
            points.append(point)
    if len(points) > 1:
        yield Line(series.layer or NO_LAYER, series.tone, series.width, tuple(points))


def _label(series: Series, held: _Figures) -> Iterator[Label]:
    words = str(held.of(series.name)[0] or "").strip() if series.name else ""
    if words:
        x, y = held.numbers(series.x)[-1], held.numbers(series.y)[-1]
        yield Label(series.layer or NO_LAYER, words, (x / held.scale, y / held.scale))


def _numbers(values: list[Scalar]) -> list[float]:
    return [value if isinstance(value, float) else 0.0 for value in values]
