"""Mistakes in the files of the trade: each is named, with the place and what to do."""

from __future__ import annotations

import copy
import tomllib
from dataclasses import replace
from typing import Any

import pytest

from pourtally import template
from pourtally.cause import inputs
from pourtally.files import templates_folder
from pourtally.grid import Cell
from pourtally.load import make_book
from pourtally.model import Book, TemplateError
from pourtally.recalc import RecalcError
from pourtally.template import Template, Templates
from shop import load_book

Table = dict[str, Any]
FOLDER = templates_folder()
SHEETS = tomllib.loads((FOLDER / "sheets.toml").read_text("utf-8"))
UNITS = tomllib.loads((FOLDER / "units.toml").read_text("utf-8"))
SOUND = """
[[block]]
key = "walls"
sheet = "Measure"
title = "Walls"
shape = "table"
lines = 3
[[block.field]]
key = "long"
label = "Length"
entry = "length"
max = 100
[[block.field]]
key = "high"
label = "Height"
entry = "number"
quantity = "length"
min = 0
max = 12
[[block.field]]
key = "face"
label = "Face"
formula = "{long}*{high}"
quantity = "area"
[[block.field]]
key = "order"
label = "Boards"
formula = "ROUNDUP(ROUND({face},6),0)"
order = true
[[block]]
key = "whole"
sheet = "Measure"
title = "Whole"
shape = "form"
[[block.field]]
key = "face"
label = "All faces"
formula = "SUM({walls.face[]})"
quantity = "area"
[[check]]
key = "none"
level = "look"
count = "N({whole.face}=0)"
say = "No wall has a face."
at = "walls.long"
[[block]]
key = "checks"
sheet = "Checks"
title = "Checks"
shape = "table"
collect = "check"
[[block.field]]
key = "say"
label = "What"
from = "say"
[[block.field]]
key = "count"
label = "How many"
from = "count"
[[block.field]]
key = "at"
label = "Go to"
from = "at"
role = "link"
"""


def made(text: str) -> Book:
    return make_book(
        "us", copy.deepcopy(SHEETS), copy.deepcopy(UNITS), {"w.toml": tomllib.loads(text)}
    )


def test_a_sound_file_loads_and_its_consequences_follow() -> None:
    parts = made(SOUND).parts
    assert {"walls.long.ft", "walls.long.in", "walls.long", "walls.order.yours"} <= set(parts)
    limits = [t[2] for k, t in parts.items() if k == "limits.at"]
    assert "walls.high" in limits[0].values
    assert parts["checks.count"][2].formulas == ("N(N({whole.face}=0))",)


MISTAKES = {
    "an unknown key of a block": (
        'title = "Walls"',
        'titel = "Walls"\ntitle = "Walls"',
        "w.toml: block: unknown key 'titel'; did you mean 'title'?",
    ),
    "an unknown key of a field": (
        "max = 12",
        "max = 12\nmin_ = 1",
        "field high: unknown key 'min_'; did you mean 'min'?",
    ),
    "a field that is nothing": (
        'formula = "{long}*{high}"\n',
        "",
        "field face: needs exactly one of entry, formula",
    ),
    "a field that is two things": (
        'formula = "{long}*{high}"',
        'formula = "{long}"\ntext = "x"',
        "needs exactly one of",
    ),
    "a quantity nobody declared": (
        'formula = "{long}*{high}"\nquantity = "area"',
        'formula = "{long}"\nquantity = "aera"',
        "quantity 'aera' is not in units.toml",
    ),
    "a reference to nothing": (
        "{long}*{high}",
        "{lnog}*{high}",
        "walls.face: {lnog} names no part; did you mean 'long'?",
    ),
    "a column without its brackets": (
        "SUM({walls.face[]})",
        "SUM({walls.face})",
        "has 3 lines and this block does not share them; write []",
    ),
    "a column in plain arithmetic": (
        "SUM({walls.face[]})",
        "{walls.face[]}*2",
        "whole.face: a whole column stands in plain arithmetic",
    ),
    "a column in a function for one": (
        "SUM({walls.face[]})",
        "ABS({walls.face[]})",
        "a whole column stands in ABS",
    ),
    "an entry of no kind": (
        'entry = "number"',
        'entry = "numbr"',
        "field high: entry 'numbr'; did you mean 'number'?",
    ),
    "a number without limits": (
        "min = 0\nmax = 12\n",
        "",
        "field high: a number needs min and max",
    ),
    "a circle": ("{long}*{high}", "{long}*{whole.face}", "circular: "),
    "a sheet that is not there": (
        'sheet = "Measure"\ntitle = "Whole"',
        'sheet = "Mesure"\ntitle = "Whole"',
        "whole: sheet 'Mesure' is not in sheets.toml; did you mean 'Measure'?",
    ),
    "a shape that is none": (
        'shape = "form"',
        'shape = "froms"',
        "whole: shape 'froms'; expected one of form, table",
    ),
    "a look that is none": (
        'formula = "{long}*{high}"',
        'formula = "{long}*{high}"\nrole = "reslt"',
        "walls.face: role 'reslt'; did you mean 'result'?",
    ),
    "a check of no kind": ('level = "look"', 'level = "lok"', "w.toml: check none: lacks level"),
    "a check without words": ('say = "No wall has a face."\n', "", "w.toml: check none: lacks"),
    "a check that leads nowhere": (
        'at = "walls.long"',
        'at = "walls.logn"',
        "checks.at: at 'walls.logn'; did you mean 'walls.long'?",
    ),
    "the line's number as a key": (
        'key = "high"',
        'key = "line"',
        "'line' means the line's number; choose another key",
    ),
    "a key declared twice": ('key = "high"', 'key = "long"', "declared twice"),
    "lines that do not match": (
        'collect = "check"',
        'collect = "check"\nwith = "walls"',
        "checks: 1 lines, and walls it goes with has 3",
    ),
    "a drawing beside a form, without its place": (
        '[[check]]\nkey = "none"',
        '[[block.chart]]\nwords = "A wall."\nseries = []\n[[check]]\nkey = "none"',
        "whole: a drawing beside a form needs the column it begins at",
    ),
    "what nobody gives": (
        'formula = "{long}*{high}"',
        'formula = "{@x}"\ncollect = "bricks"',
        "nothing gives 'bricks'",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_named_with_its_place_and_the_way_out(mistake: str) -> None:
    right, wrong, message = MISTAKES[mistake]
    assert right in SOUND
    with pytest.raises(TemplateError) as raised:
        made(SOUND.replace(right, wrong))
    assert message in str(raised.value)


def test_several_mistakes_are_named_together() -> None:
    text = SOUND.replace('at = "walls.long"', 'at = "nowhere"').replace('"Measure"', '"Mesure"')
    with pytest.raises(TemplateError) as raised:
        made(text)
    assert str(raised.value).count("\n") == 2


# Formulas that fail ----------------------------------------------------------------------

SHARES = """
[[block]]
key = "shares"
sheet = "Rates"
title = "Shares"
shape = "table"
lines = 300
[[block.field]]
key = "part"
label = "Part"
formula = "{whole.face}*{line}"
[[block.field]]
key = "sum"
label = "Sum"
formula = "SUM({part[]})"
"""


def failing(text: str) -> list[str]:
    """Return the lines of what is said where a blank workbook's formulas fail."""
    book = made(text)
    sheets = tuple(replace(s, language="") for s in book.sheets)  # no list of languages here
    with pytest.raises(RecalcError) as raised:
        Template(replace(book, sheets=sheets)).results({})
    return str(raised.value).splitlines()


def test_of_hundreds_of_failing_formulas_the_one_to_blame_is_named() -> None:
    wrong = SOUND.replace("SUM({walls.face[]})", "1/SUM({walls.face[]})")
    head, cause = failing(wrong + SHARES)
    # 300 lines of two columns, and the check of the face
    assert head == "1 formula failed, and 601 more that use what came of it:"
    assert cause.startswith("  Measure whole.face[1] =1/SUM(")
    assert cause.endswith(" gave #DIV/0!")


def test_lines_and_keys_that_fail_by_themselves_are_all_named() -> None:
    several = SOUND.replace("{long}*{high}", "{long}/{high}").replace("{face},6", "1/{high},6")
    head, *causes = failing(several)
    # three orders, the face of the whole and its check
    assert head == "6 formulas failed, and 5 more that use what came of it:"
    assert [c.split()[1] for c in causes] == ["walls.face[1]", "walls.order.computed[1]"]
    assert all(c.endswith(" gave #DIV/0! (and 2 more of its lines)") for c in causes)


@pytest.mark.parametrize(
    ("formula", "fed_by"),
    [
        ("=B3*Rates!$C$4", [("Measure", 2, 1), ("Rates", 3, 2)]),
        ("=SUM(Rates!$A$1:$B$2)", [("Rates", r, c) for r in (0, 1) for c in (0, 1)]),
        ('=IF(A1="B2",ATAN2(1,0),LOG10(2))&"C3"', [("Measure", 0, 0)]),
        ("=AA10", [("Measure", 9, 26)]),
    ],
)
def test_what_feeds_a_formula_is_found(formula: str, fed_by: list[tuple[str, int, int]]) -> None:
    assert list(inputs(Cell("Measure", 0, 0, formula, "result"))) == fed_by


# Keys that the program looks at ------------------------------------------------------------


def test_keys_that_name_nothing_are_told_together(monkeypatch: pytest.MonkeyPatch) -> None:
    book = load_book("us")
    keys = {k: v for k, v in book.keys.items() if k != "stops"} | {"day": "job.dat", "satte": "x"}
    sheets = tuple(replace(s, language=s.language and "papers.langage") for s in book.sheets)
    wrong = replace(book, keys=keys, sheets=sheets)
    monkeypatch.setattr(template, "load_book", lambda _: wrong)
    with pytest.raises(TemplateError) as raised:
        Templates()["us"]
    assert str(raised.value).splitlines() == [
        "sheets.toml: keys: lacks stops",
        "sheets.toml: keys: day 'job.dat'; did you mean 'job.date'?",
        "sheets.toml: keys: unknown key 'satte'; did you mean 'state'?",
        "sheets.toml: sheet Crew: language 'papers.langage'; did you mean 'papers.language'?",
    ]
