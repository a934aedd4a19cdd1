"""Pages whose cells stand where each says, and drawings that are piled up and repeated."""

from __future__ import annotations

import copy
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from pourtally.load import make_book
from pourtally.model import TemplateError
from pourtally.template import Template
from pourtally.write import write
from shop import tables

POINTS = [
    {"key": "x", "label": "x", "formula": "1+{line}*2", "quantity": "count"},
    {"key": "high", "label": "High", "formula": "{line}/2"},
]
PILE = [
    {"words": "Filled", "wide": 300, "tall": 200, "fills": True, "at": "B9",
     "series": [{"x": "dots.x[]", "y": "dots.high[]", "fill": "strong"}]},
    {"words": "Outline", "wide": 300, "tall": 200, "over": True,
     "series": [{"x": "dots.x[]", "y": "dots.high[]", "layer": "Edge"}]},
]  # fmt: skip
FIRST = {"key": "words", "label": "Words", "text": ["Area", "Volume"], "at": "B3", "span": 3}
CARD = {
    "key": "leaf", "sheet": "Card", "title": "Card", "shape": "page", "lines": 2,
    "field": [
        FIRST,
        {"key": "big", "label": "Big", "formula": "{line}*2", "at": "F3", "role": "big"},
        {"key": "half", "label": "Half", "formula": "{big}/2", "working": True},
    ],
    "chart": PILE,
}  # fmt: skip
DOTS = {"key": "dots", "sheet": "Workings", "title": "Dots", "shape": "table", "lines": 2,
        "field": POINTS}  # fmt: skip
AGAIN = {"key": "again", "sheet": "Card", "title": "Again", "shape": "table", "lines": 1,
         "at": "B20", "untitled": True,
         "field": [{"key": "said", "label": "Said", "formula": "2", "span": 2},
                   {"key": "more", "label": "More", "formula": "2"}],
         "chart": [{"words": "Once more", "same": "leaf", "wide": 150, "at": "H3"}]}  # fmt: skip


def made(*blocks: dict[str, Any]) -> Template:
    """Return the whole template with one sheet more."""
    sheets, measures, items = tables()
    sheets, items = copy.deepcopy(sheets), dict(items)
    page = {"name": "Card", "title": "Card", "intro": "", "bare": True, "columns": [2, *[9] * 6]}
    sheets["sheet"].insert(1, page)
    items["99-leaf.toml"] = {"block": [copy.deepcopy(block) for block in blocks]}
    return Template(make_book("us", sheets, measures, dict(sorted(items.items())), True, "small"))


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    template = made(DOTS, CARD, AGAIN)
    cells, values = template.work_out({})
    path = tmp_path_factory.mktemp("card") / "leaf.xlsx"
    write(template.book, template.places, cells, values, path)
    return path


def test_cells_stand_where_they_say_and_run_over_their_columns(path: Path) -> None:
    page = openpyxl.load_workbook(path, data_only=True)["Card"]
    told = {c.coordinate: c.value for row in page.iter_rows() for c in row if c.value is not None}
    drawn = {"B3": "Area", "B4": "Volume", "F3": 2, "F4": 4}
    assert {key: told[key] for key in drawn} == drawn
    below = {"B20": "Said", "D20": "More", "B21": 2, "D21": 2}
    assert {key: str(told[key]).strip("\N{NO-BREAK SPACE}") for key in below} == {
        key: str(value) for key, value in below.items()
    }
    ways = {"I1", "I2", "I3"}  # to the sheets beside it and to the first
    assert set(told) == {*drawn, *below, *ways}
    merged = {str(one) for one in page.merged_cells.ranges}
    assert merged == {"B3:D3", "B4:D4", "B20:C20", "B21:C21"}
    assert [round(page.column_dimensions[c].width) for c in "AB"] == [3, 10]


def test_a_link_may_name_a_line_by_its_code_or_its_number() -> None:
    book = made(DOTS).book
    assert book.pointed("bands.length") == ("bands.length", 0)
    assert book.pointed("mixes.waste[2]") == ("mixes.waste", 1)
    key, line = book.pointed("prices.price[stakes]")
    assert (key, book.parts[key][0].codes[line]) == ("prices.price", "stakes")
    for wrong in ("prices.prise", "prices.price[stake]", "mixes.waste[0]", "mixes.waste[99]"):
        with pytest.raises(LookupError):
            book.pointed(wrong)


def test_drawings_of_a_pile_stand_at_one_place_and_are_repeated_smaller(path: Path) -> None:
    charts = openpyxl.load_workbook(path)["Card"]._charts
    assert [(c.anchor._from.row, c.anchor._from.col) for c in charts] == [
        (8, 1), (8, 1), (2, 7), (2, 7),
    ]  # fmt: skip
    with zipfile.ZipFile(path) as file:
        names = [n for n in file.namelist() if "/charts/chart" in n]
        drawn = [file.read(n).decode() for n in names]
    filled = [xml for xml in drawn if "areaChart" in xml and "Card" not in xml]
    assert len(filled) >= 2
    for xml in filled[:2]:  # the same scale both ways: two thirds as tall as wide
        assert '<c:max val="10001"/>' in xml
        assert '<c:max val="0.666' in xml


@pytest.mark.parametrize(
    ("block", "told"),
    [
        ({"field": [{**FIRST, "at": "3"}]}, "at '3'"),
        (
            {"field": [{"key": "e", "label": "E", "entry": "text", "at": "B3"}]},
            "an entry on a page",
        ),
        ({"chart": PILE[1:]}, "stands over none"),
        ({"chart": [{"words": "x", "same": "dots", "wide": 9}]}, "is the same as those of 'dots'"),
        ({"chart": [{**PILE[0], "fills": False}]}, "fill 'strong'"),
    ],
)
def test_what_does_not_stand_as_it_should_is_told(block: dict[str, Any], told: str) -> None:
    with pytest.raises(TemplateError, match=told):
        made(DOTS, CARD | block)
