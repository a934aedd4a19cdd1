"""A block's drawings: line charts over the cells it names.

The file's writer makes the chart; this room says what is in it and where it stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from . import style
from .model import FILL_STEPS, Block, Book, Chart, Run
from .place import LABEL_COLUMN, Places, Stand, cell_at

_SMALL, _LARGE = 172, 340  # pixels of a drawing: square, so that both axes have one scale
_WIDE, _ROW = 1200, 20  # pixels of a timeline, and of each row it stands over

Drawing = Any
"""A scatter chart of the writing library, which has no types."""


def kind(chart: Chart) -> dict[str, str]:
    """Return what the writing library calls a drawing of lines, of areas or of bars."""
    if chart.bars:
        return {"type": "bar"}
    if chart.fills:
        return {"type": "area", "subtype": "stacked"}
    return {"type": "scatter", "subtype": "straight"}


_MOST = 250  # series of a drawing; Excel takes 255
_EDGE = 0.02  # of a drawing's side, around what is drawn


def piles(book: Book, block: Block) -> Iterator[tuple[Chart, ...]]:
    """Yield the drawings of a block, each with those that stand exactly over it."""
    pile: list[Chart] = []
    for chart in block.charts:
        if not chart.over and pile:
            yield tuple(pile)
            pile = []
        for one in _repeated(book, chart) if chart.same else [chart]:
            pile += _parts(one)
    if pile:
        yield tuple(pile)


def _parts(chart: Chart) -> Iterator[Chart]:
    """Yield a drawing in as many, one over the other, as it has too many series for one."""
    for first in range(0, len(chart.series), _MOST):
        some = chart.series[first : first + _MOST]
        yield replace(chart, series=some, over=chart.over or first > 0)


def _repeated(book: Book, chart: Chart) -> list[Chart]:
    """Return the drawings of another block in the size and at the place of this one."""
    of = next(b for b in book.blocks if b.key == chart.same)
    tall = round(chart.wide * of.charts[0].tall / of.charts[0].wide)
    return [
        replace(one, words=chart.words, at=chart.at, wide=chart.wide, tall=tall)
        for one in of.charts
    ]


def draw(drawing: Drawing, places: Places, block: Block, chart: Chart) -> None:
    """Put the lines, axes and size of a declared chart into an empty scatter chart."""
    (_areas if chart.fills else _bars if chart.bars else _lines)(drawing, places, chart)
    wide, tall = size(block, chart)
    drawing.set_size({"width": wide, "height": tall})
    drawing.show_hidden_data()  # what it draws stands on Workings, whose rows may be hidden
    drawing.set_legend({"none": True})
    drawing.set_title({"none": True})
    drawing.set_chartarea({"border": {"none": True}, "fill": {"none": True}})
    if chart.bars:
        _named(drawing, chart)
    elif chart.axis:
        _timeline(drawing, chart)
    else:
        _plan(drawing, block, chart)


def corner(places: Places, stand: Stand, chart: Chart) -> tuple[int, int]:
    """Return the row and column where a drawing's upper left corner stands."""
    if chart.at:
        return cell_at(chart.at)
    if chart.axis or (chart.bars and stand.block.drawing_rows):
        return stand.head_row - stand.block.drawing_rows, LABEL_COLUMN
    if stand.block.shape == "across":
        return stand.head_row + 1, LABEL_COLUMN + chart.line
    right = LABEL_COLUMN + len(stand.parts) + 1
    column = places.spots[chart.column].column if chart.column else right
    return stand.first_row + chart.line - 1, column


def size(block: Block, chart: Chart) -> tuple[int, int]:
    """Return how wide and how tall a drawing is, in pixels."""
    if chart.axis and not chart.bars:
        return _WIDE, block.drawing_rows * _ROW - 6
    side = _LARGE if block.shape in ("table", "words") else _SMALL
    return chart.wide or side, chart.tall or chart.wide or side


def _lines(drawing: Drawing, places: Places, chart: Chart) -> None:
    for series in (s for s in chart.series if not s.elsewhere):
        ranges = {"categories": _run(places, series.x), "values": _run(places, series.y)}
        line = {"color": style.TONES[series.tone], "width": series.width}
        told = {**ranges, "line": line, "marker": {"type": "none"}}
        if series.name:
            sheet, row, column, *_ = _run(places, series.name)
            told["name"] = [sheet, row, column]
            hidden = [{"delete": True}] * (_points(places, series.x) - 1)
            font = {"color": style.INK, "size": 9}
            told["data_labels"] = {"series_name": True, "value": False,
                                   "position": "right" if chart.axis else series.name_at,
                                   "custom": [*hidden, None], "font": font}  # fmt: skip
        drawing.add_series(told)


def _areas(drawing: Drawing, places: Places, chart: Chart) -> None:
    """Add areas over steps; else a spreadsheet would guess whether steps are days or years."""
    offset, tag = drawing._write_label_offset, drawing._xml_empty_tag
    drawing._write_auto = lambda _: tag("c:auto", [("val", 0)])
    drawing._write_label_offset = lambda at: (offset(at), tag("c:baseTimeUnit", [("val", "days")]))
    for series in chart.series:
        ranges = {"categories": _run(places, series.x), "values": _run(places, series.y)}
        border = {"none": True} if series.fill == "none" else {"color": style.INK, "width": 0.5}
        drawing.add_series({**ranges, **style.FILLS[series.fill], "border": border})


def _bars(drawing: Drawing, places: Places, chart: Chart) -> None:
    """Draw level bars, each with its figure behind it."""
    font = {"color": style.INK, "size": 9}
    labels = {"value": True, "num_format": "#,##0;-#,##0;;", "font": font}
    for series in chart.series:
        drawing.add_series({
            "categories": _run(places, series.x), "values": _run(places, series.y),
            "name": series.layer, "gap": 45, "overlap": 0,
            "fill": {"color": style.TONES[series.tone]}, "data_labels": labels,
        })  # fmt: skip


def _named(drawing: Drawing, chart: Chart) -> None:
    """Write the names of bars before them, the first on top, and what is said over them."""
    no_lines = {"major_gridlines": {"visible": False}}
    bare = {"line": {"none": True}, "major_tick_mark": "none", **no_lines}
    font = {"color": style.INK, "size": 9}
    drawing.set_y_axis(bare | {"reverse": True, "num_font": font, "label_position": "low"})
    drawing.set_x_axis(bare | {"visible": False})
    if chart.axis:
        drawing.set_title({"name": chart.axis, "name_font": font | {"bold": False}})


def _timeline(drawing: Drawing, chart: Chart) -> None:
    """Draw lines over a level axis from 0 to 1; they bring their own hours and names."""
    no_lines = {"major_gridlines": {"visible": False}}
    font = {"color": style.INK, "size": 9, "bold": False}
    drawing.set_x_axis({"min": 0, "max": 1, "name": chart.axis, "name_font": font,
                        "major_tick_mark": "none", "label_position": "none",
                        "line": {"color": style.LINE}, **no_lines})  # fmt: skip
    drawing.set_y_axis({"min": 0, "max": chart.rows, "visible": False, **no_lines})
    drawing.set_plotarea({"layout": {"x": 0.01, "y": 0.02, "width": 0.98, "height": 0.9}})


def _plan(drawing: Drawing, block: Block, chart: Chart) -> None:
    wide, tall = size(block, chart)
    axis = {"min": 0, "max": 1, "visible": False, "major_gridlines": {"visible": False}}
    steps = {"min": 1, "max": FILL_STEPS + 1, "date_axis": True} if chart.fills else {}
    drawing.set_x_axis(axis | steps)
    drawing.set_y_axis(axis | {"max": tall / wide})
    inner = 1 - 2 * _EDGE
    layout = {"x": _EDGE, "y": _EDGE, "width": inner, "height": inner}
    drawing.set_plotarea({"layout": layout, "fill": {"none": True}})  # words under it stay seen


def _points(places: Places, run: Run) -> int:
    """Return how many cells a run has: lines, or the parts of one line."""
    (row, column), (end, last) = (
        places.spots[run.first].at(run.first_line), places.spots[run.last].at(run.last_line)
    )  # fmt: skip
    return 1 + end - row + last - column


def _run(places: Places, run: Run) -> list[str | int]:
    first, last = places.spots[run.first], places.spots[run.last]
    return [first.sheet, *first.at(run.first_line), *last.at(run.last_line)]
