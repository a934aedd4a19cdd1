"""A drawing to a file: DXF with layers, and from the same document SVG, PDF and PNG.

The only room that needs the extra ``plan``: ezdxf writes and draws, matplotlib brings the page
to PDF and PNG, and the one font that all pages are written in.
"""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import ezdxf
import matplotlib as mpl
from ezdxf import colors, options, units
from ezdxf.addons.drawing import Frontend, RenderContext, layout, svg
from ezdxf.addons.drawing.config import BackgroundPolicy, Configuration
from ezdxf.addons.drawing.matplotlib import MatplotlibBackend
from ezdxf.enums import TextEntityAlignment as Align
from ezdxf.fonts import fonts
from ezdxf.lldxf import const
from ezdxf.lldxf.const import VALID_DXF_LINEWEIGHTS
from ezdxf.math import BoundingBox2d
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure

from . import style
from .arcs import Chord, along, chords
from .drawn import Area, Box, Drawing, Label, Line
from .model import Units
from .outlines import Outline
from .paper import PAGES, Foot, Page, Scale

DOTS = 150  # an inch, in a PNG
_POINT = 25.4 / 72  # millimeters
_INCH = 25.4
_WINDOW, _PAGE, _DASHED = "Window", "Page", "Dashes"
_PATTERN = " pattern"  # after the name of a layer: what is drawn on its areas

Document = Any
"""A drawing of the drawing library, and any of its layouts: half of them have no types."""


def save(path: Path, drawing: Drawing, system: Units, foot: Foot) -> None:
    """Write a drawing to ``path`` as the kind of file that its name ends in."""
    path.write_bytes(made(path.suffix, drawing, system, foot))


def made(ending: str, drawing: Drawing, system: Units, foot: Foot) -> bytes:
    """Return a drawing as the bytes of a file whose name ends so."""
    kept, dice = options.write_fixed_meta_data_for_testing, random.getstate()
    options.write_fixed_meta_data_for_testing = True  # else no two files would be the same
    random.seed(0)  # patterns begin a hair off their start, by chance
    try:
        doc = document(drawing, system, foot)
        return _MAKERS[ending.lower()](doc, PAGES[system])
    finally:
        options.write_fixed_meta_data_for_testing = kept
        random.setstate(dice)


def document(drawing: Drawing, system: Units, foot: Foot) -> Document:
    """Return a document with the drawing at true size, and a page of it to print."""
    doc: Document = ezdxf.new("R2010", units=units.FT if system == "us" else units.M)
    doc.styles.get("Standard").dxf.font = "arial.ttf"
    page = PAGES[system]
    scale = page.scale(lambda length: _size(drawing.box(page.letters / length)))
    large = 1 / scale.length
    dash = large * page.letters / 2
    doc.header["$PSLTSCALE"] = 0  # dashes are as long on the page as beside it
    doc.linetypes.add(_DASHED, [2 * dash, dash, -dash], description="Strings")
    _layers(doc, drawing)
    space = doc.modelspace()
    ends = [(*corner, 0) for corner in drawing.extent or drawing.box(0)]
    space.reset_extents(*ends)
    doc.header["$EXTMIN"], doc.header["$EXTMAX"] = ends  # a corner at 0 is not taken over
    _model(space, drawing, large, page)
    _printed(doc, drawing, page, scale, foot)
    return doc


def _size(box: Box) -> tuple[float, float]:
    return box[1][0] - box[0][0], box[1][1] - box[0][1]


def _layers(doc: Document, drawing: Drawing) -> None:
    """Make a layer for everything that has a name of its own, in its color."""
    doc.layers.add(_PAGE, true_color=_color(style.INK))
    doc.layers.add(_WINDOW, plot=False)
    for name, first in drawing.layers.items():
        ground, pattern = _fill(first.fill) if isinstance(first, Area) else (_ink(first), "")
        layer = doc.layers.get(name) if name in doc.layers else doc.layers.add(name)
        layer.rgb = colors.RGB.from_hex(ground)
        if pattern:
            doc.layers.add(name + _PATTERN, true_color=_color(pattern))


def _ink(one: Line | Label) -> str:
    return style.TONES[one.tone] if isinstance(one, Line) else style.INK


def _fill(name: str) -> tuple[str, str]:
    """Return the colors of an area and of the pattern on it, if it has one."""
    told = style.FILLS[name]
    if "pattern" in told:
        return told["pattern"]["bg_color"], told["pattern"]["fg_color"]
    return told["fill"]["color"], ""


def _color(text: str) -> int:
    return colors.rgb2int(colors.RGB.from_hex(text))


def _model(space: Document, drawing: Drawing, large: float, page: Page) -> None:
    """Draw all of it; what has a size on the page is ``large`` times as large here."""
    arcs = chords(line.points for line in drawing.lines if line.round)
    for area in drawing.areas:
        _hatch(space, area, large * page.letters, arcs)
        for loop in (area.outline.around, *area.outline.holes):
            _polyline(space, Line(area.layer, "dark", 0.5, (*loop, loop[0])), arcs)
    for line in drawing.lines:
        _polyline(space, line)
    for label in drawing.labels:
        _plate(space, label, large * page.letters)


def _hatch(space: Document, area: Area, gap: float, arcs: Sequence[Chord] = ()) -> None:
    """Fill an area, and draw the pattern on it on a layer of its own."""
    ground, pattern = _fill(area.fill)
    several = [(area.layer, ground)] + ([(area.layer + _PATTERN, pattern)] if pattern else [])
    for layer, color in several:
        hatch = space.add_hatch(dxfattribs={"layer": layer, "true_color": _color(color)})
        if color == pattern:
            told = style.FILLS[area.fill]["pattern"]["pattern"]
            hatch.set_pattern_fill(told.upper(), definition=_PATTERNS[told](gap), style=0)
            hatch.rgb = colors.RGB.from_hex(color)
        hatch.paths.add_polyline_path([*along(area.outline.around, arcs)], is_closed=True)
        for hole in area.outline.holes:
            hatch.paths.add_polyline_path([*along(hole, arcs)], is_closed=True, flags=0)


_PATTERNS: dict[str, Callable[[float], list[Any]]] = {
    "light_horizontal": lambda gap: [[0, (0, 0), (0, gap * 0.6), []]],
    "percent_20": lambda gap: [[0, (0, 0), (gap * 0.4, gap * 0.8), [gap * 0.12, -gap * 0.68]]],
    "wide_upward_diagonal": lambda gap: [[45, (0, 0), (-gap * 0.6, gap * 0.6), []]],
}
"""The lines of each pattern: their angle, start, step to the next, and dashes."""


def _polyline(space: Document, line: Line, arcs: Sequence[Chord] = ()) -> None:
    closed = line.points[0] == line.points[-1] and len(line.points) > 3
    width = 100 * line.width * _POINT
    told = {"layer": line.layer, "true_color": _color(style.TONES[line.tone]),
            "lineweight": min(VALID_DXF_LINEWEIGHTS, key=lambda w: abs(w - width)),
            "linetype": _DASHED if line.dashed else "BYLAYER"}  # fmt: skip
    own = chords([line.points]) if line.round else arcs
    corners = [*along(line.points[:-1] if closed else line.points, own)]
    space.add_lwpolyline(corners, format="xyb", close=closed, dxfattribs=told)


def _words(
    space: Document, words: str, at: tuple[float, float], height: float, layer: str = _PAGE,
    align: Align = Align.LEFT, color: str = style.INK,
) -> None:  # fmt: skip
    told = {"layer": layer, "true_color": _color(color)}
    space.add_text(words, height=height, dxfattribs=told).set_placement(at, align=align)


_SIDES = {
    "above": const.MTEXT_BOTTOM_CENTER,
    "below": const.MTEXT_TOP_CENTER,
    "left": const.MTEXT_MIDDLE_RIGHT,
    "right": const.MTEXT_MIDDLE_LEFT,
    "center": const.MTEXT_MIDDLE_CENTER,
}
"""Which part of words stands at their point."""


def _plate(space: Document, label: Label, height: float) -> None:
    """Write words on a white ground, so that they are read on any area."""
    words = label.words.replace("\\", "\\\\").replace("{", "\\{").replace("}", "\\}")
    told = {"layer": label.layer, "char_height": height, "attachment_point": _SIDES[label.side]}
    coded = "\\W1;" + words.replace("^", "^ ")  # without any code the ground is not drawn
    text = space.add_mtext(coded, dxfattribs=told)
    text.set_location(label.at)
    text.set_bg_color((255, 255, 255), scale=1.3)


def _printed(doc: Document, drawing: Drawing, page: Page, scale: Scale, foot: Foot) -> None:
    """Lay out the page: a window on the drawing, and under a line what it is."""
    space = doc.layouts.get("Layout1")
    doc.layouts.rename("Layout1", page.name)
    space.page_setup(size=page.size, margins=(0,) * 4, name=page.name,
                     units="inch" if page.millimeters > 1 else "mm")  # fmt: skip
    (wide, tall), edge = page.room, page.margin
    low, high = drawing.box(page.letters / scale.length)
    middle = (low[0] + high[0]) / 2, (low[1] + high[1]) / 2
    space.add_viewport(
        center=(edge + wide / 2, edge + page.foot + tall / 2), size=page.room,
        view_center_point=middle, view_height=tall / scale.length, dxfattribs={"layer": _WINDOW},
    )  # fmt: skip
    top = edge + page.foot
    space.add_line((edge, top), (edge + wide, top), dxfattribs={"layer": _PAGE})
    letters = page.letters
    _words(space, foot.title, (edge, top - 2.6 * letters), letters * 1.6)
    about = "  ·  ".join((*foot.about, scale.words))
    _words(space, about, (edge, top - 4.9 * letters), letters)
    _words(space, foot.warning, (edge, top - 7 * letters), letters, color=style.STOP)
    _legend(space, drawing, page, (edge + wide * 0.48, top - 2.6 * letters))
    _bar(space, page, scale, (edge + wide, top - 2.6 * letters))


def _legend(space: Document, drawing: Drawing, page: Page, at: tuple[float, float]) -> None:
    """Say which area is what, two under one another."""
    side = page.letters * 1.2
    layers = {area.layer: area.fill for area in drawing.areas}
    for number, (layer, fill) in enumerate(layers.items()):
        x, y = at[0] + number // 2 * side * 10, at[1] - number % 2 * side * 1.9
        square = ((x, y), (x + 2 * side, y), (x + 2 * side, y + side), (x, y + side))
        _hatch(space, Area(layer, fill, Outline(square)), page.letters)
        _polyline(space, Line(_PAGE, "mid", 0.5, (*square, square[0])))
        _words(space, layer, (x + 2.6 * side, y + side * 0.1), page.letters)


def _bar(space: Document, page: Page, scale: Scale, end: tuple[float, float]) -> None:
    """Draw a bar of two round steps that ends at a place, the first one filled."""
    step, letters = page.step(scale), page.letters
    unit = "ft" if page is PAGES["us"] else "m"
    x, y = end[0] - 2 * step * scale.length - 3 * letters, end[1]
    for number in range(2):
        left, right = (x + step * scale.length * (number + n) for n in range(2))
        square = ((left, y), (right, y), (right, y + letters * 0.6), (left, y + letters * 0.6))
        if not number:
            _hatch(space, Area(_PAGE, "dark", Outline(square)), letters)
        _polyline(space, Line(_PAGE, "dark", 0.5, (*square, square[0])))
    for number in range(3):
        told = f"{number * step}" + (f" {unit}" if number == 2 else "")
        at = x + number * step * scale.length, y - letters * 1.7
        _words(space, told, at, letters, align=Align.CENTER)


def _render(doc: Document, page: Page, backend: Any, width: float = 1.0) -> None:
    """Draw the page of a document in the one font there is for it; ``width`` is a millimeter."""
    _one_font()
    config = Configuration(
        background_policy=BackgroundPolicy.WHITE, min_lineweight=0.05, lineweight_scaling=width
    )
    Frontend(RenderContext(doc), backend, config=config).draw_layout(doc.layouts.get(page.name))


def _one_font() -> None:
    """Leave the drawing library one font, so that a page is the same on every machine."""
    name = "DejaVuSans.ttf"
    if not fonts.font_manager.has_font(name) or fonts.font_manager.has_font("arial.ttf"):
        fonts.font_manager.clear()
        fonts.font_manager.build([str(Path(mpl.get_data_path()) / "fonts" / "ttf")], False)


def _dxf(doc: Document, page: Page) -> bytes:
    text = io.StringIO()
    doc.write(text)
    return text.getvalue().encode(doc.output_encoding)


def _svg(doc: Document, page: Page) -> bytes:
    backend = svg.SVGBackend()
    _render(doc, page, backend)
    wide, tall = (side * page.millimeters for side in page.size)
    text = backend.get_string(
        layout.Page(wide, tall, layout.Units.mm), settings=layout.Settings(fit_page=True),
        render_box=BoundingBox2d([(0, 0), page.size]),
    )  # fmt: skip
    return text.encode()


def _figure(doc: Document, page: Page) -> Figure:
    inches = [side * page.millimeters / _INCH for side in page.size]
    figure = Figure(figsize=(inches[0], inches[1]), dpi=DOTS)
    axes = figure.add_axes((0, 0, 1, 1))
    _render(doc, page, MatplotlibBackend(axes, adjust_figure=False), 1 / _POINT)
    axes.set(xlim=(0, page.size[0]), ylim=(0, page.size[1]), aspect="auto")
    return figure


def _pdf(doc: Document, page: Page) -> bytes:
    out = io.BytesIO()
    FigureCanvasPdf(_figure(doc, page)).print_pdf(out, metadata={"CreationDate": None})
    return out.getvalue()


def _png(doc: Document, page: Page) -> bytes:
    out = io.BytesIO()
    FigureCanvasAgg(_figure(doc, page)).print_png(out)
    return out.getvalue()


_MAKERS: dict[str, Callable[[Document, Page], bytes]] = {
    ".svg": _svg,
    ".pdf": _pdf,
    ".dxf": _dxf,
    ".png": _png,
}
