"""Mistakes in the files of the trade: each is named, with the place and what to do."""

from __future__ import annotations

import copy
import tomllib
from dataclasses import replace
from typing import Any

import pytest

from pourtally import pages
from pourtally.load import make_book, templates_folder
from pourtally.model import Book, TemplateError
from pourtally.place import place

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


def test_a_column_is_as_wide_as_the_widest_field_that_stands_in_it() -> None:
    text = SOUND.replace("max = 100", "max = 100\nwidth = 7").replace(
        "max = 12", "max = 12\nwidth = 9"
    )
    text = text.replace('label = "All faces"', 'label = "All faces"\nwidth = { us = 8, si = 5 }')
    places = place(book := made(text))
    sheet = next(s for s in book.sheets if s.name == "Measure")
    assert pages.widths(places, sheet, 6) == {0: 6, 1: 7, 2: 8, 3: 9, 4: 11, 5: 11, 6: 11}
    wide = replace(
        sheet, line_width=5, label_width=30, unit_width=40, note_width=50, usual_width=12
    )
    # the unit of the form stands in D and its note in E, where fields stand too
    assert pages.widths(places, wide, 5) == {0: 5, 1: 30, 2: 8, 3: 9, 4: 12, 5: 12}


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
        "whole: a drawing beside a form needs the key in whose column it begins",
    ),
    "a drawing that begins nowhere": (
        '[[check]]\nkey = "none"',
        '[[block.chart]]\nwords = "A wall."\ncolumn = "J"\nseries = []\n[[check]]\nkey = "none"',
        "whole: its drawing begins at 'J'",
    ),
    "a word of older files that is in the list": (
        'entry = "length"\nmax = 100',
        'text = ["Brick", "Stone"]\nformerly = { Brick = "Stone" }',
        "walls.long: formerly 'Brick' = 'Stone'",
    ),
    "a word in place of an older one that is not in the list": (
        'entry = "length"\nmax = 100',
        'text = ["Brick", "Stone"]\nformerly = { Rock = "Rubble" }',
        "walls.long: formerly 'Rock' = 'Rubble'",
    ),
    "lines in use by what is not there": (
        "lines = 3",
        'lines = 3\nused = "usd"',
        "walls: used 'walls.usd'",
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
