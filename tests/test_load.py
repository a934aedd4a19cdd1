"""Mistakes in the files of the trade: each is named, with the place and what to do."""

from __future__ import annotations

import copy
import random
import re
import tomllib
from dataclasses import replace
from typing import Any

import pytest

from pourtally import template
from pourtally.files import templates_folder
from pourtally.load import load_book, make_book
from pourtally.model import Book, TemplateError
from pourtally.place import place
from pourtally.resolve import Resolver

Table = dict[str, Any]
FOLDER = templates_folder()
SHEETS = tomllib.loads((FOLDER / "sheets.toml").read_text("utf-8"))
UNITS = tomllib.loads((FOLDER / "units.toml").read_text("utf-8"))
SOUND = """
[[block]]
key = "faces"
sheet = "Workings"
title = "Faces"
shape = "table"
lines = 2
[[block.field]]
key = "name"
label = "Face"
text = ["Rough", "Smooth"]
[[block.field]]
key = "adds"
label = "Adds"
fixed = { pattern = [2, 1] }
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
default = 8
min = 0
max = 12
[[block.field]]
key = "kind"
label = "Kind of face"
entry = "choice"
choices = "faces.name"
[[block.field]]
key = "face"
label = "Face"
formula = "{long}*{high}*IF({kind is Rough},{faces.adds of Rough},1)"
quantity = "area"
[[block.field]]
key = "order"
label = "Boards"
formula = "ROUNDUP(ROUND({face},6),0)"
order = true
[[block.field]]
key = "on"
label = "In use"
formula = "N({face}>0)"
[[block]]
key = "own"
sheet = "Workings"
title = "Beside the walls"
shape = "table"
with = "walls"
[[block.field]]
key = "twice"
label = "Twice"
formula = "2*{walls.face}"
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
[[takes]]
what = "good"
needed = ["name", "count"]
usual = { weight = 0, unit = "" }
when = { unit = "weight" }
[[block]]
key = "goods"
sheet = "Measure"
title = "Goods"
shape = "table"
collect = "good"
[[block.field]]
key = "name"
label = "Good"
from = "name"
[[block.field]]
key = "count"
label = "How many"
from = "count"
[[block]]
key = "list"
sheet = "Workings"
title = "Walls in use"
shape = "table"
lines = 2
packs = { of = "walls" }
[[block.field]]
key = "face"
label = "Face"
from = "face"
quantity = "area"
[[gives]]
to = "good"
key = "board"
name = "Boards"
count = "=SUM({walls.order[]})"
[[gives]]
to = "good"
each = "walls"
key = "wall"
name = '="Wall {line}"'
count = "={walls.order}"
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


def made(text: str, sheets: Table = SHEETS, units: Table = UNITS) -> Book:
    return make_book(
        "us", copy.deepcopy(sheets), copy.deepcopy(units), {"w.toml": tomllib.loads(text)}
    )


def said(text: str, sheets: Table = SHEETS, units: Table = UNITS) -> str:
    with pytest.raises(TemplateError) as raised:
        made(text, sheets, units)
    return str(raised.value)


def test_a_sound_file_loads_and_its_consequences_follow() -> None:
    book = made(SOUND)
    parts = book.parts
    assert {"walls.long.ft", "walls.long.in", "walls.long", "walls.order.yours"} <= set(parts)
    assert "walls.high" in parts["limits.say"][0].codes
    assert parts["checks.count"][2].formulas == ("N(N({whole.face}=0))",)


def test_a_gift_for_each_line_is_a_line_with_a_code_for_each() -> None:
    parts = made(SOUND).parts
    assert parts["goods.count"][0].codes == ("board", "wall_1", "wall_2", "wall_3")
    assert parts["goods.count"][2].formulas[2] == "{walls.order[2]}"
    assert parts["goods.name"][2].formulas[3] == '"Wall 3"'


def test_lines_follow_from_what_they_derive_from() -> None:
    blocks = {b.key: b for b in made(SOUND.replace("lines = 3", "lines = 5")).blocks}
    assert blocks["own"].lines == blocks["walls"].lines == 5
    assert blocks["goods"].lines == 6


def test_a_word_of_a_list_stands_for_its_cell() -> None:
    formula = made(SOUND).parts["walls.face"][2].formulas[0]
    assert formula == "{long}*{high}*IF({kind}={faces.name[1]},{faces.adds[1]},1)"
    turned = SOUND.replace('["Rough", "Smooth"]', '["Smooth", "Rough"]')
    formula = made(turned).parts["walls.face"][2].formulas[0]
    assert formula == "{long}*{high}*IF({kind}={faces.name[2]},{faces.adds[2]},1)"


ABOVE = """
[[block]]
key = "sums"
sheet = "Workings"
title = "So far"
shape = "table"
with = "walls"
[[block.field]]
key = "face"
label = "Face so far"
formula = "{face^}+{walls.face}"
quantity = "area"
"""


def test_a_line_takes_what_stands_above_it() -> None:
    book = made(SOUND.replace("[[gives]]", f"{ABOVE}\n[[gives]]", 1))
    block, _, part = book.parts["sums.face"]
    resolver = Resolver(book, place(book))
    first, second = (resolver.formula(block, part, line) for line in (0, 1))
    head, row = (int(re.search(r"N\([A-Z]+(\d+)\)", f)[1]) for f in (first, second))  # type: ignore[index]
    assert row == head + 1
    assert re.fullmatch(r"=N\([A-Z]+\d+\)\+Measure![A-Z]+\d+", second)


FIELD = '[[block.field]]\nkey = "high"\nlabel = "Height"\n'
MISTAKES = {
    "an unknown key of a file": ("[[takes]]", "[[taks]]", "w.toml: unknown key 'taks'"),
    "an unknown key of a block": (
        'title = "Walls"',
        'titel = "Walls"\ntitle = "Walls"',
        "w.toml: block walls: unknown key 'titel'; did you mean 'title'?",
    ),
    "an unknown key of a field": (
        "max = 12",
        "max = 12\nmin_ = 1",
        "w.toml: block walls, field high: unknown key 'min_'; did you mean 'min'?",
    ),
    "a field without a label": (
        'key = "high"\nlabel = "Height"\n',
        'key = "high"\n',
        "w.toml: block walls, field high: lacks label, words",
    ),
    "a field without a key": (
        'key = "high"\nlabel = "Height"\n',
        'label = "Height"\n',
        "w.toml: block walls, field without a key: lacks key, words",
    ),
    "a block without a title": ('title = "Walls"\n', "", "w.toml: block walls: lacks title, words"),
    "a block without a key": (
        'key = "walls"\n',
        "",
        "w.toml: block without a key: lacks key, words",
    ),
    "a line above of a typed cell": (
        "{long}*{high}*IF",
        "{high^}*{long}*IF",
        "walls.face: {high^} is typed; name a working that reads it",
    ),
    "a line above in a form": (
        "SUM({walls.face[]})",
        "SUM({walls.face^})",
        "only a table with the lines of this block has a line above",
    ),
    "a field that is nothing": (
        'formula = "N({face}>0)"\n',
        "",
        "field on: needs exactly one of entry, formula, text, fixed, from, given; came none",
    ),
    "a field that is two things": (
        'formula = "N({face}>0)"',
        'formula = "1"\ntext = "x"',
        "field on: needs exactly one of",
    ),
    "a limit in words": (
        "max = 12",
        'max = "fifty"',
        "block walls, field high: max: came 'fifty'; expected a number",
    ),
    "a limit for one system alone": (
        "max = 12",
        "max = { us = 12 }",
        "field high: max: came one for us alone; give one for us and one for si",
    ),
    "a limit for some sizes alone": (
        "max = 12",
        "max = { small = 12, usual = 12 }",
        "field high: max: came one for small and usual alone; give one for small and one for "
        "usual and one for large",
    ),
    "a size that is none": (
        "max = 12",
        "max = { smal = 12, usual = 12, large = 12 }",
        "field high: max: unknown key 'smal'; did you mean 'small'?",
    ),
    "a least over the most": ("min = 0", "min = 20", "field high: min 20 is over max 12"),
    "a default outside its limits": (
        "default = 8",
        "default = 80",
        "field high: default 80 lies outside its limits, 0 to 12",
    ),
    "half of what is counted": (
        "default = 8",
        "default = 8.5\nwhole = true",
        "field high: whole, but a limit or a default is 8.5; make it a whole number",
    ),
    "whole words": (
        'choices = "faces.name"',
        'choices = "faces.name"\nwhole = true',
        "whole does not go with an entry of kind choice",
    ),
    "a default that is no number": (
        "default = 8",
        'default = "eight"',
        "field high: default 'eight'; expected a number from 0 to 12",
    ),
    "more defaults than lines": (
        "default = 8",
        "default = [8, 8, 8, 8]",
        "field high: default: 4 for 3 lines",
    ),
    "optional on a formula": (
        'formula = "N({face}>0)"',
        'formula = "N({face}>0)"\noptional = true',
        "field on: optional does not go with a field with formula",
    ),
    "a least on a formula": (
        'formula = "N({face}>0)"',
        'formula = "N({face}>0)"\nmin = 0\nmax = 2',
        "field on: min does not go with a field with formula",
    ),
    "choices on a number": (
        "max = 12",
        'max = 12\nchoices = "faces.name"',
        "field high: choices does not go with an entry of kind number",
    ),
    "true as a number": ("max = 12", "max = true", "max: came true; expected a number"),
    "a number as words": ('label = "Height"', "label = 7", "label: came 7; expected words"),
    "a quantity nobody declared": (
        "order = true",
        'order = true\nquantity = "aera"',
        "field order: quantity 'aera' is not in units.toml; did you mean 'area'?",
    ),
    "a reference to nothing": (
        "2*{walls.face}",
        "2*{walls.fcae}",
        "w.toml: own.twice: {walls.fcae} names no part; did you mean 'walls.face'?",
    ),
    "a column without its brackets": (
        "SUM({walls.face[]})",
        "SUM({walls.face})",
        "has 3 lines and this block does not share them; write []",
    ),
    "a column in plain arithmetic": (
        "SUM({walls.face[]})",
        "{walls.face[]}*2",
        "block whole, field face: a whole column stands in plain arithmetic",
    ),
    "a column in a function for one": (
        "SUM({walls.face[]})",
        "ABS({walls.face[]})",
        "a whole column stands in ABS",
    ),
    "a missing bracket": (
        "SUM({walls.face[]})",
        "SUM({walls.face[]}",
        "w.toml: block whole, field face: SUM( lacks its ), before its end: SUM({walls.face[]}",
    ),
    "a surplus bracket": ("SUM({walls.face[]})", "SUM({walls.face[]}))", "a surplus ): SUM("),
    "a sign too many": ("2*{walls.face}", "2*/{walls.face}", "/ where a value was expected"),
    "a sign too few": (
        "2*{walls.face}",
        "2 {walls.face}",
        "{walls.face} where a sign was expected",
    ),
    "a text that does not end": (
        'count = "=SUM({walls.order[]})"',
        "count = '=\"SUM({walls.order[]})'",
        'gives board: count: a text lacks its closing "',
    ),
    "a key without braces": ("2*{walls.face}", "2*walls", "'walls' is no part of a formula"),
    "a function nobody uses": (
        "SUM({walls.face[]})",
        "SMU({walls.face[]})",
        "SMU is no function in use; did you mean 'SUM'?",
    ),
    "too few arguments": (
        "ROUND({face},6)",
        "ROUND({face})",
        "ROUND came with 1 argument; it takes 2",
    ),
    "an odd number of arguments": (
        "SUM({walls.face[]})",
        "COUNTIFS({walls.face[]},1,{walls.face[]})",
        "COUNTIFS came with 3 arguments; it takes ranges and criteria in pairs",
    ),
    "an entry of no kind": (
        'entry = "number"',
        'entry = "numbr"',
        "field high: entry: came 'numbr'; expected one of number, length, text, choice, date, "
        "time; did you mean 'number'?",
    ),
    "a number without limits": (
        "min = 0\nmax = 12\n",
        "",
        "field high: a number needs min and max",
    ),
    "a circle": ("2*{walls.face}", "2*{walls.face}+SUM({twice[]})", "circular: "),
    "a sheet that is not there": (
        'sheet = "Measure"\ntitle = "Whole"',
        'sheet = "Mesure"\ntitle = "Whole"',
        "whole: sheet 'Mesure' is not in sheets.toml; did you mean 'Measure'?",
    ),
    "a shape that is none": (
        'shape = "form"',
        'shape = "from"',
        "block whole: shape: came 'from'; expected one of form, table, across, words, page; "
        "did you mean 'form'?",
    ),
    "a look that is none": (
        'formula = "N({face}>0)"',
        'formula = "N({face}>0)"\nrole = "reslt"',
        "walls.on: role 'reslt'; did you mean 'result'?",
    ),
    "choices from nowhere": (
        'choices = "faces.name"',
        'choices = "faces.nmae"',
        "faces.nmae is no column beside fixed words; did you mean 'faces.name'?",
    ),
    "a word that is in no list": (
        "{kind is Rough}",
        "{kind is Ruogh}",
        "field face: 'Ruogh' is not in faces; did you mean 'Rough'?",
    ),
    "a column beside no words": (
        "{faces.adds of Rough}",
        "{faces.add of Rough}",
        "{faces.add of Rough}: faces.add is no column beside fixed words",
    ),
    "a comparison of what is no choice": (
        "{kind is Rough}",
        "{high is Rough}",
        "{high is Rough}: high is no choice",
    ),
    "a check of no kind": (
        'level = "look"',
        'level = "lok"',
        "w.toml: check none: level: came 'lok'; expected one of stop, look; did you mean 'look'?",
    ),
    "a check without words": (
        'say = "No wall has a face."\n',
        "",
        "w.toml: check none: lacks say, words",
    ),
    "a check that counts nothing": (
        'count = "N({whole.face}=0)"\n',
        "",
        "check none: needs either lines, a column of 0 and 1, or count",
    ),
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
    "a field declared twice": (
        'key = "high"',
        'key = "long"',
        "block walls: field long: declared twice; keep one of them",
    ),
    "a block declared twice": (
        'key = "whole"',
        'key = "walls"',
        "w.toml: block walls: declared twice; it stands in w.toml",
    ),
    "lines beside what they follow from": (
        'with = "walls"',
        'with = "walls"\nlines = 3',
        "block own: lines follow from walls, which it goes with; leave lines out",
    ),
    "lines of what is collected": (
        'collect = "good"',
        'collect = "good"\nlines = 3',
        "block goods: lines follow from what is collected; leave lines out",
    ),
    "lines that follow from nothing": ('with = "walls"', 'with = "wals"', "'wals' is no block; "),
    "lines that follow from themselves": (
        'with = "walls"',
        'with = "own"',
        "its lines follow from themselves",
    ),
    "a table beside another of other lines": (
        'key = "whole"\nsheet = "Measure"\ntitle = "Whole"\nshape = "form"',
        'key = "whole"\nsheet = "Measure"\ntitle = "Whole"\nshape = "table"\nbeside = true',
        "whole: beside needs a table of 1 lines before it",
    ),
    "a drawing beside a form, without its place": (
        "[[takes]]",
        '[[block.chart]]\nwords = "A wall."\nseries = []\n[[takes]]',
        "whole: a drawing beside a form needs the key in whose column it begins",
    ),
    "a drawing of no run": (
        "[[takes]]",
        '[[block.chart]]\nwords = "A wall."\ncolumn = "J"\n'
        'series = [{ x = "walls.face", y = "walls.face[1:3]", width = 1 }]\n[[takes]]',
        "'walls.face' is no run of cells; write block.part[1:4]",
    ),
    "a drawing of lines that are not there": (
        "[[takes]]",
        '[[block.chart]]\nwords = "A wall."\ncolumn = "J"\n'
        'series = [{ x = "walls.face[1:9]", y = "walls.face[1:9]", width = 1 }]\n[[takes]]',
        "its drawing names line 9 of walls.face, which has 3",
    ),
    "a gift to nobody": (
        'to = "good"\nkey = "board"',
        'to = "goood"\nkey = "board"',
        "w.toml: gives board: to 'goood' is collected nowhere; did you mean 'good'?",
    ),
    "a gift with a slip in a name": (
        'count = "=SUM(',
        'cuont = "=SUM(',
        "w.toml: gives board: unknown name 'cuont'; did you mean 'count'?",
    ),
    "a gift that lacks what is needed": (
        'name = "Boards"\n',
        "",
        "w.toml: gives board: lacks name, which every good says",
    ),
    "a gift that lacks what goes with it": (
        'name = "Boards"\n',
        'name = "Boards"\nweight = 5\n',
        "gives board: says weight and so needs unit",
    ),
    "a gift without a code": ('key = "board"\n', "", "w.toml: gives without a key: lacks key"),
    "a code given twice": (
        'key = "wall"',
        'key = "board"',
        "gives good board: this code stands in w.toml already",
    ),
    "a code that comes out twice": (
        'key = "board"',
        'key = "wall_2"',
        "goods: the code wall_2 stands for two lines",
    ),
    "a gift after nothing": (
        'key = "wall"',
        'key = "wall"\nafter = "bord"',
        "w.toml: gives wall: after 'bord'; did you mean 'board'?",
    ),
    "a gift for each line of nothing": ('each = "walls"', 'each = "wals"', "'wals' is no block; "),
    "a gift that is a list": ('name = "Boards"', "name = []", "name: came []; expected a number"),
    "what nobody knows to ask for": (
        'from = "name"',
        'from = "nmae"',
        "from 'nmae': takes good knows no nmae; did you mean 'name'?",
    ),
    "from where nothing is collected": (
        'formula = "N({face}>0)"',
        'from = "name"',
        "'from' stands only in a block with collect",
    ),
    "what nobody gives": (
        'formula = "N({face}>0)"',
        'formula = "{@x}"\ncollect = "bricks"',
        "nothing gives 'bricks'",
    ),
    "a block that collects what is not described": (
        'collect = "good"',
        'collect = "bricks"',
        "block goods: collects 'bricks', which no takes describes",
    ),
    "a column of what is packed that is none": (
        'from = "face"',
        'from = "fcae"',
        "list.face: {walls.fcae} names no part; did you mean 'walls.face'?",
    ),
    "a drawing that begins nowhere": (
        "[[takes]]",
        '[[block.chart]]\nwords = "A wall."\ncolumn = "walls.fcae"\nseries = []\n[[takes]]',
        "whole: its drawing begins at 'walls.fcae'; did you mean 'walls.face'?",
    ),
    "former names of nothing": (
        'key = "on"\nlabel = "In use"\nformula = "N({face}>0)"',
        'key = "on"\nlabel = "In use"\nentry = "text"\nformer = "nmae"',
        "block walls, field on: former 'nmae'; known: long, high",
    ),
    "a former word that stands there still": (
        'text = ["Rough", "Smooth"]',
        'text = ["Rough", "Smooth"]\nformer = { Rough = "Smooth" }',
        "faces.name: former 'Rough' = 'Smooth'; the new word stands in its list alone",
    ),
    "a mark of use that is not there": (
        'title = "Walls"',
        'title = "Walls"\nused = "onn"',
        "walls: used 'walls.onn'; did you mean 'walls.on'?",
    ),
    "an effect that is no formula": (
        "max = 12",
        'max = 12\neffect = { formula = "SUM({walls.face[]}" }',
        "field high: SUM( lacks its ), before its end",
    ),
    "an effect of words": ("max = 12", "max = 12\neffect = 5", "effect: came 5; expected a table"),
    "a width in words": ("max = 12", 'max = 12\nwidth = "wide"', "width: came 'wide'; expected a"),
    "a lesson without what it is pooled by": (
        'formula = "N({face}>0)"',
        'formula = "N({face}>0)"\nteaches = { entry = "walls.high" }',
        "field on: teaches: lacks by, words",
    ),
    "columns of a kind without its name": (
        'formula = "N({face}>0)"',
        'formula = "1"\ncollect = { saying = "count" }',
        "field on: collect: lacks of, words",
    ),
    "a list packed in two orders": (
        "[[takes]]",
        '[[block]]\nkey = "again"\nsheet = "Workings"\ntitle = "x"\nshape = "table"\nlines = 2\n'
        'packs = { of = "walls", by = "face" }\n[[takes]]',
        "packs walls by '', and another by 'face'; one column on has one order",
    ),
    "a collector described twice": (
        "[[takes]]",
        '[[takes]]\nwhat = "good"\nneeded = []\n[[takes]]',
        "w.toml: takes good: described twice; keep one of them",
    ),
    "packing nothing": ('of = "walls"', 'of = "wals"', "packs 'wals'; did you mean 'walls'?"),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_named_with_its_place_and_the_way_out(mistake: str) -> None:
    right, wrong, message = MISTAKES[mistake]
    assert right in SOUND
    assert message in said(SOUND.replace(right, wrong, 1))


def test_a_slip_is_told_in_one_line_that_says_what_was_expected() -> None:
    told = said(SOUND.replace("max = 12", 'max = "fifty"'))
    assert told == "w.toml: block walls, field high: max: came 'fifty'; expected a number"


def test_several_mistakes_are_named_together() -> None:
    text = SOUND.replace("max = 12", 'max = "x"').replace('level = "look"', 'level = "lok"')
    text = text.replace("SUM({walls.face[]})", "SUM(")
    text = text.replace('label = "Good"\n', "")
    assert {line.partition(": ")[2].partition(":")[0] for line in said(text).splitlines()} == {
        "block walls, field high",
        "block whole, field face",
        "block goods, field name",
        "check none",
    }
    text = SOUND.replace("SUM({walls.face[]})", "SUM(").replace('count = "=SUM(', 'cuont = "=SUM(')
    assert len(said(text).splitlines()) == 3


def test_a_sheet_says_only_what_it_may() -> None:
    sheets = copy.deepcopy(SHEETS)
    sheets["sheet"][1] |= {"landscpe": True, "letters": "large"}
    told = said(SOUND, sheets).splitlines()
    assert told == [
        "sheets.toml: sheet Measure: unknown key 'landscpe'; did you mean 'landscape'?",
        "sheets.toml: sheet Measure: letters: came 'large'; expected a number",
    ]


def test_what_tells_a_job_on_one_page_is_a_list_of_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    sheets = copy.deepcopy(SHEETS)
    sheets["summary"] = "job.name"
    assert said(SOUND, sheets) == "sheets.toml: summary: expected a list of keys"
    whole = replace(load_book("us"), summary=("job.nam", 7, "total.area"))  # type: ignore[arg-type]
    monkeypatch.setattr(template, "load_book", lambda *_: whole)
    with pytest.raises(TemplateError) as slips:
        template.Templates()["us", "usual"]
    assert str(slips.value).splitlines() == [
        "sheets.toml: summary: 'job.nam'; did you mean 'job.name'?",
        "sheets.toml: summary: '7'; no such name",
    ]


def test_a_word_of_the_program_that_is_missing_is_named() -> None:
    sheets = copy.deepcopy(SHEETS)
    del sheets["words"]["yours"]
    assert said(SOUND, sheets) == "sheets.toml: words: lacks yours"


def test_a_constant_and_a_quantity_are_held_to_their_kind() -> None:
    units = copy.deepcopy(UNITS)
    units["constant"][0]["value"] = "twelve"
    del units["quantity"]["area"]["us"]["unit"]
    told = said(SOUND, units=units)
    assert "came 'twelve'; expected a number" in told
    assert "units.toml: quantity area: lacks unit, words" in told


@pytest.mark.parametrize("seed", range(400))
def test_whatever_is_wrong_nobody_sees_a_traceback(seed: int) -> None:
    """Take a line out, swap two words, or put another value in: a book comes out, or words."""
    dice = random.Random(seed)
    lines = SOUND.strip().split("\n")
    for _ in range(dice.randint(1, 3)):
        at = dice.randrange(len(lines))
        key, _, value = lines[at].partition(" = ")
        others = ["[]", "{}", '""', "7", "true", '"x"', '"=("', "[1, 2]", "1979-05-27"]
        lines[at] = dice.choice([
            "",
            f"{key} = {dice.choice(others)}" if value else "",
            f"{key} = {dice.choice(lines).partition(' = ')[2]}" if value else lines[at],
            lines[at].replace("{", "", 1),
            lines[at].replace(")", "", 1),
            lines[at].replace("walls", "goods"),
        ])  # fmt: skip
    text = "\n".join(lines)
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return  # told before anything of ours is asked
    try:
        book = made(text)
    except TemplateError as error:
        assert str(error).strip()
    else:
        assert book.parts
