"""Prices carried between workbooks as CSV, and money to the cent.

What a file may hold and how spreadsheets spoil it is written out here; amounts of money are
held against decimal arithmetic, half cents up, in three engines.
"""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import date, time
from decimal import ROUND_HALF_UP, Decimal
from functools import cache, partial
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.comments import Comment

import engines
import programs
import shop
from filled import filled
from pourtally import csvfile, priceload, pricesave
from pourtally.cli import main
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Scalar, Units
from pourtally.priceline import Loaded
from pourtally.priceload import fill
from pourtally.pricetable import Table, tables
from pourtally.read import Filled
from shop import Told, loaded, read_workbook, saved

pytestmark = pytest.mark.xdist_group("prices")  # its workbooks are made once

# A small workbook does, and is built, read and saved in less time.
build = partial(shop.build, size="small")
laid_out = partial(shop.laid_out, size="small")
results = partial(shop.results, size="small")

HEAD = "table,line,what,figure,value,unit,date,source,supplier,meaning"
NASTY = [
    "=1+1", "+1 800 555 0100", "-5 mix", "@SUM(A1:A9)", "\t=2*3", '=HYPERLINK("http://x","y")',
    "'=quoted", "''twice", " =3+3", "'plain", 'a "b"; c, d', "=cmd|' /C calc'!A0",
]  # fmt: skip
JOB: dict[str, Any] = {
    "job": {"name": "Smith", "date": date(2026, 7, 20)},
    "pieces": [{"shape": "Rectangle", "a": 16, "b": 20}],
    "pricing": {"oldest": 90},
    "prices": [
        {"line": "boards", "price": 9.48, "date": date(2026, 5, 4), "quote": "Yard, card"},
        {"line": "concrete_1", "price": 158.5, "date": date(2026, 5, 11)},
        {"line": "stone", "quote": "asked on Monday"},
    ],
    "week": [{"hours": 10}],
    "equipment": [{"what": "Skid steer", "hourly": 48, "typed": 6.5}],
    "own": [
        {"what": "Permit", "typed": 2, "price": 85, "unit": "each", "from": "Town hall"},
        {"line": 3, "what": "Permit", "typed": 1, "price": 40},
        {"what": "Joint filler", "kind": "Material", "driver": "Total area", "price": 0.455},
        {"what": "Night work"},
    ],
}


def entries(job: dict[str, Any], units: Units = "us") -> Entries:
    typed, problems = job_entries(laid_out(units)[0], job, "test")
    assert problems == []
    return typed


def kept(worked: Entries, units: Units = "us") -> dict[tuple[str, str, str], list[Scalar]]:
    """Return what is saved of a workbook: by table, name of the line and figure."""
    out: dict[tuple[str, str, str], list[Scalar]] = {}
    for key, table in tables(laid_out(units)[0]).items():
        for figure, (_, part) in table.entries.items():
            for line in range(table.block.lines):
                named = worked[table.name.key][line] if table.name else line
                value = worked[part.key][line]
                if named not in (None, "") and value not in (None, ""):
                    out.setdefault((key, str(named), figure), []).append(value)
    return {at: sorted(values, key=str) for at, values in out.items()}


@pytest.fixture(scope="module")
def smith(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("job") / "smith.xlsx"
    build("us", entries(JOB), path)
    return path


@pytest.fixture
def blank(shelf: Callable[[str], Path]) -> Path:
    return shelf("blank-us-small")


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    def written(*rows: str, head: str = HEAD, name: str = "prices.csv") -> Path:
        path = tmp_path / name
        path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
        return path

    return written


def run(*words: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(w) for w in words])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


# There and back -----------------------------------------------------------------------


def test_prices_are_saved_edited_and_loaded(smith: Path, blank: Path, tmp_path: Path) -> None:
    prices, new = tmp_path / "prices.csv", tmp_path / "new.xlsx"
    assert run("prices", smith, "--save", prices).stdout == f"Wrote {prices}\n"
    text = prices.read_text("utf-8-sig").replace("9.48,", "10.25,").replace("85,", "90,")
    prices.write_text(text, "utf-8")
    result = run("prices", blank, "--load", prices, "-o", new)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith(f"Wrote {new}: ")
    there = read_workbook(new)
    assert there.problems == []
    book, _ = laid_out("us")
    codes = book.parts["prices.price"][0].codes
    price, day = there.entries["prices.price"], there.entries["prices.date"]
    assert price[codes.index("boards")] == 10.25
    assert day[codes.index("boards")] == 46146  # 2026-05-04: 45658 is 2025-01-01, 488 days on
    assert there.entries["prices.quote"][codes.index("boards")] == "Yard, card"
    assert there.entries["prices.quote"][codes.index("stone")] == "asked on Monday"
    assert there.entries["pricing.oldest"] == [90]
    own = ["Permit", None, "Permit", "Joint filler", "Night work"]
    assert there.entries["own.what"][:5] == own  # each on its line
    assert there.entries["own.price"][:5] == [90, None, 40, 0.455, None]
    assert there.entries["own.driver"][:5] == [None, None, None, "Total area", None]
    assert there.entries["own.from"][:3] == ["Town hall", None, None]
    assert there.entries["job.name"] == [None]


@pytest.mark.parametrize("units", ["us", "si"])
def test_a_workbook_filled_to_the_last_line_is_carried_whole(
    units: Units, shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    prices, typed = tmp_path / "p.csv", filled(units)
    text, problems = saved(shelf(f"filled-{units}-small"))
    assert problems == []
    prices.write_text(text, "utf-8", newline="")
    found = loaded(shelf(f"blank-{units}-small"), prices)
    assert found.problems == []
    wanted = kept(results(units, typed), units)
    assert len(wanted) > 100
    assert kept(results(units, found.entries), units) == wanted


def test_every_table_that_is_saved_can_tell_its_lines_apart() -> None:
    for table in tables(laid_out("us")[0]).values():
        names = [str(n).casefold() for n in table.name.values if n] if table.name else []
        assert len(names) == len(set(names)), table.block.key
        codes = [c for c in table.block.codes if c]
        assert len(codes) == len(set(codes)), table.block.key
        assert all(c == c.casefold() for c in codes), table.block.key


def test_a_file_has_a_row_for_each_price_with_its_date_quote_and_supplier(smith: Path) -> None:
    text, _ = saved(smith)
    assert text.startswith("\ufeff" + HEAD)
    found = {(r["table"], r["line"], r["figure"]): r for r in rows(text)}
    boards = found["prices", "boards", "price"]
    assert (boards["value"], boards["date"], boards["source"]) == (
        "9.48", "2026-05-04", "Yard, card")  # fmt: skip
    assert boards["meaning"] == "Supplies and concrete: Price"
    assert found["prices", "concrete_1", "price"]["unit"] == "yd³"
    assert found["prices", "chairs", "price"]["value"] == ""  # to be filled in
    permit = found["own", "1", "price"]
    assert (permit["what"], permit["value"], permit["unit"], permit["supplier"]) == (
        "Permit", "85", "each", "Town hall")  # fmt: skip
    assert found["equipment", "1", "hourly"]["value"] == "48"
    assert ("equipment", "1", "typed") not in found  # the hours of this job
    assert "week" not in {table for table, _, _ in found}
    assert found["own", "5", "what"]["value"] == "Night work"  # nothing else is typed of it


def test_what_was_emptied_is_empty_in_the_next_workbook(blank: Path, tmp_path: Path) -> None:
    first, prices = tmp_path / "first.xlsx", tmp_path / "prices.csv"
    build("us", entries({"pricing": {"oldest": 90}}), first)
    lines = saved(first)[0].splitlines(keepends=True)
    text = "".join(line for line in lines if not line.startswith("labor,"))
    text = text.replace("oldest,90", "oldest,(empty)")
    text += "labor,,STAMP,task,(empty),,,,,\r\nlabor,,Polish,rate,0.02,,,,,\r\n"
    prices.write_text(text, "utf-8", newline="")
    found = loaded(blank, prices)
    assert found.problems == []
    assert found.entries["pricing.oldest"] == [None]
    assert "Stamp" not in found.entries["labor.task"]
    usual = laid_out("us")[0].parts["labor.task"][2]
    stamp, first_own = usual.values.index("Stamp"), len(usual.values)
    assert found.entries["labor.rate"][stamp] is None
    assert found.entries["labor.driver"][stamp] is None
    assert found.entries["labor.task"][first_own] == "Polish"
    assert found.entries["labor.rate"][first_own] == 0.02


def test_rates_and_labor_may_be_loaded_too(blank: Path, write: Callable[..., Path]) -> None:
    prices = write(
        "labor,,stamp,rate,0.12,,2026-05-14,3 own jobs,,",
        "crew,,,size,4,,,,,",
        "mixes,,Colored,waste,6.5%,%,,,,",
        "ways,2,,set_up,1.5,,,,,",
        "labor,,Stamp,strips,yes,,,,,",
    )
    found = loaded(blank, prices)
    assert (found.problems, found.notes) == ([], [])
    line = laid_out("us")[0].parts["labor.task"][2].values.index("Stamp")
    assert found.entries["labor.rate"][line] == 0.12
    assert found.entries["labor.source"][line] == "3 own jobs"
    assert found.entries["crew.size"] == [4]
    assert found.entries["mixes.waste"][1] == 0.065
    assert found.entries["ways.set_up"][1] == 1.5


def test_a_price_without_a_date_does_not_keep_the_old_one(
    smith: Path, write: Callable[..., Path]
) -> None:
    at = laid_out("us")[0].parts["prices.price"][0].codes.index("boards")
    found = loaded(smith, write("prices,boards,,price,11,,,,,", "prices,stone,,price,,,,,,"))
    assert found.problems == []
    assert found.entries["prices.price"][at] == 11
    assert found.entries["prices.date"][at] is None
    assert found.entries["prices.quote"][at] is None
    found = loaded(smith, write("prices,boards,price,11", head="table,line,figure,value"))
    assert found.entries["prices.date"][at] == 46146  # the file does not speak of dates


# As spreadsheets save it --------------------------------------------------------------


@pytest.mark.parametrize(
    "raw",
    [
        b"\xef\xbb\xbftable,line,figure,value,date\r\n\r\n"
        b"prices,boards,price,1234.5,2026-05-14\r\n",
        b"table;line;figure;value;date\nprices;boards;price;1234,50;2026-05-14\n",
        b"table;line;figure;value;date\r\nprices;boards;price;1.234,50;5/14/2026\r\n",
        b'Value,Date,Figure,TABLE,Line\n"$1,234.50",5/14/2026,price,prices,boards\n,,,,\n',
        "table\tline\tfigure\tvalue\tdate\n"
        "prices\tboards\tprice\t1234.5\t5/14/2026\n".encode("utf-16"),
        "table,line,figure,value,date,note\n"
        "prices,boards,price,1234.5,2026-5-14,½ ²\n".encode("cp1252"),
    ],
    ids=["BOM and CRLF", "semicolons", "dots and commas", "order and $", "UTF-16 tabs", "ANSI"],
)  # fmt: skip
def test_a_file_is_read_however_a_spreadsheet_saved_it(
    raw: bytes, blank: Path, tmp_path: Path
) -> None:
    path = tmp_path / "prices.csv"
    path.write_bytes(raw)
    found = loaded(blank, path)
    at = laid_out("us")[0].parts["prices.price"][0].codes.index("boards")
    assert found.problems == []
    assert found.entries["prices.price"][at] == 1234.5
    assert found.entries["prices.date"][at] == 46156  # ten days after 2026-05-04
    assert found.notes == ([f"{path}: the column note is not read"] if b"note" in raw else [])


WORDS = [["boards", "9.5"], ["½ yd", ""]]
HOW: dict[str, tuple[bytes, list[list[str]], bool]] = {
    "plain": (b"line,value\nboards,9.5\n", WORDS[:1], False),
    "a mark and CRLF": ("\ufeffLine,VALUE\r\n\r\nboards,9.5\r\n½ yd,\r\n".encode(), WORDS, False),
    "semicolons": ("line;value\nboards;9.5\n½ yd;\n".encode(), WORDS, True),
    "tabs": ("line\tvalue\nboards\t9.5\n½ yd\t\n".encode("utf-16"), WORDS, False),
    "an older page of letters": ("line,value\nboards,9.5\n½ yd\n".encode("cp1252"), WORDS, False),
    "empty lines first": (b"\n , \n line , value \nboards,9.5,\n", WORDS[:1], False),
    "marks of words": (b'"line","value"\n"boards","9.5"\n', WORDS[:1], False),
}


@pytest.mark.parametrize("how", HOW)
def test_cells_are_the_same_however_they_were_saved(how: str, tmp_path: Path) -> None:
    raw, wanted, commas = HOW[how]
    path = tmp_path / "a.csv"
    path.write_bytes(raw)
    sheet, problems = csvfile.read(path, ["line"], ["line", "value"])
    assert problems == []
    assert [[row["line"], row["value"]] for _, row in sheet.rows] == wanted
    assert (sheet.commas, sheet.unknown) == (commas, [])


def test_rows_bear_the_numbers_of_their_lines_and_unknown_columns_are_named(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.csv"
    path.write_text('line,mine,value,\n\n"two\nlines",a,9\n,,\nboards,b,8,\n', "utf-8")
    sheet, problems = csvfile.read(path, ["line"], ["line", "value"])
    assert (problems, sheet.unknown) == ([], ["mine"])
    assert [(at, row["line"]) for at, row in sheet.rows] == [(3, "two\nlines"), (6, "boards")]


UNREAD: dict[str, tuple[bytes, list[str]]] = {
    "nothing": (b"", [": holds nothing; expected line, value"]),
    "empty lines": (b"\n,,\n", [": holds nothing; expected line, value"]),
    "no column": (b"mine,line\n1,2\n",
                  [", line 1: lacks the column value; came mine, line: the first line names the "
                   "columns"]),
    "a column twice": (b"line,value,line\n",
                       [", line 1: the column line stands there twice; keep one"]),
    "cells too many": (b"line,value\na,1,2\nb,1,\nc,1, \n",
                       [", line 2: 3 cells, expected 2: words with a comma in them need quotation "
                        "marks"]),
    "semicolons too many": (b"line;value\na;1;2\n",
                            [", line 2: 3 cells, expected 2: words with a separator in them need "
                             "quotation marks"]),
    "an open mark": (b'line,value\na,1\n"b,1\n',
                     [", line 3: unexpected end of data; compare its quotation marks"]),
    "a zip": (b"PK\x03\x04line,value\n",
              [": not a text; open it in your spreadsheet program and save it as CSV"]),
    "a PDF": (b"%PDF line,value\n",
              [": not a text; open it in your spreadsheet program and save it as CSV"]),
    "noughts": (b"line,value\n\0",
                [": not a text; open it in your spreadsheet program and save it as CSV"]),
    "no letters": (b"line,value\n\x81,1\n",
                   [": its letters cannot be read; save it as CSV in UTF-8"]),
    "too long": (b"line,value\n" + b"x" * 2_000_000,
                 [": over 2,000,000 bytes; a price file is a short list"]),
    "too wide": (b"line,value" + b"," * 99 + b"\n",
                 [": 101 columns and 0 lines; a price file has at most 100 and 5,000"]),
    "too many": (b"line,value\n" + b"a,1\n" * 5001,
                 [": 2 columns and 5,001 lines; a price file has at most 100 and 5,000"]),
}  # fmt: skip


@pytest.mark.parametrize("how", UNREAD)
def test_what_is_no_list_is_told_in_one_sentence(how: str, tmp_path: Path) -> None:
    raw, said = UNREAD[how]
    path = tmp_path / "a.csv"
    path.write_bytes(raw)
    _, problems = csvfile.read(path, ["line", "value"], ["line", "value"])
    assert problems == [f"{path}{one}" for one in said]


def test_a_list_as_long_and_as_wide_as_it_may_be_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"line,value" + b"," * 98 + b"\n" + b"a,1\n" * 5000)
    sheet, problems = csvfile.read(path, ["line", "value"], ["line", "value"])
    assert (problems, len(sheet.rows)) == ([], 5000)
    assert "no such file" in csvfile.read(tmp_path / "b.csv", ["line"], ["line"])[1][0]


@pytest.mark.parametrize(("words", "order", "day"), [
    ("05/04/2026", "month first", date(2026, 5, 4)), ("05/04/2026", "day first", date(2026, 4, 5)),
    ("05.04.2026", "day first", date(2026, 4, 5)), ("05.04.2026", "month first", None),
    ("05/14/2026", "day first", date(2026, 5, 14)),
    ("14/05/2026", "month first", date(2026, 5, 14)),
    ("05/05/2026", "day first", date(2026, 5, 5)), (" 05/14/2026 ", "", date(2026, 5, 14)),
    ("12/13/2026", "", date(2026, 12, 13)), ("13/12/2026", "", date(2026, 12, 13)),
    ("11/12/2026", "", None), ("12/11/2026", "", None),
])  # fmt: skip
def test_a_day_that_could_be_two_is_read_in_the_order_of_the_place(
    words: str, order: str, day: date | None
) -> None:
    assert csvfile.day(words, order) == day


def test_money_may_stand_with_the_sign_of_its_place() -> None:
    for words, sign, number in (("€ 9.50", "€", 9.5), ("9.50 €", "€", 9.5), ("9.50 €", "", None),
                                ("9.50$", "", 9.5), ("R$ 9", "R$", 9.0)):  # fmt: skip
        assert csvfile.number(words, False, sign) == number


def test_a_text_is_written_with_a_mark_unless_told_not_to() -> None:
    rows = [{"a": "1", "b": "2"}, {"b": "3"}]
    assert csvfile.text(("a", "b"), rows) == "\ufeffa,b\r\n1,2\r\n,3\r\n"
    assert csvfile.text(("a", "b"), rows, mark=False) == "a,b\r\n1,2\r\n,3\r\n"


@pytest.mark.parametrize(
    ("words", "commas", "number"),
    [
        ("9.5", False, 9.5),
        (" $ 1,234.50 ", False, 1234.5),
        ("1,234,567", False, 1234567),
        ("1E-05", False, 0.00001),
        ("-3", False, -3),
        ("9,5", True, 9.5),
        ("0,032", True, 0.032),
        ("1.234.567,25", True, 1234567.25),
        ("12.5", True, 12.5),
        ("9,5", False, None),
        ("0,032", False, None),  # no thousands begin with 0
        ("1,23,456", False, None),
        ("1,234", True, None),  # one and a quarter, or twelve hundred
        ("1.234", True, None),
        ("nan", False, None),
        ("inf", False, None),
        ("9.50 $/yd", False, None),
        ("(5.00)", False, None),
        ("1 1/2", False, None),
        ("", False, None),
    ],
)
def test_a_number_is_read_as_it_was_meant_or_not_at_all(
    words: str, commas: bool, number: float | None
) -> None:
    assert csvfile.number(words, commas) == number


@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("2026-05-14", date(2026, 5, 14)),
        ("2026/5/14", date(2026, 5, 14)),
        ("2026-05-04", date(2026, 5, 4)),
        ("5/14/2026", date(2026, 5, 14)),
        ("14/5/2026", date(2026, 5, 14)),
        ("14.5.2026", date(2026, 5, 14)),
        ("5/5/2026", date(2026, 5, 5)),
        ("4 May 2026", date(2026, 5, 4)),
        ("May 4, 2026", date(2026, 5, 4)),
        ("04-MAY-2026", date(2026, 5, 4)),
        ("Sept. 4, 2026", date(2026, 9, 4)),
        ("04/05/2026", None),  # May, or April
        ("4.5.2026", None),
        ("05/04/26", None),  # as a spreadsheet writes 2026-05-04 anew
        ("5/14/26", None),  # 1926, or 2026
        ("14-May-26", None),
        ("31/31/2026", None),
        ("14 Mai 2026x", None),
        ("2026-02-30", None),
        ("4 Foo 2026", None),
        ("soon", None),
    ],
)
def test_a_date_is_read_as_it_was_meant_or_not_at_all(words: str, day: date | None) -> None:
    assert csvfile.day(words) == day


@pytest.mark.parametrize(
    ("words", "clock"),
    [
        ("7:30", time(7, 30)), ("07:30:00", time(7, 30)), ("12:00:00 PM", time(12)),
        ("12:15 am", time(0, 15)), ("1:05 p.m.", time(13, 5)), ("13:00", time(13)),
        ("13:00 pm", None), ("0:30 am", None), ("24:00", None), ("7", None), ("7:61", None),
    ],
)  # fmt: skip
def test_a_time_is_read_as_it_was_meant_or_not_at_all(words: str, clock: time | None) -> None:
    assert csvfile.clock(words) == clock


# Formulas in words --------------------------------------------------------------------


@given(st.text(alphabet=st.sampled_from("=+-@'\t\r\n ab1\uff1d"), max_size=8))
def test_guarded_words_come_back_and_start_no_formula(words: str) -> None:
    guarded = csvfile.guarded(words)
    assert csvfile.bare(guarded) == words
    assert guarded.lstrip(" ")[:1] not in {"=", "+", "-", "@", "\t", "\r", "\uff1d"}


def test_nasty_names_pass_through_a_spreadsheet_and_run_nowhere(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    names = [n for n in NASTY if not n.startswith("=")]  # the others no entry takes
    own = {"own": [{"what": n, "price": 1 + i} for i, n in enumerate(names)]}
    wanted, _ = job_entries(shop.load_book("us"), own, "test")  # more lines than a small one has
    first, prices = tmp_path / "first.xlsx", tmp_path / "p.csv"
    shop.build("us", wanted, first)
    text, problems = saved(first)
    assert problems == []
    learned = [{"table": "x", "odd ones": csvfile.guarded(n)} for n in NASTY]
    prices.write_text(text, "utf-8", newline="")
    (tmp_path / "n.csv").write_text(
        csvfile.text(("table", "odd ones"), learned), "utf-8", newline=""
    )
    profile = tmp_path / "profile"
    programs.convert([prices, tmp_path / "n.csv"], "xlsx", tmp_path / "out", profile)
    for name, count in (("p.xlsx", len(names)), ("n.xlsx", len(NASTY))):
        sheet = openpyxl.load_workbook(tmp_path / "out" / name).active
        cells = [c for row in sheet.iter_rows() for c in row if c.value is not None]
        assert [c.value for c in cells if c.data_type == "f"] == []
        assert sum(str(c.value).startswith("'") for c in cells) > count / 2
    programs.convert([prices], "csv", tmp_path / "again", profile)
    found = loaded(shelf("blank-us"), tmp_path / "again" / "p.csv")
    assert found.problems == []
    assert found.entries["own.what"][: len(names)] == names
    assert found.entries["own.price"][: len(names)] == wanted["own.price"][: len(names)]


# Bad lines ----------------------------------------------------------------------------

BAD = {
    "prizes,boards,,price,9,,,,,": ("table", "came 'prizes'; did you mean 'prices'?"),
    "forms,boards,,boards.yours,9,,,,,": ("table", "came 'forms'"),
    "prices,boards,,prise,9,,,,,": ("figure", "came 'prise'; did you mean 'price'?"),
    "prices,board,,price,9,,,,,": ("line", "came 'board'; did you mean 'boards'?"),
    "prices,,,price,9,,,,,": ("line", "came ''"),
    "ways,4,,set_up,5,,,,,": ("line", "came '4'; expected its number, 1 to 3"),
    "prices,boards,,price,nine,,,,,": ("value", "came 'nine'; expected a number from 0 to 100000"),
    "prices,stone,,price,-4,,,,,": ("value", "came -4; expected a number from 0 to 100000"),
    'prices,nails,,price,"9,5",,,,,': ("value", "write it as 9.50"),
    "prices,mats,,price,9,,4.5.2026,,,": ("date", "came '4.5.2026'; expected a date"),
    "prices,plastic,,price,9,,1926-05-14,,,": ("date", "expected a date from 2000 to 2099"),
    "prices,concrete_1,,price,158,m³,,,,": ("unit", "came 'm³'; its unit in the workbook is"),
    "own,,,price,9,,,,,": ("what", "expected the name of the line"),
    "labor,,,task,(empty),,,,,": ("what", "expected the name of the line"),
    "prices,mats": ("figure", "came ''"),
    "own,,=1+1,price,9,,,,,": ("what", "expected words that do not start with ="),
    "own,,Gate,kind,Labour,,,,,": ("value", "did you mean 'Labor'?"),
    "own,,Fence,price,9,,,,," + "x" * 9 + ",,extra": ("", "12 cells, expected 10"),
}


def test_every_bad_line_is_named_and_nothing_is_written(
    smith: Path, write: Callable[..., Path], tmp_path: Path
) -> None:
    before = smith.read_bytes()
    prices = write(*[b for b in BAD if not b.endswith("extra")])
    result = run("prices", smith, "--load", prices, "-o", tmp_path / "new.xlsx")
    said = result.stderr.splitlines()
    assert result.exit_code == 1
    for number, (row, (column, wrong)) in enumerate(BAD.items(), 2):
        if not row.endswith("extra"):
            start = f"{prices}, line {number}, {column}: "
            assert [s for s in said if s.startswith(start) and wrong in s], (row, said)
    assert said[-1] == f"{len(BAD) - 1} problems found; nothing was written"
    assert not (tmp_path / "new.xlsx").exists()
    assert run("prices", smith, "--load", prices, "--replace").exit_code == 1
    assert smith.read_bytes() == before


@pytest.mark.parametrize(
    ("raw", "wrong"),
    [
        (b"", "holds nothing"),
        (b"\n\n", "holds nothing"),
        (b"line,price\nboards,9\n", "lacks the column table, figure, value; came line, price"),
        (b"table,figure,value,value\n", "the column value stands there twice"),
        (b'table,figure,value\nprices,price,"9\n', "line 2"),
        (b"table,figure,value\npricing,oldest,9,0\n", "line 2: 4 cells, expected 3"),
        (b"PK\x03\x04rest", "save it as CSV"),
        (b"table\0", "not a text"),
        (b"table,figure,value\n" + b"x" * 2_000_001, "over 2,000,000 bytes"),
        (b"table,figure,value\n\x81\x8d,1,1\n", "save it as CSV in UTF-8"),
    ],
)
def test_a_file_that_is_no_price_file_is_refused(
    raw: bytes, wrong: str, blank: Path, tmp_path: Path
) -> None:
    path = tmp_path / "prices.csv"
    path.write_bytes(raw)
    result = run("prices", blank, "--load", path, "-o", tmp_path / "new.xlsx")
    assert result.exit_code == 1
    assert result.stderr.startswith(str(path))
    assert wrong in result.stderr
    assert not (tmp_path / "new.xlsx").exists()


def test_a_figure_given_twice_is_named_with_both_lines(
    blank: Path, write: Callable[..., Path]
) -> None:
    prices = write("prices,boards,,price,9,,,,,", "", "Prices,BOARDS,,Price,8,,,,,")
    found = loaded(blank, prices)
    assert found.problems == [
        f"{prices}, line 4, figure: price of this line stands in line 2 already; keep one of them"
    ]


def test_a_full_table_says_so(blank: Path, write: Callable[..., Path]) -> None:
    lines = laid_out("us")[0].parts["own.what"][0].lines
    prices = write(*[f"own,,Thing {n},price,{n},,,,," for n in range(lines + 1)])
    (problem,) = loaded(blank, prices).problems
    assert problem.startswith(f"{prices}, line {lines + 2}, what: 'Thing {lines}' is not in ")
    assert f"none of its {lines} lines is free" in problem


def test_prices_of_feet_are_not_taken_for_meters(
    smith: Path, shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    prices = tmp_path / "prices.csv"
    text = "".join(row for row in saved(smith)[0].splitlines(keepends=True)
                   if not row.startswith("place,"))  # fmt: skip
    prices.write_text(text, "utf-8", newline="")
    (problem,) = loaded(shelf("blank-si-small"), prices).problems
    assert ", unit: came '" in problem
    assert "more lines: " in problem
    assert "nothing is converted" in problem
    lines = [r for r in prices.read_text("utf-8-sig").splitlines() if r.startswith("prices,conc")]
    prices.write_text("\n".join([HEAD, lines[0]]), "utf-8")
    (problem,) = loaded(shelf("blank-si-small"), prices).problems
    assert "line 2, unit: came 'yd³'; its unit in the workbook is 'm³'" in problem


def test_a_code_that_means_another_thing_here_is_loaded_and_said(
    write: Callable[..., Path], smith: Path
) -> None:
    found = loaded(smith, write("prices,stone,Gravel,price,50,,,,,"))
    assert found.problems == []
    (note,) = found.notes
    assert "stone is 'Gravel' there and 'Base stone" in note


def test_a_price_of_a_name_that_is_not_there_goes_to_no_other(
    write: Callable[..., Path], smith: Path
) -> None:
    before = read_workbook(smith).entries
    found = loaded(smith, write("prices,product_4,Wax,price,50,,,,,", "prices,product_5,Wax,price"))
    assert found.problems == []
    assert found.entries["prices.price"] == before["prices.price"]
    (note,) = found.notes
    assert "line 2: 'Wax' is no line of Supplies and concrete in the workbook; left out" in note


# Row by row, into the entries of a blank workbook ----------------------------------------


@cache
def blank_figures() -> Entries:
    return results("us", {})


def told(more: dict[str, list[Any]] | None = None) -> tuple[Told, Entries]:
    """Return a template that works nothing out, with some lines told, and its usual entries."""
    book, _ = laid_out("us")
    worked = {key: list(column) for key, column in blank_figures().items()}
    usual = {key: worked[key] for key in book.entries()}
    for key, values in (more or {}).items():
        worked[key][: len(values)] = values
    return Told(book, worked), {key: list(column) for key, column in usual.items()}


def put_in(prices: Path, place: str = "", **more: Any) -> Loaded:
    """Return what a file leaves of the entries of a workbook that says some things."""
    template, entries = told({key.replace("__", "."): column for key, column in more.items()})
    found = Loaded(template, entries, [])
    fill(found, prices, "job.xlsx", place)
    return found


def changed(found: Loaded) -> dict[str, Scalar]:
    """Return what a file changed: {block.figure[line, counted from 1]: its value}."""
    _, usual = told()
    return {f"{key}[{line + 1}]": value for key, column in found.entries.items()
            for line, value in enumerate(column) if value != usual[key][line]}  # fmt: skip


_SLOW: dict[str, Scalar] = {"bleeds.name[3]": "Slow", "bleeds.limit[3]": 0.1, "bleeds.was[3]": None}
MAY_4, BOARDS = 46146.0, "[36]"  # the day is 488 days after 2025-01-01, which is 45658
TAKEN: list[tuple[list[str], dict[str, Scalar]]] = [
    (["prices,boards,,price,9.5,,2026-05-04,Yard,,"],
     {f"prices.price{BOARDS}": 9.5, f"prices.date{BOARDS}": MAY_4,
      f"prices.quote{BOARDS}": "Yard"}),
    ([" Prices , BOARDS ,, Price , 9.5 ,,,,,"], {f"prices.price{BOARDS}": 9.5}),
    (["prices,boards,,price,9.5,,(empty),,,"], {f"prices.price{BOARDS}": 9.5}),
    (["prices,boards,,price,,,2026-05-04,,,"], {f"prices.date{BOARDS}": MAY_4}),
    # called by its name where its code is of another line of the same list, or of none
    (['prices,concrete_1,"Concrete, Colored",price,158,,,,,'], {"prices.price[60]": 158.0}),
    (['prices,concrete_2,"concrete, colored ",price,158,,,,,'], {"prices.price[60]": 158.0}),
    (["prices,timber,Form boards,price,9,,,,,"], {f"prices.price{BOARDS}": 9.0}),
    (["prices,boards,Nails or screws,price,9,,,,,"], {f"prices.price{BOARDS}": 9.0}),
    # of a line that is not there, and nothing to say of it
    (["prices,timber,,price,,,,,,", "prices,timber,,price,(empty),,,,,"], {}),
    (["prices,product_4,Wax,price,,,,,,", "prices,concrete_1,Lime,price,(empty),,,,,"], {}),
    (["ways,3,,set_up,5,,,,,"], {"ways.set_up[3]": 5.0}),
    (["ways,7,Wheelbarrow,set_up,5,,,,,"], {"ways.set_up[2]": 5.0}),
    (["set_times,8,,hours,5,,,,,"], {"set_times.hours[8]": 5.0}),
    (["pricing,,,oldest,77,,,,,"], {"pricing.oldest[1]": 77.0}),
    (["workdays,,,latest,7:30,,,,,"], {"workdays.latest[1]": 7.5 / 24}),
    (["markups,,,profit,12.5 %,,,,,"], {"markups.profit[1]": 0.125}),
    (["markups,,,profit,12.5,,,,,"], {"markups.profit[1]": 0.125}),
    # by its name: on its number's line where that is free, else on the first free one
    (["own,2,Permit,price,85,,,,,", "own,2,permit ,unit,each,,,,,"],
     {"own.what[2]": "Permit", "own.price[2]": 85.0, "own.unit[2]": "each"}),
    (["own,2,Permit,price,85,,,,,", "own,3,Permit,price,40,,,,,"],
     {"own.what[2]": "Permit", "own.price[2]": 85.0,
      "own.what[3]": "Permit", "own.price[3]": 40.0}),
    (["own,,Permit,price,85,,,,,", "own,1,Gate,price,40,,,,,", "own,9,Sign,price,7,,,,,"],
     {"own.what[1]": "Permit", "own.price[1]": 85.0, "own.what[2]": "Gate", "own.price[2]": 40.0,
      "own.what[3]": "Sign", "own.price[3]": 7.0}),
    (["own,1,Permit,price,85,each,,,Town hall,"],
     {"own.what[1]": "Permit", "own.price[1]": 85.0, "own.unit[1]": "each",
      "own.from[1]": "Town hall"}),
    (["own,1,'=Permit,price,85,,,,,"], {}),
    (["finishes,2,Sealed,texture,5,,,,,"], {"finishes.name[6]": "Sealed",
                                          "finishes.texture[6]": 0.05}),
    (["labor,26, stamp,rate,0.12,,,3 own jobs,,"],
     {"labor.rate[26]": 0.12, "labor.source[26]": "3 own jobs"}),
    # a line that is left out is free for another name, and once all others are taken
    (["bleeds,,Silica fume,name,(empty),,,,,", "bleeds,,Nothing such,name,(empty),,,,,",
      "bleeds,,Slow,limit,0.1,,,,,"], _SLOW),
    (["bleeds,,Slow,limit,0.1,,,,,", "bleeds,,Silica fume,name,(empty),,,,,"],
     _SLOW),
    (["mixes,,,name,,,,,,", "own,,Gate,kind,Labor,,,,,"],
     {"own.what[1]": "Gate", "own.kind[1]": "Labor"}),
    (["mat,,,length.ft,3.5,ft,,,,"], {"mat.length.ft[1]": 3.5}),
    (["own,,00123,quote,'0456,,,,,"], {"own.what[1]": "00123", "own.quote[1]": "0456"}),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "new"), TAKEN, ids=[lines[-1] for lines, _ in TAKEN])
def test_a_row_changes_its_line_and_no_other(
    lines: list[str], new: dict[str, Scalar], write: Callable[..., Path]
) -> None:
    found = put_in(write(*lines))
    assert changed(found) == new


def test_figures_that_were_taken_are_counted(write: Callable[..., Path]) -> None:
    found = put_in(write("prices,boards,,price,9.5,,2026-05-04,Yard,,", "pricing,,,oldest,90,,,,,",
                         "prices,nails,,price,,,,,,"))  # fmt: skip
    assert (found.taken, found.problems, found.notes) == (2, [], [])


SLIPS: list[tuple[list[str], list[str]]] = [
    (["prices,boards,,price,9,,,,,", "Prices,BOARDS,,Price,8,,,,,"],
     ["line 3, figure: price of this line stands in line 2 already; keep one of them"]),
    (["own,,,price,9,,,,,"], ["line 2, what: came nothing; expected the name of the line"]),
    (["labor,, ,task,(empty),,,,,"], ["line 2, what: came nothing; expected the name of the line"]),
    (["prices,Board,,price,9,,,,,"],
     ["line 2, line: came 'board'; did you mean 'boards'?: the code of a line stands beside it in "
      "the workbook"]),
    (["ways,0,,set_up,5,,,,,"], ["line 2, line: came '0'; expected its number, 1 to 3"]),
    (["ways,4,,set_up,5,,,,,"], ["line 2, line: came '4'; expected its number, 1 to 3"]),
    (["workdays,,,latest,noon,,,,,"],
     ["line 2, value: came 'noon'; expected a time of the day such as 7:30: write it as 07:30"]),
    (["prices,stone,,price,-4,,,,,"],
     ["line 2, value: came -4; expected a number from 0 to 100000 $: correct it, or leave it "
      "empty"]),
    (["own,,Gate,kind,Labour,,,,,"], ["line 2, value: came 'Labour'; did you mean 'Labor'?"]),
    (["mat,,,length.m,1.2,m,,,,", *["", "pricing,,,oldest,90,,,,,"]],
     ["line 2, figure: came 'length.m'; here it is 'length.ft': nothing is converted; correct "
      "figure and unit, or save them from a workbook in the units of this one"]),
    (["pricing,,,oldest,90,weeks,,,,"],
     ["line 2, unit: came 'weeks'; its unit in the workbook is 'days': nothing is converted; "
      "correct figure and unit, or save them from a workbook in the units of this one"]),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "said"), SLIPS, ids=[lines[-1] for lines, _ in SLIPS])
def test_a_row_that_cannot_be_taken_is_told_with_line_and_column(
    lines: list[str], said: list[str], write: Callable[..., Path]
) -> None:
    prices = write(*lines)
    assert put_in(prices).problems == [f"{prices}, {one}" for one in said]


def test_figures_of_other_units_are_one_problem_and_where_they_are_many_the_only_one(
    write: Callable[..., Path],
) -> None:
    foreign = [f"labor,,{task},rate,0.1,m³,,,," for task in ("Broom", "Stamp")]
    slip = "prices,stone,,price,-4,,,,,"
    sound = [
        f"prices,{code},,price,9,,,,," for code in ("boards", "nails", "mats", "fill", "stakes")
    ]
    few = put_in(write(slip, *foreign, *sound), labor__unit=["ft²"] * 47).problems
    many = put_in(write(slip, *foreign), labor__unit=["ft²"] * 47).problems
    assert [one.partition("csv, ")[2][:12] for one in few] == ["line 2, valu", "line 3, unit"]
    assert len(many) == 1
    for one in (few[1], many[0]):
        assert (
            "line 3, unit: came 'm³'; its unit in the workbook is 'ft²' (and so in 1 more " in one
        )
        assert "lines: 4): nothing is converted" in one


def test_of_many_lines_with_the_same_slip_four_are_named(write: Callable[..., Path]) -> None:
    days = [f"prices,{code},,price,9,,soon,,," for code in
            ("boards", "stakes", "nails", "stone", "fill", "mats")]  # fmt: skip
    prices = write(*days)
    (problem,) = put_in(prices).problems
    assert problem.startswith(f"{prices}, line 2, date: came 'soon' (and so in 5 more lines: 3, 4, "
                              "5, 6, …); expected a date that can be read in one way")  # fmt: skip
    (problem,) = put_in(write(*days[:5])).problems
    assert "(and so in 4 more lines: 3, 4, 5, 6);" in problem
    (problem,) = put_in(write(days[0])).problems
    assert "came 'soon'; expected a date" in problem


def test_a_day_that_could_be_two_is_read_as_the_place_writes_it_and_said(
    write: Callable[..., Path],
) -> None:
    prices = write("prices,boards,,price,9,,05/04/2026,,,", "prices,nails,,price,9,,06/04/2026,,,")
    found = put_in(prices, "united-states")
    assert found.entries["prices.date"][35] == MAY_4
    assert found.notes == [f"{prices}, line 2: 05/04/2026 is read as 2026-05-04, month first "
                           "(and so in 1 more lines: 3)"]  # fmt: skip
    (problem,) = put_in(prices, "canada").problems
    assert "came '05/04/2026' (and so in 1 more lines: 3)" in problem
    clear = put_in(write("prices,boards,,price,9,,2026-05-04,,,"))
    assert (clear.entries["prices.date"][35], clear.notes) == (MAY_4, [])


def test_the_row_of_the_place_is_asked_first_and_taken_out(write: Callable[..., Path]) -> None:
    prices = write("pricing,,,oldest,77,,,,,", "place,,,place,canada,,,,,")
    ours = laid_out("us")[0].local
    found = put_in(prices)
    assert changed(found) == {}
    assert found.problems == [
        f"{prices}, line 3, value: the figures are for Canada, the workbook is for {ours.name}: "
        "money and taxes are not converted. Where the figures do hold there, write "
        f"{ours.key} in that cell"
    ]
    found = put_in(write("pricing,,,oldest,77,,,,,", "place,,,place,Narnia,,,,,"))
    assert "the figures are for 'narnia'" in found.problems[0]
    found = put_in(write("pricing,,,oldest,77,,,,,", f"Place,,,place, {ours.key.upper()},,,,,"))
    assert (found.problems, changed(found)) == ([], {"pricing.oldest[1]": 77.0})


def test_prices_of_a_contract_that_stands_are_left_as_they_were_signed(
    write: Callable[..., Path],
) -> None:
    keys = laid_out("us")[0].keys
    prices = write("terms,,,valid,77,,,,,", "pricing,,,oldest,77,,,,,")
    told = {"contract_stands": [1.0], "contract": [900.0], "contract_kept": [1.0]}
    stands: dict[str, Any] = {keys[key].replace(".", "__"): said for key, said in told.items()}
    found = put_in(prices, **stands)
    assert changed(found) == {"pricing.oldest[1]": 77.0}
    assert f"{prices}: 1 lines of Terms are left out: what was signed stays" in found.notes
    assert len(changed(put_in(prices))) == 2


def test_what_is_wrong_with_the_workbook_itself_is_told_with_its_name(
    write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    template, typed = told()
    came = Filled(template, typed, ["Labor!C9: came #REF!"], ["the sheet 'Mine'"], ["a note"])
    monkeypatch.setattr(priceload, "read_workbook", lambda *_: came)
    prices = write("pricing,,,oldest,77,,,,,")
    found = priceload.loaded(Path("job.xlsx"), prices, shop.TEMPLATES)
    assert found.problems == ["job.xlsx: Labor!C9: came #REF!"]
    assert (found.notes, found.added) == (["job.xlsx: a note"], ["the sheet 'Mine'"])
    assert changed(found) == {"pricing.oldest[1]": 77.0}


def test_a_choice_that_lost_its_name_is_said_once_for_all_lines(
    write: Callable[..., Path],
) -> None:
    prices = write("pricing,,,oldest,77,,,,,")
    found = put_in(prices, pieces__finish=["Sandblasted", "Sandblasted", "Stamped"])
    (note,) = found.notes
    assert note.startswith("job.xlsx: Slab pieces: 'Sandblasted' is chosen 2 times and is in its")


def test_a_name_in_place_of_another_is_loaded_and_said(write: Callable[..., Path]) -> None:
    prices = write("prices,boards,Nails,price,9,,,,,", "prices,stone,,price,9,,,,,",
                   "prices,stakes,Stakes ,price,9,,,,,",
                   "prices,nails,Lag bolts,price,,,,,,")  # fmt: skip
    assert put_in(prices).notes == [
        f"{prices}, line 2: boards is 'Nails' there and 'Form boards' in the workbook; loaded"
    ]


def test_after_fifty_problems_nobody_is_told_what_was_meant(write: Callable[..., Path]) -> None:
    found = put_in(write(*["prizes,boards,,price,9,,,,,"] * 60)).problems
    said = [one.rpartition("; ")[2] for one in found]
    assert said == ["did you mean 'prices'?"] * 51 + ["no such name"] * 9


def test_a_file_without_a_column_is_not_taken_at_all(write: Callable[..., Path]) -> None:
    found = put_in(write("pricing,oldest", "pricing,oldest", head="table,figure"))
    assert (changed(found), len(found.problems)) == ({}, 1)


# Saved from the figures of a workbook ---------------------------------------------------


def written(monkeypatch: pytest.MonkeyPatch, **more: list[Any]) -> tuple[list[dict[str, str]], Any]:
    """Return the rows and notes of a workbook that says some things."""
    template, entries = told({key.replace("__", "."): column for key, column in more.items()})
    came = Filled(template, entries, [], [], ["a note"])
    monkeypatch.setattr(pricesave, "read_workbook", lambda *_: came)
    text, problems, notes = pricesave.saved(Path("job.xlsx"), shop.TEMPLATES)
    assert (problems, notes[0]) == ([], "a note")
    return rows(text), notes[1:]


def test_a_blank_workbook_saves_its_usual_figures_and_asks_for_prices(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found, notes = written(monkeypatch)
    assert notes == []
    assert (found[0]["table"], found[0]["value"]) == ("place", laid_out("us")[0].local.key)
    by_line = {(r["table"], r["line"], r["figure"]): r for r in found}
    assert len(by_line) == len(found)
    assert by_line["prices", "boards", "price"]["value"] == ""  # to be filled in
    assert by_line["labor", "26", "rate"]["what"] == "Stamp"
    assert by_line["ways", "2", "set_up"]["what"] == "Wheelbarrow"
    assert not {"own", "subs"} & {r["table"] for r in found}  # nothing is typed in them
    assert {r["line"] for r in found if r["table"] == "pricing"} == {""}
    assert not [r for r in found if r["figure"] == "was"]
    assert not [r for r in found if (r["table"], r["line"]) == ("equipment", "5")]  # a free line
    assert [r for r in found if r["value"] == "(empty)"] == []


def test_what_was_typed_emptied_or_taken_out_is_saved_so(monkeypatch: pytest.MonkeyPatch) -> None:
    found, notes = written(
        monkeypatch, pricing__oldest=[None], bleeds__name=["Usual bleeding", None, "Silica fume"],
        bleeds__limit=[0.2, None, 0.1], own__what=["Night work", None, "Permit", "Gate"],
        own__price=[None, 12.0, None, None], own__quote=[None, None, "hall", None],
        own__typed=[None, None, None, 2.0],
    )  # fmt: skip
    by_line = {(r["table"], r["line"], r["figure"]): r for r in found}
    assert by_line["pricing", "", "oldest"]["value"] == "(empty)"
    assert by_line["bleeds", "", "name"] | {"meaning": ""} == {
        **dict.fromkeys(HEAD.split(","), ""), "table": "bleeds", "figure": "name",
        "what": "Little bleeding", "value": "(empty)",
    }  # fmt: skip
    assert by_line["own", "1", "what"]["value"] == "Night work"  # nothing else is typed of it
    permit = by_line["own", "3", "price"]
    assert (permit["value"], permit["source"]) == ("", "hall")
    assert [r["figure"] for r in found if r["table"] == "own" and r["line"] == "4"] == ["typed"]
    said = "left out, since no name says in another workbook which it is"
    without = ("Most drying a mix can bear", "Lines of your own")
    assert notes == [f"{table}, line 2: {said}" for table in without]


def test_a_day_is_saved_plainly_and_words_that_look_like_one_with_a_mark(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found, _ = written(monkeypatch, own__what=["Permit"], own__price=[85.0], own__date=[MAY_4],
                       own__quote=["2026-05-04"], workdays__latest=[7.5 / 24])  # fmt: skip
    (permit,) = [r for r in found if (r["table"], r["figure"]) == ("own", "price")]
    assert (permit["date"], permit["source"]) == ("2026-05-04", "'2026-05-04")
    (latest,) = [r for r in found if (r["table"], r["figure"]) == ("workdays", "latest")]
    assert latest["value"] == "07:30"


def test_lines_are_told_apart_by_names_only_where_they_are_typed_and_several() -> None:
    every = tables(laid_out("us")[0])
    for lines, told in ((1, False), (2, True), (3, True)):
        two = {
            key: Table(replace(every[key].block, lines=lines)) for key in ("own", "ways", "told")
        }
        assert (two["own"].name is not None, two["own"].main is not None) == (told, told)
        assert (two["ways"].called is not None, two["ways"].name) == (told, None)
        assert (two["told"].called is not None) == told
        assert two["told"].name is None
    assert every["holidays"].name is None  # their order tells them apart
    assert every["set_times"].name is None


def test_a_former_name_is_saved_where_it_says_another_thing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    names = ["Usual bleeding", "Slow"]
    found, _ = written(monkeypatch, bleeds__name=names, bleeds__was=["Usual bleeding", "Little"])
    said = [(r["what"], r["value"]) for r in found
            if (r["table"], r["figure"]) == ("bleeds", "was")]  # fmt: skip
    assert ("Slow", "Little") in said
    assert "Usual bleeding" not in dict(said)


# The workbook it goes into ------------------------------------------------------------


def test_a_workbook_with_a_problem_is_neither_saved_nor_loaded(
    smith: Path, write: Callable[..., Path], tmp_path: Path
) -> None:
    bad = tmp_path / "bad.xlsx"
    book = openpyxl.load_workbook(smith)
    sheet, row, column = laid_out("us")[1].spots["pricing.oldest"].sheet, *at("pricing.oldest")
    book[sheet].cell(row, column).value = "half a year"
    book.save(bad)
    before = bad.read_bytes()
    uses: list[list[str | Path]] = [
        ["--save", tmp_path / "p.csv"],
        ["--load", write("pricing,,,oldest,90,,,,,"), "--replace"],
    ]
    for words in uses:
        result = run("prices", bad, *words)
        assert result.exit_code == 1
        assert "half a year" in result.stderr
        assert result.stderr.endswith("1 problem found; nothing was written\n")
    assert bad.read_bytes() == before
    assert not (tmp_path / "p.csv").exists()


def at(key: str, line: int = 0) -> tuple[int, int]:
    """Return row and column of an entry, counted from 1."""
    row, column = laid_out("us")[1].spots[key].at(line)
    return row + 1, column + 1


def test_sheets_and_comments_of_ones_own_are_not_lost_unasked(
    smith: Path, write: Callable[..., Path], tmp_path: Path
) -> None:
    mine = tmp_path / "mine.xlsx"
    book = openpyxl.load_workbook(smith)
    book.create_sheet("Notes")["A1"] = "gate code 4711"
    book["Prices"]["A1"].comment = Comment("ask again", "me")
    book.save(mine)
    before = mine.read_bytes()
    prices = write("prices,boards,,price,9,,,,,")
    result = run("prices", mine, "--load", prices, "--replace")
    assert result.exit_code == 1
    assert "the sheet 'Notes', comments would not be carried over" in result.stderr
    assert mine.read_bytes() == before
    result = run("prices", mine, "--load", prices, "-o", tmp_path / "new.xlsx")
    assert result.exit_code == 0
    assert "the sheet 'Notes', comments are not carried over" in result.stderr
    assert mine.read_bytes() == before


def test_loading_over_the_file_itself_keeps_the_job(
    smith: Path, write: Callable[..., Path], tmp_path: Path
) -> None:
    path = Path(shutil.copy(smith, tmp_path / "smith.xlsx"))
    before = read_workbook(path).entries
    assert run("prices", path, "--load", write("prices,nails,,price,0.03,,,,,")).exit_code == 2
    result = run("prices", path, "--load", write("prices,nails,,price,0.03,,,,,"), "--replace")
    assert (result.exit_code, result.stderr) == (0, "")
    after = read_workbook(path).entries
    nails = laid_out("us")[0].parts["prices.price"][0].codes.index("nails")
    assert after["prices.price"][nails] == 0.03
    after["prices.price"][nails] = None
    assert after == before


def test_bad_use_is_told_with_what_to_write(smith: Path, tmp_path: Path) -> None:
    prices = tmp_path / "prices.csv"
    prices.write_text("mine")
    uses: list[tuple[list[str | Path], str]] = [
        ([], "--save OURS.csv, or --load OURS.csv"),
        (["--save", prices, "--load", prices], "either"),
        (["--save", prices, "-o", "new.xlsx"], "either"),
        (["--save", prices], "--replace"),
        (["--save", "prices.txt"], "ends in .csv"),
        (["--load", prices], "-o NEW.xlsx, or --replace"),
        (["--load", prices, "-o", "new.csv"], "ends in .xlsx"),
    ]
    for words, hint in uses:
        result = run("prices", smith, *words)
        assert (result.exit_code, hint in result.stderr) == (2, True), result.stderr
    assert prices.read_text() == "mine"
    assert run("prices", smith, "--save", prices, "--replace").exit_code == 0
    assert prices.read_text("utf-8-sig").startswith("table,")
    assert run("prices", tmp_path / "no.xlsx", "--save", tmp_path / "n.csv").exit_code == 1


# To the cent --------------------------------------------------------------------------


def price_list(seed: int) -> tuple[Entries, list[tuple[str, Decimal, Decimal]]]:
    """Return free lines with random quantities and prices, many of them on a half cent."""
    dice = Random(seed)
    lines = []
    for n in range(6):
        if n % 2:  # a price in mills times an odd whole number ends on a half cent or beside it
            count = Decimal(dice.randrange(1, 2000, 2))
            price = Decimal(dice.randrange(5, 20000, 10)) / 1000
        else:
            count = Decimal(dice.randrange(1, 10**7)) / 1000
            price = Decimal(dice.randrange(1, 10**6)) / 1000
        lines.append((f"Line {n + 1}", count, price))
    own = [{"what": w, "typed": float(c), "price": float(p)} for w, c, p in lines]
    return entries({"own": own}), lines


def test_random_price_lists_agree_to_the_cent_in_every_engine(tmp_path: Path) -> None:
    lists = {tmp_path / f"list-{seed}.xlsx": price_list(seed) for seed in (1, 2, 3)}
    for path, (typed, _) in lists.items():
        build("us", typed, path)
    worked = {p: [engines.by_ironcalc(p), engines.by_formualizer(p)] for p in lists}
    for path, values in engines.by_libreoffice(lists, tmp_path).items():
        worked[path].append(values)
    _, places = laid_out("us")

    def column(values: engines.Values, key: str) -> list[engines.Value]:
        spot, lines = places.spots[key], laid_out("us")[0].parts[key][0].lines
        cells = [spot.at(n) for n in range(lines)]
        return [values.get((spot.sheet, r + 1, c + 1), "") for r, c in cells]

    halves = 0
    for path, (_, lines) in lists.items():
        exact = {what: count * price for what, count, price in lines}
        cents = {w: x.quantize(Decimal("0.01"), ROUND_HALF_UP) for w, x in exact.items()}
        halves += sum(x * 1000 % 10 == 5 for x in exact.values())
        for values in worked[path]:
            names, amounts = column(values, "costs.name"), column(values, "costs.amount")
            found = {str(n): a for n, a in zip(names, amounts, strict=True) if n in cents}
            assert {w: Decimal(str(a)) for w, a in found.items()} == cents
            total = sum(float(c) for c in column(values, "kind_cost.cost"))
            others = sum(float(a) for n, a in zip(names, amounts, strict=True)
                         if n not in cents and isinstance(a, float))  # fmt: skip
            assert round(total - others, 6) == float(sum(cents.values()))
            assert others == 0
    assert halves >= 8
