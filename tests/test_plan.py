"""The drawing of a job as files of other programs, each read again by a reader that is not ours."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import ezdxf
import pytest
import shapely
from click.testing import CliRunner, Result
from ezdxf.math import bulge_radius
from ezdxf.path import from_hatch_polyline_path
from PIL import Image

import programs
from conftest import JOBS
from pourtally.cli import main
from pourtally.drawn import Area, Drawing
from pourtally.model import Units
from pourtally.outlines import Outline, seen, strips
from pourtally.paper import PAGES, Foot
from pourtally.plan import save
from shop import build, read_jobs, results, sketch

BANDS = """
units = "{units}"
[job]
name = "Smith"
date = 2026-05-14
[[bands]]
what = "Patio"
length = {long}
width = {wide}
inside_across = 2
inside_along = 1
[[bands]]
what = "Side {{50%}} ^ \\\\ court"
length = 10
width = 8
inside_across = 1
[[yard]]
line = "bands_1"
x = 0
y = 0
[[yard]]
line = "bands_2"
x = 30
y = 2
turn = 1
"""
SIZES = {"us": (24.5, 16.75), "si": (24.4, 16.7)}
KINDS = ("dxf", "svg", "pdf", "png")
UNITS = pytest.mark.parametrize("units", ["us", "si"])


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def job(units: str = "us", more: str = "") -> Path:
    long, wide = SIZES[units]
    text = BANDS.format(units=units, long=long, wide=wide)
    Path("smith.toml").write_text(text + more, encoding="utf-8")
    return Path("smith.toml")


def run(*words: str | Path) -> Result:
    result = CliRunner().invoke(main, ["plan", *map(str, words)])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def drawn(path: Path | str, kind: str) -> Path:
    """Draw a job, and return the file."""
    result = run(path, "-o", f"plan.{kind}", "--replace")
    assert (result.exit_code, result.stdout, result.stderr) == (0, f"Wrote plan.{kind}\n", "")
    return Path(f"plan.{kind}")


def read(path: Path) -> Any:
    """Return a DXF file as its library reads it, which finds nothing wrong with it."""
    doc: Any = ezdxf.readfile(path)
    audit = doc.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    return doc


def rings(hatch: Any) -> Iterator[shapely.Polygon]:
    """Yield the loops of a hatch, those that go around it first."""
    for path in sorted(hatch.paths, key=lambda path: not path.path_type_flags & 1):
        yield shapely.Polygon([(x, y) for x, y, _ in path.vertices])


def surface(hatch: Any) -> shapely.Polygon:
    around, *holes = rings(hatch)
    return around.difference(shapely.union_all(holes))


# From strips to outlines ---------------------------------------------------------------


def test_strips_that_meet_are_one_outline_with_a_hole() -> None:
    """A frame of 4 by 3 with a window of 2 by 1: 12 less 2."""
    xs = [0, 1, 1, 3, 3, 4]
    sills = list(strips(xs, [0] * 6, [3, 3, 1, 1, 3, 3]))
    lintels = list(strips(xs, [2] * 6, [0, 0, 1, 1, 0, 0]))
    ((kind, frame),) = seen([("frame", sills + lintels)])
    assert kind == "frame"
    assert set(frame.around) == {(0, 0), (4, 0), (4, 3), (0, 3)}
    assert [set(hole) for hole in frame.holes] == [{(1, 1), (3, 1), (3, 2), (1, 2)}]


def test_what_is_drawn_later_covers_what_is_under_it() -> None:
    """A band of 2 across a square of 10 leaves 20 and 60 of it; slopes are cut where they cross."""
    square = list(strips([0, 10], [0, 0], [10, 10]))
    band = list(strips([2, 4], [0, 0], [10, 10]))
    found = [
        (kind, shapely.Polygon(o.around).area) for kind, o in seen([("s", square), ("b", band)])
    ]
    assert sorted(found) == [("b", 20), ("s", 20), ("s", 60)]
    rising = list(strips([0, 10], [0, 0], [0, 10]))
    falling = list(strips([0, 10], [0, 0], [10, 0]))
    found = [
        (kind, shapely.Polygon(o.around).area) for kind, o in seen([("r", rising), ("f", falling)])
    ]
    assert sorted(found) == [("f", pytest.approx(50)), ("r", pytest.approx(25))]


def test_an_area_without_height_is_none() -> None:
    assert list(strips([0, 5, 5, 9], [1] * 4, [0, 0, 2, 2])) == [((5, 1), (9, 1), (9, 3), (5, 3))]
    assert list(seen([("none", strips([3, 3], [0, 0], [4, 4]))])) == []


# DXF -----------------------------------------------------------------------------------


@UNITS
def test_hatches_have_the_areas_of_the_workbook_by_finish(units: Units) -> None:
    path = job(units)
    doc = read(drawn(path, "dxf"))
    (read_job,), _ = read_jobs([path], None)
    figures = results(units, read_job.entries)
    finishes = dict(zip(figures["finish_area.name"], figures["finish_area.total"], strict=True))
    hatches = {"Plain": 0.0, "Stamped": 0.0}
    for hatch in doc.modelspace().query("HATCH"):
        if hatch.dxf.solid_fill:
            hatches[hatch.dxf.layer] += surface(hatch).area
    assert hatches == pytest.approx(
        {"Plain": finishes["Broomed"], "Stamped": finishes["Stamped"]}, abs=0.001
    )


@UNITS
def test_a_drawing_is_as_large_as_the_yard(units: Units) -> None:
    """The second one, 10 by 8, is turned on its side and stands 30 from the left, 2 up."""
    doc = read(drawn(job(units), "dxf"))
    _, wide = SIZES[units]
    assert doc.header["$INSUNITS"] == {"us": 2, "si": 6}[units]
    assert doc.header["$EXTMIN"] == pytest.approx((0, 0, 0))
    assert doc.header["$EXTMAX"] == pytest.approx((38, wide, 0), abs=1e-5)
    hatches = [surface(h) for h in doc.modelspace().query("HATCH") if h.dxf.solid_fill]
    assert shapely.union_all(hatches).bounds == pytest.approx((0, 0, 38, wide), abs=1e-5)
    side = [h for h in hatches if h.bounds[0] > 29]
    assert shapely.union_all(side).bounds == pytest.approx((30, 2, 38, 12), abs=1e-5)


def test_everything_stands_on_the_layer_of_its_name() -> None:
    doc = read(drawn(JOBS["demo"], "dxf"))
    found = {(e.dxftype(), e.dxf.layer) for e in doc.modelspace()}
    assert found >= {("HATCH", "Plain"), ("HATCH", "Stamped"), ("HATCH", "Stamped pattern"),
                     ("LWPOLYLINE", "Stamped"), ("LWPOLYLINE", "Pieces"), ("LWPOLYLINE", "House"),
                     ("MTEXT", "Names"), ("MTEXT", "Sizes")}  # fmt: skip
    assert {layer for _, layer in found} <= {layer.dxf.name for layer in doc.layers}
    lengths = [shapely.LineString(p.get_points("xy")).length
               for p in doc.modelspace().query("LWPOLYLINE")]  # fmt: skip
    assert min(lengths) > 0.1


@UNITS
def test_strings_are_dashed_where_the_layout_marks_them(units: Units) -> None:
    """The first rectangle lies with its near left corner at 0; a string ends at the border."""
    path = job(units)
    doc = read(drawn(path, "dxf"))
    (read_job,), _ = read_jobs([path], None)
    figures: Any = results(units, read_job.entries)
    strings = doc.modelspace().query("LWPOLYLINE[layer=='String lines']")
    assert {s.dxf.linetype for s in strings} == {"Dashes"}
    assert len(doc.linetypes.get("Dashes").pattern_tags.tags) > 3
    lines = [shapely.LineString(s.get_points("xy")) for s in strings]
    first = [line for line in lines if line.bounds[2] < 29]
    upright = {line.bounds[0]: line.length for line in first if line.bounds[0] > line.bounds[2] - 1}
    level = {line.bounds[1]: line.length for line in first if line.bounds[0] < line.bounds[2] - 1}
    marks_x, marks_y = (
        [mark for mark in figures[f"strings_{way}.near"][:9] if mark] for way in "xy"
    )
    assert sorted(upright) == pytest.approx(marks_x, abs=1e-4)
    assert sorted(level) == pytest.approx(marks_y, abs=1e-4)
    assert list(upright.values()) == pytest.approx(
        [figures["bands.inner_y"][0]] * len(marks_x), abs=1e-4
    )
    assert list(level.values()) == pytest.approx(
        [figures["bands.inner_x"][0]] * len(marks_y), abs=1e-4
    )
    assert marks_x
    (side,) = [line for line in lines if line.bounds[0] > 29]  # on its side: a level one
    assert side.bounds[1] - 2 == pytest.approx(figures["strings_x.near"][9], abs=1e-4)


ROUND = """
[[walks]]
width = 4
[[legs]]
kind = "Straight"
length = 12
[[legs]]
kind = "Bend left"
angle = 180
radius = 8
[[legs]]
kind = "Bend right"
angle = 40
radius = 20
[[pieces]]
shape = "Circle"
a = 12
[[pieces]]
shape = "Ring or arc"
a = 5
b = 7
number = 360
[[curves]]
inner = 14.5
wide = 2
angle = 75
[[outlines]]
what = "Octagon"
[[corners]]
"""
OCTAGON = "\n[[corners]]\n".join(
    f"x = {x}\ny = {y}"
    for x, y in ((3, 0), (7, 0), (10, 3), (10, 7), (7, 10), (3, 10), (0, 7), (0, 3))
)


@UNITS
def test_bends_and_circles_are_arcs_of_the_radius_typed(units: Units) -> None:
    doc = read(drawn(job(units, ROUND + OCTAGON), "dxf"))
    found: dict[str, set[float]] = {}
    for line in doc.modelspace().query("LWPOLYLINE"):
        corners = [(x, y, b) for x, y, b in line.get_points("xyb")]
        for (x, y, bulge), (to_x, to_y, _) in pairwise([*corners, *corners[: line.closed]]):
            if bulge:
                radius = bulge_radius((x, y), (to_x, to_y), bulge)
                found.setdefault(line.dxf.layer, set()).add(round(radius, 3))
    assert found["Walks"] == {6, 10, 18, 22}
    assert found["Pieces"] == {5, 6, 7, 14.5, 16.5}
    assert "Outlines" not in found  # the sides of an octagon are straight, however equal
    assert (found["Plain"], found["Stamped"]) == ({6}, {14.5, 16.5})


@UNITS
def test_a_round_area_is_as_large_as_its_circle(units: Units) -> None:
    doc = read(drawn(job(units, ROUND + OCTAGON), "dxf"))
    (disk,) = (
        path for hatch in doc.modelspace().query("HATCH[layer=='Plain']")
        for path in hatch.paths if len([v for v in path.vertices if v[2]]) == 16
    )  # fmt: skip
    flat = shapely.Polygon([(v.x, v.y) for v in from_hatch_polyline_path(disk).flattening(1e-4)])
    assert flat.area == pytest.approx(math.pi * 36, rel=1e-4)


@pytest.mark.parametrize(
    ("units", "slope", "said"),
    [("us", 0.25, 'falls 1/4" per ft'), ("us", 1.125, 'falls 1 1/8" per ft'),
     ("us", 1, 'falls 1" per ft'), ("si", 20, "falls 2 %"), ("si", 12.5, "falls 1.3 %")],
)  # fmt: skip
def test_an_arrow_says_how_much_it_falls(units: Units, slope: float, said: str) -> None:
    doc = read(drawn(job(units, f"[usual]\nslope = {slope}\n"), "dxf"))
    words = [text.plain_text() for text in doc.modelspace().query("MTEXT[layer=='Slope']")]
    assert words == [said, said]


def test_names_come_through_whatever_signs_they_hold() -> None:
    doc = read(drawn(job(), "dxf"))
    words = {text.plain_text() for text in doc.modelspace().query("MTEXT")}
    assert any("Side {50%} ^ \\ court" in said for said in words), words
    assert any(said.startswith("Patio") for said in words)


def test_the_page_in_it_shows_the_drawing_at_its_scale() -> None:
    doc = read(drawn(job(), "dxf"))
    page = doc.layouts.get("Letter")
    (window,) = [v for v in page.query("VIEWPORT") if v.dxf.status > 1 or v.dxf.id > 1]
    told = {text.dxf.text for text in page.query("TEXT")}
    assert "Smith" in told
    (about,) = [text for text in told if " in = 1 ft" in text]
    inches = re.search(r"·  (\d+)/(\d+) in = 1 ft$", about)
    assert inches
    assert window.dxf.height / window.dxf.view_height == pytest.approx(
        int(inches[1]) / int(inches[2])
    )


# Pages ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "units", "words"),
    [
        ((9, 6), "us", "1 in = 1 ft"), ((20, 12), "us", "1/2 in = 1 ft"),
        ((26, 10), "us", "3/8 in = 1 ft"), ((5, 3), "us", "1 1/2 in = 1 ft"),
        ((400, 90), "us", "1 in = 40 ft"), ((12, 8), "si", "1:50"), ((13, 8), "si", "1:50"),
        ((14, 3), "si", "1:100"),
    ],
)  # fmt: skip
def test_a_page_takes_the_largest_usual_scale_that_fits(
    size: tuple[float, float], units: Units, words: str
) -> None:
    """Letter leaves 10.2 by 6.8 inches, A4 277 by 167.5 millimeters."""
    assert PAGES[units].scale(lambda _: size).words == words


@pytest.mark.parametrize(("units", "wide", "tall"), [("us", 792, 612), ("si", 841.89, 595.28)])
def test_a_pdf_is_one_page_of_its_country(units: Units, wide: float, tall: float) -> None:
    told = programs.asked("pdfinfo", drawn(job(units), "pdf"))
    assert re.search(r"Pages: +1\n", told)
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+) pts", told)
    assert size
    assert [float(side) for side in size.groups()] == pytest.approx([wide, tall], abs=0.1)


@pytest.mark.parametrize(("units", "size"), [("us", (1650, 1275)), ("si", (1753, 1240))])
def test_a_png_shows_areas_to_scale(units: Units, size: tuple[int, int]) -> None:
    """What is plain has one color: its pixels, at 150 an inch, are its square feet."""
    path = job(units)
    page = sketch(path)
    with Image.open(drawn(path, "png")) as picture:
        assert picture.size == size
        counted = {color: n for n, color in picture.convert("RGB").getcolors(9999) or []}
    doc = read(drawn(path, "dxf"))
    plain = sum(surface(h).area for h in doc.modelspace().query("HATCH[layer=='Plain']"))
    paper = PAGES[units]
    scale = paper.scale(lambda length: extent(page.drawing, paper.letters / length))
    dots = 150 * scale.length * paper.millimeters / 25.4
    # words stand on white, so a little less is seen than there is
    assert 0.92 <= counted[0xEA, 0xE6, 0xDC] / (plain * dots**2) <= 1.02


def extent(drawing: Drawing, letters: float) -> tuple[float, float]:
    (left, low), (right, high) = drawing.box(letters)
    return right - left, high - low


def test_an_svg_is_the_same_page() -> None:
    root = ET.parse(drawn(job(), "svg")).getroot()
    assert (root.get("width"), root.get("height")) == ("279.4mm", "215.9mm")
    colors = set(re.findall(r"fill: (#\w+)", Path("plan.svg").read_text("utf-8")))
    assert {"#eae6dc", "#a9683f"} <= colors


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_drawing_is_the_same_file(kind: str) -> None:
    first = drawn(job(), kind).read_bytes()
    assert drawn(job(), kind).read_bytes() == first


def test_every_fill_can_be_drawn(tmp_path: Path) -> None:
    square = Outline(((0, 0), (4, 0), (4, 4), (0, 4)))
    areas = [Area("All", fill, square) for fill in ("paper", "light", "middle", "strong", "dark")]
    save(tmp_path / "all.png", Drawing(tuple(areas), (), ()), "us", Foot("All", ()))
    assert (tmp_path / "all.png").stat().st_size > 1000


# The command ---------------------------------------------------------------------------


def test_a_workbook_is_drawn_as_its_job_file() -> None:
    path = job()
    from_file = drawn(path, "dxf").read_bytes()
    (made,), _ = read_jobs([path], None)
    build("us", made.entries, Path("smith.xlsx"))
    assert drawn("smith.xlsx", "dxf").read_bytes() == from_file


def test_a_job_with_a_stop_is_drawn_and_says_so() -> None:
    path = job(more='[[pieces]]\nshape = "Rectangle"\na = 5\n')
    result = run(path, "-o", "new/plan.dxf")
    assert result.exit_code == 1
    assert result.stdout == "Wrote new/plan.dxf\n"
    assert "A slab piece has no area" in result.stderr
    told = {t.dxf.text for t in read(Path("new/plan.dxf")).layouts.get("Letter").query("TEXT")}
    assert any(t.startswith("Not to build from yet: STOP open on Checks: ") for t in told)


def nothing_measured() -> Path:
    Path("empty.toml").write_text('units = "us"\n', encoding="utf-8")
    return Path("empty.toml")


def wrong_entry() -> Path:
    return job(more="[[pieces]]\nshape = 5\n")


def no_workbook() -> Path:
    Path("no.xlsx").write_text("words", encoding="utf-8")
    return Path("no.xlsx")


@pytest.mark.parametrize(
    ("path", "out", "code", "told"),
    [
        (job, "plan.gif", 2, "plan.gif: expected a file whose name ends in .svg, .pdf, .dxf, .png"),
        (job, "there.svg", 2, "there.svg: there already, nothing was written"),
        (nothing_measured, "plan.svg", 2, "empty.toml: nothing to draw yet: fill in"),
        (wrong_entry, "plan.svg", 1, "1 problem found; nothing was written"),
        (no_workbook, "plan.svg", 1, "no.xlsx: "),
        (lambda: Path("gone.toml"), "plan.svg", 1, "gone.toml: "),
        (lambda: Path("gone.xlsx"), "plan.svg", 1, "gone.xlsx: "),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_told_and_nothing_is_written(
    path: Callable[[], Path], out: str, code: int, told: str
) -> None:
    Path("there.svg").write_text("mine", encoding="utf-8")
    where = path()
    before = sorted(Path().iterdir())
    result = run(where, "-o", out)
    assert result.exit_code == code
    assert told in result.stderr
    assert sorted(Path().iterdir()) == before
    assert Path("there.svg").read_text("utf-8") == "mine"


@pytest.mark.parametrize("library", ["ezdxf", "matplotlib", "shapely"])
def test_without_the_extra_one_line_says_how_to_get_it(library: str) -> None:
    code = f"import sys; sys.modules[{library!r}] = None; from pourtally.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "plan", job(), "-o", "plan.svg"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == (
        f"drawing needs {library}, which is not installed: pip install '.[plan]'\n"
    )
    assert not Path("plan.svg").exists()
