"""How a formula of an item becomes one that reads places: lines counted, heads left out.

An error in a cell is read as an empty one.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from pourtally.model import Size, TemplateError, Units
from pourtally.resolve import Resolver
from ranges import Ranges
from shop import TEMPLATES, laid_out

RANGE = r"(?:Rates!|Workings!|Bands!|Measure!)?\$[A-Z]+\$\d+:\$[A-Z]+\$\d+"


def resolved(formula: str, at: str = "faces.area") -> str:
    """Return a formula as it would stand on the first line of a part, its ranges as R."""
    book, places = laid_out("us", "small")
    block, _, part = book.parts[at]
    made = Resolver(book, places).formula(block, replace(part, formulas=(formula,)), 0)
    return re.sub(r"\$A\d+", "LINE", re.sub(RANGE, "R", made)).removeprefix("=")


@pytest.mark.parametrize(
    ("said", "made"),
    [
        ('MATCH("Red",{finishes.name[]},0)', 'MATCH("Red",R,0)-1'),
        ('IFERROR(MATCH("Red",{finishes.name[]},0),0)', 'IFERROR(MATCH("Red",R,0)-1,0)'),
        ('2*MATCH("Red",{finishes.name[]},0)', '2*(MATCH("Red",R,0)-1)'),
        ('MATCH("Red",{finishes.name[]},0)*2', '(MATCH("Red",R,0)-1)*2'),
        ("MATCH(2,{faces.no[]},0)", "MATCH(2,R,0)"),
        ("COUNTA({finishes.name[]})", "COUNTA(R)-1"),
        ("1-COUNTA({finishes.name[]})", "1-(COUNTA(R)-1)"),
        ("INDEX({finishes.name[]},{line})", 'IFERROR(INDEX(R,LINE+1,1)&"","")'),
        ("INDEX({finishes.name[]},1+({line}>2))", 'IFERROR(INDEX(R,(1+(LINE>2))+1,1)&"","")'),
        ("INDEX({faces.no[]},{line})", "INDEX(R,LINE)"),
        ("INDEX({bands.length[]},2)", "INDEX(R,1,2)"),
        ("INDEX({bands.what[]},2)", 'IFERROR(INDEX(R,1,2+1)&"","")'),
        ("SUM({finishes.shake[]})", "IFERROR(SUM(R),0)"),
        ("SUMIF({faces.no[]},2,{finishes.shake[]})", "IFERROR(SUMIF(R,2,R),0)"),
        ("{finishes.shake}", "IFERROR(N(INDEX(R,LINE+1,1)),0)"),
        ("{!finishes.shake}", "INDEX(R,LINE+1,1)"),
        ("{finishes.name[3]}", 'IFERROR(INDEX(R,4,1)&"","")'),
        ("{usual.thickness}", "IFERROR(N(INDEX(R,1,2)),0)"),
        ("{?finishes.name}", "COUNTA(INDEX(R,LINE+1,1))"),
    ],
)
def test_lines_are_counted_without_the_head(said: str, made: str) -> None:
    assert resolved(said) == made


def test_columns_of_one_call_are_of_one_length() -> None:
    book, places = laid_out("us", "small")
    block, _, part = book.parts["faces.area"]
    said = 'COUNTIFS({faces.no[]},1,{finishes.name[]},"<>",{line[]},">1")'
    made = Resolver(book, places).formula(block, replace(part, formulas=(said,)), 0)
    rows = [int(b) - int(a) for a, b in re.findall(r"\$[A-Z]+\$(\d+):\$[A-Z]+\$(\d+)", made)]
    assert rows == [block.lines + 1] * 3


def test_sumproduct_of_what_is_typed_is_refused_with_the_way_out() -> None:
    with pytest.raises(TemplateError, match=r"faces\.area: SUMPRODUCT takes workings only, and "):
        resolved("SUMPRODUCT({finishes.shake[]}*{faces.no[]})")


@pytest.mark.parametrize("kind", [("us", "usual"), ("si", "usual"), ("us", "small")])
def test_every_range_is_the_whole_of_its_column(kind: tuple[Units, Size]) -> None:
    template = TEMPLATES[kind]
    ranges = Ranges(template.book, {cell.place: cell for cell in template.blank})
    assert [said for cell in template.blank for said in ranges.cut(cell)] == []


def test_a_range_short_by_its_last_line_is_told() -> None:
    template = TEMPLATES["us", "small"]
    ranges = Ranges(template.book, {cell.place: cell for cell in template.blank})
    cell = next(c for c in template.blank if c.part == "total.area")
    found = re.search(r":\$[A-Z]+\$(\d+)", str(cell.content))
    assert found
    short = f"{found[0].removesuffix(found[1])}{int(found[1]) - 1}"
    told = ranges.cut(replace(cell, content=str(cell.content).replace(found[0], short)))
    assert told == ["total.area, line 1: lines 1 to 7 of finish_area.total"]
