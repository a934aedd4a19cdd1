"""A block's drawings: line charts over the cells it names.

The file's writer makes the chart; this room says what is in it and where it stands.
"""

from __future__ import annotations

from typing import Any

from . import style
from .model import Block, Chart, Run
from .place import LABEL_COLUMN, Places, Stand

_SMALL, _LARGE = 172, 340  # pixels of a drawing: square, so that both axes have one scale
_WIDE, _ROW = 1200, 20  # pixels of a timeline, and of each row it stands over

Drawing = Any
"""A scatter chart of the writing library, which has no types."""

KIND = {"type": "scatter", "subtype": "straight"}


def draw(drawing: Drawing, places: Places, block: Block, chart: Chart) -> None:
    """Put the lines, axes and size of a declared chart into an empty scatter chart."""
    _lines(drawing, places, chart)
    if chart.axis:
        _timeline(drawing, block, chart)
    else:
        _plan(drawing, block)


def corner(places: Places, stand: Stand, chart: Chart) -> tuple[int, int]:
    """Return the row and column where a drawing's upper left corner stands."""
    if chart.axis:
        return stand.head_row - stand.block.drawing_rows, LABEL_COLUMN
    if stand.block.shape == "across":
        return stand.head_row + 1, LABEL_COLUMN + chart.line
    right = LABEL_COLUMN + len(stand.parts) + 1
    column = places.spots[chart.column].column if chart.column else right
    return stand.first_row + chart.line - 1, column


def _lines(drawing: Drawing, places: Places, chart: Chart) -> None:
    for series in chart.series:
        ranges = {"categories": _run(places, series.x), "values": _run(places, series.y)}
        line = {"color": style.TONES[series.tone], "width": series.width}
        told = {**ranges, "line": line, "marker": {"type": "none"}}
        if series.name:
            sheet, row, column, *_ = _run(places, series.name)
            told["name"] = [sheet, row, column]
            last = series.x.last_line - series.x.first_line
            hidden = [{"delete": True}] * last
            font = {"color": style.INK, "size": 9}
            told["data_labels"] = {"series_name": True, "value": False,
                                   "position": "right" if chart.axis else "above",
                                   "custom": [*hidden, None], "font": font}  # fmt: skip
        drawing.add_series(told)
    drawing.show_hidden_data()  # what it draws stands on Workings, whose rows may be hidden
    drawing.set_legend({"none": True})
    drawing.set_title({"none": True})
    drawing.set_chartarea({"border": {"none": True}, "fill": {"none": True}})


def _timeline(drawing: Drawing, block: Block, chart: Chart) -> None:
    """Draw lines over a level axis from 0 to 1; they bring their own hours and names."""
    no_lines = {"major_gridlines": {"visible": False}}
    font = {"color": style.INK, "size": 9, "bold": False}
    drawing.set_x_axis({"min": 0, "max": 1, "name": chart.axis, "name_font": font,
                        "major_tick_mark": "none", "label_position": "none",
                        "line": {"color": style.LINE}, **no_lines})  # fmt: skip
    drawing.set_y_axis({"min": 0, "max": chart.rows, "visible": False, **no_lines})
    drawing.set_size({"width": _WIDE, "height": block.drawing_rows * _ROW - 6})
    drawing.set_plotarea({"layout": {"x": 0.01, "y": 0.02, "width": 0.98, "height": 0.9}})


def _plan(drawing: Drawing, block: Block) -> None:
    side = _LARGE if block.shape in ("table", "words") else _SMALL
    axis = {"min": 0, "max": 1, "visible": False, "major_gridlines": {"visible": False}}
    drawing.set_x_axis(axis)
    drawing.set_y_axis(axis)
    drawing.set_size({"width": side, "height": side})
    layout = {"x": 0.04, "y": 0.04, "width": 0.92, "height": 0.92}
    drawing.set_plotarea({"layout": layout, "fill": {"none": True}})  # words under it stay seen


def _run(places: Places, run: Run) -> list[str | int]:
    first, last = places.spots[run.first], places.spots[run.last]
    return [first.sheet, *first.at(run.first_line), *last.at(run.last_line)]
