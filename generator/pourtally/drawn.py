"""The drawings of one block, from the figures of a job: areas, lines and words at true size."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from .model import Book, Chart, Entries, Run, Scalar, Series
from .outlines import Loop, Outline, Point, seen, strips
from .template import Template

NO_LAYER = "0"
"""The layer of what names none, as programs that draw call it."""
Box = tuple[Point, Point]
_LETTER = 0.9  # the width of a letter, of the height of a capital
_PLACES = 6  # decimals of a foot or a meter


@dataclass(frozen=True)
class Area:
    """What is seen of an area that is filled alike."""

    layer: str
    fill: str
    outline: Outline


@dataclass(frozen=True)
class Line:
    """A line through some points, its width in points of a page; equal sides may be arcs."""

    layer: str
    tone: str
    width: float
    points: Loop
    round: bool = False
    dashed: bool = False


_ASIDE = {"left": -1, "right": 1}
"""Which way words lie from their point, in halves of their length."""


@dataclass(frozen=True)
class Label:
    """Words that stand at a point: above it, or on the ``side`` said."""

    layer: str
    words: str
    at: Point
    side: str = "above"


@dataclass(frozen=True)
class Drawing:
    """All that is drawn, in feet or meters, in the order in which it covers what is under it."""

    areas: tuple[Area, ...]
    lines: tuple[Line, ...]
    labels: tuple[Label, ...]

    @cached_property
    def extent(self) -> Box | None:
        """Return the lower left and the upper right end of it; None where nothing is drawn."""
        points = [p for area in self.areas for p in area.outline.around]
        points += [p for line in self.lines for p in line.points]
        return _around(points) if points else None

    def box(self, letters: float) -> Box:
        """Return the same with room for its words, whose letters are so high."""
        points = [*(self.extent or ((0.0, 0.0), (1.0, 1.0)))]
        for label in self.labels:
            (x, y), half = label.at, letters * _LETTER * len(label.words) / 2
            x += half * _ASIDE.get(label.side, 0)
            points += [(x - half, y - 2 * letters), (x + half, y + 2 * letters)]
        return _around(points)

    def moved(self) -> Drawing:
        """Return the same with its lower left end at 0, as distances are typed."""
        (left, low), _ = self.extent or ((0.0, 0.0), (0.0, 0.0))

        def at(points: Loop) -> Loop:
            return tuple((round(x - left, _PLACES), round(y - low, _PLACES)) for x, y in points)

        lines = (replace(line, points=at(line.points)) for line in self.lines)
        return Drawing(
            tuple(replace(a, outline=a.outline.through(at)) for a in self.areas),
            tuple(dict.fromkeys(lines)),  # strips that are not there lie on one that is
            tuple(replace(label, at=at((label.at,))[0]) for label in self.labels),
        )

    @property
    def layers(self) -> dict[str, Area | Line | Label]:
        """Return each layer with the first that stands on it."""
        first: dict[str, Area | Line | Label] = {}
        every: list[Area | Line | Label] = [*self.areas, *self.lines, *self.labels]
        for one in every:
            first.setdefault(one.layer, one)
        return first


def drawn(template: Template, entries: Entries) -> Drawing:
    """Return the drawings of the block that ``sheets.toml`` names as the plan, at true size.

    Areas stand on whole steps of their axis, which a spreadsheet's drawing needs: the job is
    worked out once more in finer ones.
    """
    book = template.book
    block = next(b for b in book.blocks if b.key == book.keys["plan"])
    runs = [r for c in block.charts for s in c.series for r in (s.x, s.y, s.name) if r]
    scale, steps = book.keys["plan_scale"], book.keys["plan_steps"]
    parts = {key for run in runs for key in _along(book, run)}
    figures = template.fine.results(entries, frozenset(parts | {scale, steps}))
    large = _numbers(figures[scale])[0]
    if large <= 0:
        return Drawing((), (), ())
    held = _Figures(book, figures, large, _numbers(figures[steps])[0])
    return _to_scale(block.charts, held).moved()


def _to_scale(charts: tuple[Chart, ...], held: _Figures) -> Drawing:
    lined = [s for chart in charts if not chart.fills for s in chart.series]
    filled = (one for chart in charts if chart.fills for one in _filled(chart, held))
    areas = [Area(*kind, outline) for kind, outline in seen(filled)]
    lines = [line for series in lined for line in _line(series, held)]
    lines += [line for chart in charts if chart.fills for line in _strings(chart, held)]
    labels = [label for series in lined for label in _label(series, held)]
    return Drawing(tuple(areas), tuple(lines), tuple(labels))


@dataclass(frozen=True)
class _Figures:
    """The figures of a job, as the cells of a run hold them, and what is 1 in them."""

    book: Book
    values: Entries
    scale: float
    steps: float

    def of(self, run: Run) -> list[Scalar]:
        if run.first == run.last:
            return self.values[run.first][run.first_line : run.last_line + 1]
        return [self.values[key][run.first_line] for key in _along(self.book, run)]

    def lengths(self, run: Run) -> list[float]:
        return [number / self.scale for number in _numbers(self.of(run))]

    def stepped(self, run: Run) -> list[float]:
        return [(number - 1) / self.steps / self.scale for number in _numbers(self.of(run))]


def _along(book: Book, run: Run) -> list[str]:
    """Return the keys of the parts that a run goes through, one beside the other."""
    block, _, part = book.parts[run.first]
    keys = [p.key for p in block.parts(part.working)]
    return keys[keys.index(run.first) : keys.index(run.last) + 1]


def _filled(chart: Chart, held: _Figures) -> Iterator[tuple[tuple[str, str], Iterable[Loop]]]:
    """Yield the areas of a drawing, strip by strip, each with its layer and fill.

    Each stands on the one before it; a gap may step down, so that the next one covers some.
    """
    for series, loops in _stacked(chart, held):
        yield (series.layer or NO_LAYER, series.fill), loops


def _strings(chart: Chart, held: _Figures) -> Iterator[Line]:
    """Yield the center lines of strips that are built by a string."""
    layer = held.book.words["plan_strings"]
    for series, loops in _stacked(chart, held):
        for (x, low), (to, low_to), (_, high_to), (_, high) in loops if series.center else ():
            ends = ((x, (low + high) / 2), (to, (low_to + high_to) / 2))
            if series.center == "upright":
                ends = (((x + to) / 2, low), ((x + to) / 2, high))
            yield Line(layer, "dark", 0.5, ends, dashed=True)


def _stacked(chart: Chart, held: _Figures) -> Iterator[tuple[Series, Iterator[Loop]]]:
    below: list[float] = []
    for series in chart.series:
        heights = held.lengths(series.y)
        below = below or [0.0] * len(heights)
        if series.fill != "none" and any(heights):
            yield series, strips(held.stepped(series.x), below, heights)
        below = [low + high for low, high in zip(below, heights, strict=True)]


def _line(series: Series, held: _Figures) -> Iterator[Line]:
    """Yield the line of a series, unless it stays at one place."""
    points: list[Point] = []
    for point in zip(held.lengths(series.x), held.lengths(series.y), strict=True):
        if not points or point != points[-1]:
            points.append(point)
    if len(points) > 1:
        layer = series.layer or NO_LAYER
        yield Line(layer, series.tone, series.width, tuple(points), series.round)


def _label(series: Series, held: _Figures) -> Iterator[Label]:
    """Yield the words at the end of a series, unless that lies outside the frame, out of sight."""
    words = " ".join(str(held.of(series.name)[0] or "").split()) if series.name else ""
    x, y = held.lengths(series.x)[-1], held.lengths(series.y)[-1]
    if words and min(x, y) >= 0 and max(x, y) <= 1 / held.scale:
        yield Label(series.layer or NO_LAYER, words, (x, y), series.name_at)


def _around(points: list[Point]) -> Box:
    xs, ys = zip(*points, strict=True)
    return (min(xs), min(ys)), (max(xs), max(ys))


def _numbers(values: list[Scalar]) -> list[float]:
    return [value if isinstance(value, float) else 0.0 for value in values]
