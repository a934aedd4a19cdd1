"""Workbooks as they come back: filled in by a person, saved by another program, damaged."""

from __future__ import annotations

import io
import re
import shutil
import zipfile
from collections import defaultdict
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import openpyxl
import openpyxl.xml
import pytest
from click.testing import CliRunner
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.worksheet import Worksheet

import programs
import shop
from pourtally import accept, guard, read
from pourtally.cli import main
from pourtally.files import release
from pourtally.guard import UnusableError, package
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Size, Units
from pourtally.place import address
from pourtally.read import Filled
from pourtally.sheets import Cells, Sheets, Where
from pourtally.typed import taken
from shop import read_workbook

pytestmark = pytest.mark.xdist_group("read")  # its workbooks are made once

# A small workbook does, and is built, read and saved in less time.
build = partial(shop.build, size="small")
laid_out = partial(shop.laid_out, size="small")
results = partial(shop.results, size="small")

JOB: dict[str, Any] = {
    "job": {
        "name": "Smith & Sons <patio>",
        "customer": "12 Elm\nSpringfield",
        "date": date(2026, 5, 14),
    },
    "usual": {"finish": "stamped"},
    "finishes": [{"line": 6, "name": "Sandblasted"}],
    "pieces": [
        {"what": "Walk", "shape": "Rectangle", "a": 16.5, "b": 4, "finish": "Sandblasted"},
        {"line": 12, "shape": "Circle", "a": 2, "sign": "Deduct"},
    ],
    "bands": [{"length": 27, "width": 18, "inside_across": 2, "inside_along": 1}],
    "corners": [{"line": 2, "x": 0, "y": 0}, {"x": 9, "y": 0}, {"x": 9, "y": 5}],
    "placements": [{"date": date(2026, 6, 2), "start": time(6, 45), "crew": 4}],
    "pours": [{"line": 2, "order": {"yours": 6.5}}],
}


def job(units: Units = "us") -> Entries:
    typed, problems = job_entries(laid_out(units)[0], JOB, "test")
    assert problems == []
    return typed


@pytest.fixture(scope="module")
def shelf_us(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("us") / "smith.xlsx"
    build("us", job(), path)
    return path


@pytest.fixture
def filled(shelf_us: Path, tmp_path: Path) -> Path:
    """Return a fresh copy of a filled-in workbook."""
    return Path(shutil.copy(shelf_us, tmp_path / "smith.xlsx"))


def cell(key: str, line: int = 0) -> tuple[str, str]:
    """Return sheet and address of an entry."""
    spot = laid_out("us")[1].spots[key]
    return spot.sheet, address(*spot.at(line))


def repack(path: Path, change: Callable[[str, bytes], bytes | None]) -> None:
    """Write a zip again, each of its parts changed or, for None, left out."""
    with zipfile.ZipFile(path) as archive:
        parts = {n: change(n, archive.read(n)) for n in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            if data is not None:
                archive.writestr(name, data)


def put(path: Path, key: str, line: int, xml: str) -> None:
    """Replace one cell in the file itself: ``xml`` is what follows its address."""
    sheet, at = cell(key, line)
    number = [s.name for s in laid_out("us")[0].sheets].index(sheet) + 1

    def change(name: str, data: bytes) -> bytes:
        if name != f"xl/worksheets/sheet{number}.xml":
            return data
        text, count = re.subn(
            f'<c r="{at}"[^>]*?(/>|>.*?</c>)', f'<c r="{at}"{xml}</c>', data.decode()
        )
        assert count == 1
        return text.encode()

    repack(path, change)


def retype(path: Path, typed: list[tuple[str, int, Any, str | None]]) -> None:
    """Type values, and formats, into cells with another program that keeps no stored values."""
    workbook = openpyxl.load_workbook(path)
    for key, line, value, look in typed:
        sheet, at = cell(key, line)
        workbook[sheet][at].value = value
        if look:
            workbook[sheet][at].number_format = look
    workbook.save(path)


def refusal(path: Path) -> str:
    with pytest.raises(UnusableError) as error:
        read_workbook(path)
    return str(error.value)


# Round trips ------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["us", "si"])
def test_entries_come_back_as_they_were_built_in(units: Units, tmp_path: Path) -> None:
    path = tmp_path / "smith.xlsx"
    build(units, job(units), path)
    found = read_workbook(path)
    assert (found.template.units, found.problems) == (units, [])
    assert found.entries == job(units)


@pytest.fixture(scope="module")
def resaved(shelf_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the workbook as LibreOffice saves it."""
    folder = tmp_path_factory.mktemp("resaved")
    programs.convert([shelf_us], "xlsx", folder, folder / "profile")
    return folder / shelf_us.name


def test_entries_survive_being_saved_by_libreoffice(resaved: Path) -> None:
    found = read_workbook(resaved)
    assert (found.template.units, found.problems) == ("us", [])
    assert found.entries == job()
    assert results("us", found.entries) == results("us", job())


def test_entries_are_found_by_name_where_a_row_was_put_in_above(filled: Path) -> None:
    workbook = openpyxl.load_workbook(filled)
    workbook["Measure"].insert_rows(3, 2)
    for defined in workbook.defined_names.values():
        sheet, _, at = defined.attr_text.partition("!")
        if sheet == "Measure":
            row = int(at.rsplit("$", 1)[1])
            defined.attr_text = f"{sheet}!{at.rsplit('$', 1)[0]}${row + 2}"
    workbook.save(filled)
    found = read_workbook(filled)
    assert (found.problems, found.entries) == ([], job())


@pytest.mark.parametrize(
    ("sheet", "change", "table"),
    [
        ("Measure", lambda s: s.insert_rows(row_of("pieces.a.ft") + 5), "Slab pieces: line 6"),
        ("Measure", lambda s: s.delete_rows(row_of("pieces.a.ft") + 5), "Slab pieces: line 6"),
        ("Bands", lambda s: s.insert_cols(column_of("bands.length.ft") + 2), "line 3"),
    ],
    ids=["a row put in", "a row taken out", "a column put in"],
)
def test_a_table_that_was_torn_apart_is_not_taken(
    sheet: str, change: Callable[[Worksheet], None], table: str, filled: Path
) -> None:
    workbook = openpyxl.load_workbook(filled)
    change(workbook[sheet])
    workbook.save(filled)
    found = read_workbook(filled)
    assert any(f"{table} is not where it belongs" in p for p in found.problems)
    key = "pieces.a.ft" if sheet == "Measure" else "bands.length.ft"
    assert set(found.entries[key]) == {None}


def row_of(key: str) -> int:
    return laid_out("us")[1].spots[key].row + 1


def column_of(key: str) -> int:
    return laid_out("us")[1].spots[key].column + 1


def drop_names(name: str, data: bytes) -> bytes:
    if name != "xl/workbook.xml":
        return data
    return re.sub(rb"<definedNames>.*</definedNames>", b"", data, flags=re.DOTALL)


def drop_properties(name: str, data: bytes) -> bytes:
    return re.sub(rb"<dc:description>.*</dc:description>", b"", data)


@pytest.mark.parametrize(
    "drops",
    [[drop_properties], [drop_names], [drop_properties, drop_names]],
    ids=["its properties", "its names", "both"],
)
def test_a_program_may_drop(drops: list[Any], filled: Path) -> None:
    for drop in drops:
        repack(filled, drop)
    found = read_workbook(filled)
    assert (found.template.units, found.problems, found.entries) == ("us", [], job())


def test_one_lost_name_is_a_problem_and_the_rest_is_read(filled: Path) -> None:
    workbook = openpyxl.load_workbook(filled)
    del workbook.defined_names["job.name"]
    workbook.save(filled)
    found = read_workbook(filled)
    assert [p.partition(". ")[0] for p in found.problems] == [
        "The job: not found, so usual values are taken: Job",
    ]
    assert found.entries["pieces.a.ft"] == job()["pieces.a.ft"]


ELSEWHERE = {
    "delivery.truck": "Pours!#REF!",
    "delivery.short": "#REF!",
    "delivery.short_flat": "[1]Pours!$C$16",
    "delivery.short_each": "'[old.xlsx]Pours'!$C$16",
    "delivery.loading": "Gone!$C$16",
    "delivery.drive": "Pours!$C$16:$C$17",
    "delivery.washing": "Pours!$C$16,Pours!$C$18",
    "delivery.oldest": "usual.finish",
}


@pytest.mark.parametrize("older", [False, True])
def test_a_name_that_points_elsewhere_is_a_problem(
    older: bool, filled: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    workbook = openpyxl.load_workbook(filled)
    for key, there in ELSEWHERE.items():
        workbook.defined_names[key].attr_text = there
    workbook.save(filled)
    if older:
        monkeypatch.setattr(read, "release", lambda: "99.0")
    found = read_workbook(filled)
    (problem,) = found.problems
    assert problem.startswith("Delivery: not found, so usual values are taken: ")
    for key, there in ELSEWHERE.items():
        _, item, _ = laid_out("us")[0].parts[key]
        assert f"{item.label} (its name points at {there})" in problem, key
    assert found.entries["pieces.a.ft"] == job()["pieces.a.ft"]


# Versions ---------------------------------------------------------------------------


@pytest.mark.parametrize("keeps", ["properties", "words"])
def test_a_newer_version_is_refused(keeps: str, filled: Path) -> None:
    def change(name: str, data: bytes) -> bytes:
        if keeps == "words":
            data = drop_properties(name, data)
        return re.sub(rb"Pourtally \d[\d.]*\d", b"Pourtally 99.10.0", data)

    repack(filled, change)
    assert "made by a newer version, 99.10.0" in refusal(filled)


def test_an_older_version_may_lack_entries(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    workbook = openpyxl.load_workbook(filled)
    del workbook.defined_names["job.name"]
    workbook.save(filled)
    monkeypatch.setattr(read, "release", lambda: "99.0")
    found = read_workbook(filled)
    assert (found.problems, "job.name" in found.entries) == ([], False)


def test_an_entry_that_this_version_has_no_more_is_told(
    filled: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    workbook = openpyxl.load_workbook(filled)
    for name, cell_at in (("concrete.order.yours", "Pours!$Z$3"), ("mixes.gone", "Pours!$Z$8")):
        workbook.defined_names[name] = DefinedName(name, attr_text=cell_at)
    sheet = workbook["Pours"]
    sheet["A4"], sheet["A5"], sheet["A6"], sheet["Z6"] = 1, 2, 3, 6.5
    workbook.save(filled)
    monkeypatch.setattr(read, "release", lambda: "99.0")
    (problem,) = read_workbook(filled).problems
    assert problem.startswith("Pours Z6 (concrete.order.yours): 6.5 is not carried over")


# Not a workbook of ours -------------------------------------------------------------

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)


def zipped(**parts: str) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    return held.getvalue()


TYPES = "[Content_Types].xml"
MACROS = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
NOT_OURS = {
    "empty": (b"", "the file is empty"),
    "an old xls": (OLE, "an old .xls workbook; open it"),
    "with a password": (OLE + "EncryptedPackage".encode("utf-16-le"), "protected by a password"),
    "csv": (b"Line,Shape,A\n1,Rectangle,16\n", "plain text, such as CSV"),
    "a web page": (b"<html><table><tr><td>1</table>", "a web page or XML"),
    "an xml sheet": (b'<?xml version="1.0"?><Workbook/>', "a web page or XML"),
    "pdf": (b"%PDF-1.7\n%\xe2\xe3", "a PDF"),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a workbook; expected"),
    "ods": (
        zipped(mimetype="application/vnd.oasis.opendocument.spreadsheet"),
        "an OpenDocument file",
    ),
    "numbers": (zipped(**{"Index/Document.iwa": ""}), "an Apple Numbers file"),
    "xlsb": (zipped(**{TYPES: "", "xl/workbook.bin": ""}), "a binary .xlsb workbook"),
    "docx": (zipped(**{TYPES: "", "word/document.xml": ""}), "another kind of file"),
    "a bare zip": (zipped(**{"notes.txt": "a"}), "another kind of file"),
    "no workbook part": (zipped(**{TYPES: "", "xl/styles.xml": ""}), "xl/workbook.xml is missing"),
    "no list of parts": (zipped(**{"xl/workbook.xml": ""}), f"{TYPES} is missing"),
    "macros": (
        zipped(**{TYPES: "", "xl/workbook.xml": "", "xl/vbaProject.bin": ""}),
        "holds macros",
    ),
    "a macro file by its kind": (
        zipped(
            **{
                TYPES: f'<Override ContentType="{MACROS}" PartName="/xl/workbook.xml"/>',
                "xl/workbook.xml": "",
            }
        ),
        "holds macros",
    ),
    "the strict form": (
        zipped(
            **{
                TYPES: "",
                "xl/workbook.xml": '<workbook xmlns="http://purl.oclc.org/ooxml/'
                'spreadsheetml/main" conformance="strict"/>',
            }
        ),
        "in the strict form of .xlsx (ISO/IEC 29500 Strict), which is not read here; open it",
    ),
    "nonsense inside": (zipped(**{TYPES: "<a", "xl/workbook.xml": "b>"}), "damaged"),
    "a zip bomb": (zipped(**{"xl/workbook.xml": "0" * 200_000_001}), "unpacks to over 200 MB"),
    "too many parts": (zipped(**{f"xl/{n}": "" for n in range(5001)}), "holds 5,001 parts"),
    "too large": (bytes(20_000_001), "over 20 MB"),
}


@pytest.mark.parametrize("kind", NOT_OURS)
def test_what_is_no_workbook_of_ours_is_one_message(kind: str, tmp_path: Path) -> None:
    content, said = NOT_OURS[kind]
    path = tmp_path / "smith.xlsx"
    path.write_bytes(content)
    result = CliRunner().invoke(main, ["values", str(path)])
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (1, "", 1)
    assert result.stderr.startswith(f"{path}: ")
    assert said in result.stderr


@pytest.mark.parametrize(
    "kind",
    [
        f'<Default Extension="xlsm" ContentType="{MACROS}"/>',
        f'<Default ContentType="{MACROS}" Extension="bin"></Default>',
    ],
)
def test_a_kind_that_is_listed_and_not_used_is_no_macro(kind: str, filled: Path) -> None:
    def change(name: str, data: bytes) -> bytes:
        return (
            data.replace(b"<Override", kind.encode() + b"<Override", 1) if name == TYPES else data
        )

    repack(filled, change)
    found = read_workbook(filled)
    assert (found.problems, found.entries) == ([], job())


@pytest.mark.parametrize("start", ["", "/"])
def test_a_workbook_may_stand_under_another_name(start: str, filled: Path) -> None:
    moved = {"xl/workbook.xml": "xl/workbook2.xml",
             "xl/_rels/workbook.xml.rels": "xl/_rels/workbook2.xml.rels"}  # fmt: skip
    with zipfile.ZipFile(filled) as archive:
        parts = {n: archive.read(n) for n in archive.namelist()}
    with zipfile.ZipFile(filled, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in (TYPES, "_rels/.rels"):
            renamed = parts[name].replace(b"xl/workbook.xml", b"xl/workbook2.xml")
            parts[name] = renamed.replace(b'Target="', f'Target="{start}'.encode())
        for name, data in parts.items():
            archive.writestr(moved.get(name, name), data)
    found = read_workbook(filled)
    assert (found.problems, found.entries) == ([], job())


def test_a_file_that_is_not_there_and_a_folder_are_one_message(tmp_path: Path) -> None:
    assert "there is no such file" in refusal(tmp_path / "none.xlsx")
    assert "not a file" in refusal(tmp_path)


def test_somebody_elses_workbook_is_refused(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    workbook.active["A1"] = "Pourtally 0.1.0"
    workbook.save(tmp_path / "own.xlsx")
    assert "not one that Pourtally made" in refusal(tmp_path / "own.xlsx")


def test_a_file_cut_short_is_damaged(filled: Path) -> None:
    filled.write_bytes(filled.read_bytes()[:-5000])
    assert "damaged or only partly copied" in refusal(filled)


def test_a_file_with_a_flipped_bit_is_damaged(filled: Path) -> None:
    raw = bytearray(filled.read_bytes())
    raw[len(raw) // 2] ^= 0xFF
    filled.write_bytes(raw)
    assert "damaged" in refusal(filled)


def test_an_encrypted_zip_is_told_apart(filled: Path) -> None:
    entry = re.compile(rb"(PK\x01\x02.{4})\x00", re.DOTALL)
    flagged = entry.sub(lambda m: m.group(1) + b"\x01", filled.read_bytes())
    filled.write_bytes(flagged)
    assert "protected by a password" in refusal(filled)


@pytest.mark.parametrize("part", ["[Content_Types].xml", "xl/workbook.xml", "xl/styles.xml"])
def test_a_missing_part_is_a_message(part: str, filled: Path) -> None:
    repack(filled, lambda name, data: None if name == part else data)
    assert re.search("is missing|damaged", refusal(filled))


def test_a_missing_sheet_is_a_problem_of_every_table_on_it(filled: Path) -> None:
    repack(filled, lambda name, data: None if name == "xl/worksheets/sheet2.xml" else data)
    found = read_workbook(filled)
    tables = {b.title for b in laid_out("us")[0].blocks if b.sheet == "Measure"}
    assert {p.partition(": not found")[0] for p in found.problems} == tables


def test_entities_that_swell_are_refused(filled: Path) -> None:
    assert openpyxl.xml.DEFUSEDXML
    bomb = b'<!DOCTYPE b [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>'

    def change(name: str, data: bytes) -> bytes:
        head, _, rest = data.partition(b"?>")
        return head + b"?>" + bomb + rest if name.endswith("sheet2.xml") else data

    repack(filled, change)
    assert "damaged" in refusal(filled)


# What stands in a cell --------------------------------------------------------------

FEET, COUNT = "pieces.a.ft", "pieces.count"
SHAPE, WHAT = "pieces.shape", "pieces.what"
BAD_CELLS: list[tuple[str, int, Any, str | None, str]] = [
    (FEET, 1, "16 yd", None, "came '16 yd'; expected feet and inches such as 24' 6 1/2"),
    (FEET, 2, "1600000'", None, "came 1600000; expected a number from 0 to 2000 ft"),
    (COUNT, 3, "16", None, "came '16'; expected a whole number from 0 to 500: type the number"),
    (FEET, 3, -3, None, "came -3; expected a number from 0 to 2000 ft: correct it, or empty"),
    (FEET, 4, 1e9, None, "came 1000000000; expected a number from 0 to 2000 ft"),
    (FEET, 5, True, None, "came true; expected a number"),
    (FEET, 6, datetime(2026, 3, 4), "d-mmm", "came the date 2026-03-04: the spreadsheet made"),
    (FEET, 7, time(7, 30), "h:mm", "came the time 07:30:00, since the cell is formatted"),
    (FEET, 8, "#REF!", None, "came the error #REF!; expected a number from 0 to 2000 ft"),
    (FEET, 9, "=2+2", None, "came a formula without a stored value; expected a number"),
    (COUNT, 1, 0.05, "0%", "came 5%, which a spreadsheet keeps as 0.05; expected a whole number "),
    (COUNT, 4, datetime(2026, 3, 4), "d-mmm", "came the date 2026-03-04, since the cell is"),
    (COUNT, 2, 2.5, None, "came 2.5; expected a whole number from 0 to 500: correct it"),
    (SHAPE, 1, "Rectangel", None, "came 'Rectangel'; did you mean 'Rectangle'?; choose one of"),
    (SHAPE, 2, 7, None, "came '7'; expected one of Rectangle, "),
    (WHAT, 1, "x" * 251, None, "came 251 characters; expected at most 250"),
    ("usual.thickness", 0, 1, None, "came 1; expected a number from 2 to 24 in: correct it"),
    ("job.date", 0, "next week", None, "came 'next week'; expected a date"),
    ("placements.start", 1, "at seven", None, "came 'at seven'; expected a time of the day such"),
    ("placements.start", 2, 7, "0", "came 7; expected a time of the day such as 7:30"),
]
GOOD_CELLS: list[tuple[str, int, Any, Any]] = [
    (SHAPE, 1, "cirCLE", "cirCLE"),
    (WHAT, 1, 12.5, "12.5"),
    (WHAT, 2, "two\nlines", "two\nlines"),
    (FEET, 1, 12, 12.0),
    (FEET, 2, "  ", None),
    ("job.date", 0, date(2027, 1, 2), 46389.0),
    ("placements.start", 1, time(6, 30), 6.5 / 24),
    ("placements.start", 2, 0.5, 0.5),
    ("placements.start", 3, datetime(2026, 6, 2, 6, 30), 6.5 / 24),
]


@pytest.fixture(scope="module")
def bad(shelf_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Filled:
    path = Path(shutil.copy(shelf_us, tmp_path_factory.mktemp("bad")))
    retype(path, [(k, n, v, look) for k, n, v, look, _ in BAD_CELLS])
    return read_workbook(path)


@pytest.mark.parametrize("case", BAD_CELLS, ids=[f"{k} {v!r:.12}" for k, _, v, _, _ in BAD_CELLS])
def test_a_cell_that_cannot_be_taken_is_named(
    case: tuple[str, int, Any, str | None, str], bad: Filled
) -> None:
    key, line, _, _, said = case
    sheet, at = cell(key, line)
    (problem,) = [p for p in bad.problems if p.startswith(f"{sheet} {at} (")]
    assert said in problem
    assert bad.entries[key][line] is None


def test_only_what_is_wrong_is_named(bad: Filled) -> None:
    assert len(bad.problems) == len(BAD_CELLS)


@pytest.fixture(scope="module")
def good(shelf_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Filled:
    path = Path(shutil.copy(shelf_us, tmp_path_factory.mktemp("good")))
    retype(path, [(k, n, v, None) for k, n, v, _ in GOOD_CELLS])
    return read_workbook(path)


@pytest.mark.parametrize("case", GOOD_CELLS, ids=[f"{k} {v!r:.12}" for k, _, v, _ in GOOD_CELLS])
def test_a_cell_is_taken_as_recorded(case: tuple[str, int, Any, Any], good: Filled) -> None:
    key, line, _, recorded = case
    assert (good.entries[key][line], good.problems) == (recorded, [])


def test_a_date_is_told_from_its_day_number_and_from_one_long_past(filled: Path) -> None:
    retype(filled, [("job.date", 0, 46389, "0")])
    assert read_workbook(filled).entries["job.date"] == [46389.0]
    retype(filled, [("job.date", 0, datetime(1905, 7, 1), "yyyy")])
    assert "came 1905-07-01; expected a date from 2000" in read_workbook(filled).problems[0]


AT_7_30, MAY_14 = 7.5 / 24, 46156.0
ONE_CELL: list[tuple[str, str, Any, bool, Any]] = [
    # what stands in a cell, and what is recorded of it
    ("pricing.oldest", "n", 90, False, 90.0),
    ("pricing.oldest", "n", 90, True, 90.0),
    ("markups.profit", "n", 0.125, False, 0.125),
    ("markups.profit", "%", 0.125, False, 0.125),
    ("markups.profit", "n", 12.5, True, 0.125),
    ("markups.profit", "%", 0.125, True, None),
    ("job.date", "n", 46156, False, MAY_14),
    ("job.date", "n", 46156.7, False, MAY_14),
    ("job.date", "d", datetime(2026, 5, 14, 9), False, MAY_14),
    ("job.date", "d", date(2026, 5, 14), False, MAY_14),
    ("workdays.latest", "d", time(7, 30), False, AT_7_30),
    ("workdays.latest", "d", datetime(2026, 5, 14, 7, 30), False, AT_7_30),
    ("workdays.latest", "d", timedelta(hours=7, minutes=30), False, AT_7_30),
    ("workdays.latest", "n", AT_7_30, False, AT_7_30),
    ("workdays.latest", "n", 0, False, 0.0),
    ("workdays.latest", "d", datetime(2026, 5, 14, 1), False, 1 / 24),
    ("job.name", "n", 12.5, False, "12.5"),
    ("job.name", "n", 12.0, False, "12"),
    ("pieces.shape", "n", 7, False, "7"),
]
NOT_A_CELL: list[tuple[str, str, Any, str]] = [
    ("workdays.latest", "d", datetime(2026, 5, 14),
     "came 2026-05-14; expected a time of the day such as 7:30: correct it, or empty the cell"),
    ("workdays.latest", "n", 1.0,
     "came 1; expected a time of the day such as 7:30: correct it, or empty the cell"),
    ("pricing.oldest", "f", "=2+2",
     "came a formula without a stored value; expected a number from {}: type it"),
    ("pricing.oldest", "e", "#REF!",
     "came the error #REF!; expected a number from {}: type it again"),
    ("pricing.oldest", "%", 0.9,
     "came 90%, which a spreadsheet keeps as 0.9; expected a number from {}: clear the cell's "
     "format and type 90"),
    ("pricing.oldest", "d", datetime(2026, 5, 14),
     "came the date 2026-05-14, since the cell is formatted as a date or time; expected a number "
     "from {}: clear the cell's format and type it again"),
    ("pricing.oldest", "d", datetime(2026, 5, 14, 7),
     "came the time 2026-05-14 07:00:00, since the cell is formatted as a date or time; expected a "
     "number from {}: clear the cell's format and type it again"),
    ("pricing.oldest", "s", "90 days",
     "came '90 days'; expected a number from {}: type the number alone, without unit or words"),
    ("usual.thickness", "n", 99, "came 99; expected a number from {}: correct it"),
    ("pieces.count", "n", -1, "came -1; expected a whole number from {}: correct it"),
    ("job.date", "n", 0, "came 0; expected a date: correct it, or empty the cell"),
    ("job.date", "n", 1, "came 1899-12-31; expected a date from 2000 to 2099: correct it, or empty "
     "the cell"),
    ("job.date", "n", 1_000_000, "came 1000000; expected a date: correct it, or empty the cell"),
    ("workdays.latest", "n", 1,
     "came 1; expected a time of the day such as 7:30: correct it, or empty the cell"),
    ("workdays.latest", "n", -0.5,
     "came -0.5; expected a time of the day such as 7:30: correct it, or empty the cell"),
    ("markups.profit", "n", 18, "came 1800%; expected a number from {}: type 18 for 18 %"),
    ("markups.profit", "n", -900, "came -90000%; expected a number from {}: correct it"),
    ("markups.profit", "s", "18%%", "came '18%%': the cell adds the % itself; type 18"),
    ("markups.profit", "s", "much",
     "came 'much'; expected a number from {}: type the number alone, without unit or words"),
    ("job.name", "b", True, "came true; expected words: correct it, or empty the cell"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "kind", "value", "plain", "recorded"), ONE_CELL)
def test_what_stands_in_a_cell_is_recorded_as_it_is_meant(
    key: str, kind: str, value: Any, plain: bool, recorded: Any
) -> None:
    part = laid_out("us")[0].parts[key][2]
    assert taken(part, kind, value, plain)[0] == recorded


@pytest.mark.parametrize(("key", "kind", "value", "said"), NOT_A_CELL)
def test_what_a_cell_does_not_take_is_said_with_what_to_do(
    key: str, kind: str, value: Any, said: str
) -> None:
    part = laid_out("us")[0].parts[key][2]
    ends = accept.expected(part).partition("from ")[2]
    assert taken(part, kind, value) == (None, said.format(ends))


# What a file may hold before anything in it is parsed -------------------------------------

SMALL = {
    "[Content_Types].xml": b"<Types/>",
    "_rels/.rels": b"<Relationships/>",
    "xl/workbook.xml": b"<workbook/>",
    "xl/worksheets/sheet1.xml": b"<worksheet><sheetData/></worksheet>",
}
NOT_READ = {
    "xl/media/image1.png": b"a picture of ours",
    "xl/drawings/drawing1.xml": b"<not read as XML",
    "xl/other.bin": b"bytes",
}


def packed(tmp_path: Path, parts: dict[str, bytes] = SMALL) -> Path:
    """Return a zip of a few parts, and of some that are not read, as they are."""
    path = tmp_path / "small.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        for name, part in (parts | NOT_READ).items():
            archive.writestr(name, part)
    return path


def test_what_is_read_comes_in_a_zip_of_its_own_and_the_rest_is_named(tmp_path: Path) -> None:
    found = package(packed(tmp_path))
    assert found.names == (*SMALL, *NOT_READ)
    names = zipfile.ZipFile(io.BytesIO(found.raw)).namelist()
    assert (names[0], {*names}) == ("xl/workbook.xml", {*SMALL})
    assert found.drawings == (NOT_READ["xl/drawings/drawing1.xml"],)


@pytest.mark.parametrize(
    ("bound", "most", "said"),
    [
        ("LARGEST_TOGETHER", sum(map(len, SMALL.values())), "its sheets are over"),
        ("LARGEST", max(map(len, SMALL.values())), "its part xl/worksheets/sheet1.xml is over"),
    ],
)  # fmt: skip
def test_a_bound_is_the_most_that_is_read(
    bound: str, most: int, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = packed(tmp_path)
    monkeypatch.setattr(guard, bound, most)
    package(path)
    monkeypatch.setattr(guard, bound, most - 1)
    assert refusal_of(path).startswith(said)


def refusal_of(path: Path) -> str:
    with pytest.raises(UnusableError) as error:
        package(path)
    return str(error.value)


def test_a_part_of_broken_xml_is_told(tmp_path: Path) -> None:
    broken = SMALL | {"xl/worksheets/sheet1.xml": b"<worksheet>"}
    assert "damaged: its part xl/worksheets/sheet1.xml" in refusal_of(packed(tmp_path, broken))


@pytest.mark.parametrize("name", ["xl/media/image1.png", "xl/worksheets/sheet1.xml"])
def test_a_part_with_other_bytes_than_were_packed_is_told_whether_read_or_not(
    name: str, tmp_path: Path
) -> None:
    path = packed(tmp_path)
    raw = path.read_bytes()
    part = (SMALL | NOT_READ)[name]
    assert raw.count(part) == 1
    path.write_bytes(raw.replace(part, part[:-1] + bytes([part[-1] ^ 1])))
    assert f"its part {name}" in refusal_of(path)


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"a" * 1000 + b"\0", "plain text"), (b"a" * 999 + b"\0", "a file ending in .xlsx"),
        (b" " * 999 + b"<a/>", "web page or XML"), (b" " * 1000 + b"<a/>", "plain text"),
    ],
    ids=["text", "bytes", "a page", "blanks"],
)  # fmt: skip
def test_the_first_thousand_bytes_say_what_else_a_file_is(
    raw: bytes, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "other.xlsx"
    path.write_bytes(raw)
    assert said in refusal_of(path)


# A workbook that is opened already: what its cells and names say --------------------------


class Opened(dict[str, Cells]):
    """The cells of a workbook by sheet, and what else it says, without a file behind them."""

    def __init__(self, cells: dict[str, Cells], pointing: dict[str, Where], said: str) -> None:
        """Open a workbook; formulas in it have come to nothing yet."""
        super().__init__(cells)
        self.pointing, self.elsewhere, self.said = pointing, dict[str, str](), said
        self.stored: dict[str, Cells] = defaultdict(dict)

    def __missing__(self, name: str) -> Cells:
        """Return a sheet that is not there."""
        self[name] = {}
        return self[name]

    def names(self) -> dict[str, Where]:
        """Return the names that point at a cell."""
        return self.pointing

    def astray(self) -> dict[str, str]:
        """Return the names that point elsewhere."""
        return self.elsewhere

    def description(self) -> str:
        """Return what its properties say."""
        return self.said

    def added(self, ours: set[str], logo: str) -> list[str]:
        """Return what is no cell of ours."""
        return [f"the sheet {name!r}" for name in self if name not in ours] + [logo]


@pytest.fixture(scope="module")
def in_cells(shelf_us: Path) -> tuple[dict[str, Cells], dict[str, Where]]:
    """Return the cells and names of a filled-in workbook."""
    opened = Sheets(package(shelf_us))
    return {sheet.name: opened[sheet.name] for sheet in laid_out("us")[0].sheets}, opened.names()


@pytest.fixture
def opened(
    in_cells: tuple[dict[str, Cells], dict[str, Where]], monkeypatch: pytest.MonkeyPatch
) -> Opened:
    """Return a workbook whose reader finds it opened already, to be changed."""
    cells = {name: dict(cells) for name, cells in in_cells[0].items()}
    out = Opened(cells, dict(in_cells[1]), f"Pourtally {release()} us small")
    monkeypatch.setattr(read, "package", lambda _: None)
    monkeypatch.setattr(read, "Sheets", lambda _, stored=False: out.stored if stored else out)
    return out


def type_in(opened: dict[str, Cells], key: str, line: int, value: Any, kind: str = "") -> str:
    """Type in a cell, and return its sheet and address."""
    spot = laid_out("us")[1].spots[key]
    opened[spot.sheet][spot.at(line)] = (kind or ("s" if isinstance(value, str) else "n"), value)
    return " ".join(cell(key, line))


def found_in(_: Opened) -> Filled:
    return read_workbook(Path("smith.xlsx"))


def test_an_opened_workbook_is_read_as_it_was_filled_in(opened: Opened) -> None:
    found = found_in(opened)
    assert (found.problems, found.notes, found.entries) == ([], [], job())
    assert found.template is shop.TEMPLATES["us", "small"]
    opened["Mine"] = {}
    logo = laid_out("us")[0].words["logo"].partition("{")[0]
    assert found_in(opened).added == ["the sheet 'Mine'", logo]
    every = found.every_entry()
    assert every["pieces.a.ft"] == job()["pieces.a.ft"]
    assert len(every["labor.rate"]) == laid_out("us")[0].parts["labor.rate"][0].lines


def silenced(opened: Opened) -> None:
    """Take out what says who made a workbook, and in which size."""
    opened.said = ""
    start = opened[laid_out("us")[0].sheets[0].name]
    for at in [at for at, (_, value) in start.items() if "Pourtally" in str(value)]:
        del start[at]


def test_without_a_word_of_its_size_a_workbook_is_known_by_the_lines_of_a_table(
    opened: Opened,
) -> None:
    silenced(opened)
    found = found_in(opened)
    assert found.template is shop.TEMPLATES["us", "small"]
    assert (found.problems, found.entries) == ([], job())


def test_without_names_a_workbook_is_known_by_the_words_of_every_frame(opened: Opened) -> None:
    silenced(opened)
    opened.pointing = {}
    found = found_in(opened)
    assert found.template is shop.TEMPLATES["us", "small"]
    assert (found.problems, found.entries["pieces.a.ft"]) == ([], job()["pieces.a.ft"])
    frame = next(c for c in shop.usual_cells("us", "small") if c.role == "heading" and c.content)
    opened[frame.sheet][frame.row, frame.column] = ("s", "another word")
    with pytest.raises(UnusableError, match="not one that Pourtally made"):
        found_in(opened)


def test_every_entry_of_a_workbook_that_says_nothing_is_usual() -> None:
    every = Filled(shop.TEMPLATES["us", "small"], {"labor.rate": []}, [], []).every_entry()
    part = laid_out("us")[0].parts["labor.rate"][2]
    assert every["labor.rate"] == [part.value(n) for n in range(len(every["labor.rate"]))]


def test_cells_that_cannot_be_taken_are_empty_and_told(opened: Opened) -> None:
    where = type_in(opened, COUNT, 3, "many")
    other = type_in(opened, SHAPE, 1, "Rectangel")
    blank = type_in(opened, COUNT, 2, "  ")
    found = found_in(opened)
    assert [p.partition(" (")[0] for p in found.problems] == [where, other]
    assert found.problems[0].startswith(f"{where} (Slab pieces, Count, line 4): came 'many'")
    assert found.problems[1].endswith("; choose one of the list")
    assert [found.entries[COUNT][n] for n in (2, 3)] == [None, None]
    assert found.entries[SHAPE][1] is None
    assert blank


def test_a_form_has_no_number_of_its_line(opened: Opened) -> None:
    where = type_in(opened, "usual.thickness", 0, 99)
    (problem,) = found_in(opened).problems
    assert problem.startswith(f"{where} (Usual slab, Thickness): came 99")


def test_a_formula_is_taken_by_what_it_came_to(opened: Opened) -> None:
    where = type_in(opened, COUNT, 3, "=2+2", "f")
    type_in(opened.stored, COUNT, 3, 4)
    found = found_in(opened)
    assert found.entries[COUNT][3] == 4
    assert found.notes == [
        f"{where} (Slab pieces, Count, line 4): holds a formula; its value 4 is taken"
    ]
    type_in(opened.stored, COUNT, 3, "  ")
    assert (found_in(opened).problems, found_in(opened).entries[COUNT][3]) == ([], None)
    opened.stored.clear()
    assert "came a formula without a stored value" in found_in(opened).problems[0]


def test_a_length_in_words_is_taken_in_numbers_and_said(opened: Opened) -> None:
    where = type_in(opened, FEET, 3, "24' 6 1/2\"")
    wrong = type_in(opened, FEET, 4, "wide")
    found = found_in(opened)
    assert (found.entries[FEET][3], found.entries["pieces.a.in"][3]) == (24, 6.5)
    assert [n.partition(": ")[0] for n in found.notes] == [f"{where} (Slab pieces, A, ft, line 4)"]
    (problem,) = found.problems
    assert problem.startswith(f"{wrong} (Slab pieces, A, ft, line 5): came 'wide'")
    assert found.entries[FEET][4] is None


def test_entries_whose_names_are_lost_are_told_by_their_labels(opened: Opened) -> None:
    for key in ("job.name", "delivery.truck"):
        del opened.pointing[key]
    opened.elsewhere["delivery.truck"] = "#REF!"
    found = found_in(opened)
    assert found.problems == [
        "The job: not found, so usual values are taken: Job. Copy the entries into a fresh "
        "workbook",
        "Delivery: not found, so usual values are taken: Largest load (its name points at #REF!). "
        "Copy the entries into a fresh workbook",
    ]
    opened.said = "Pourtally 0.8.0 us small"
    problems = found_in(opened).problems
    assert [p for p in problems if "not found" in p] == found.problems[1:]


def test_what_was_said_once_for_all_bands_goes_to_those_in_use_or_is_told(opened: Opened) -> None:
    opened.pointing["usual_bands.panel_mix"] = ("Mine", 3, 3)
    opened["Mine"] = {(3, 4): ("s", "Colored")}  # beside its label
    found = found_in(opened)
    assert (found.problems, found.entries["bands.panel_mix"][:2]) == ([], ["Colored", None])
    opened["Mine"] = {(3, 4): ("s", "Blue")}
    found = found_in(opened)
    assert found.problems == [
        "Mine E4 (usual_bands.panel_mix): came 'Blue'; expected one of Plain, Colored; choose one "
        "of the list"
    ]
    assert found.entries["bands.panel_mix"][:2] == [None, None]


def test_an_entry_of_a_template_that_had_more_is_told_down_to_its_last_line(
    opened: Opened,
) -> None:
    opened.pointing["pump.hose"] = ("Mine", 3, 3)
    opened.pointing["pump.code"] = opened.pointing["notes"] = ("Mine", 3, 4)
    opened["Mine"] = {(4, 0): ("n", 1), (4, 3): ("n", 7), (5, 0): ("n", 2), (5, 3): ("s", " "),
                      (6, 0): ("n", 3), (6, 3): ("f", "=1"), (7, 0): ("n", 4), (7, 3): ("s", "a"),
                      (8, 0): ("n", 9), (8, 3): ("n", 8), (4, 4): ("n", 5)}  # fmt: skip
    assert found_in(opened).problems == [
        f"Mine {at} (pump.hose): {value} is not carried over, since this version has no such "
        "entry: type it where it belongs now" for at, value in (("D5", "7"), ("D8", "'a'"))
    ]  # fmt: skip


@pytest.mark.parametrize(("said", "size"), [
    ("Pourtally {} us small", "small"), ("Pourtally {} us", "usual"), ("Pourtally {}", "usual"),
    ("Made by Pourtally {} us small for the United States", "small"),
])  # fmt: skip
def test_its_properties_say_which_workbook_it_is(said: str, size: Size, opened: Opened) -> None:
    opened.said = said.format(release())
    assert found_in(opened).template.book.size == size


def test_a_workbook_of_a_newer_version_or_an_unknown_place_is_refused(opened: Opened) -> None:
    major, minor, *_ = (int(n) for n in release().split("."))
    for newer in (f"{major}.{minor + 1}.0", f"{major + 1}.0.0", "9" * 50):
        opened.said = f"Pourtally {newer} us small"
        with pytest.raises(UnusableError, match="made by a newer version"):
            found_in(opened)
    opened.said = f"Pourtally {release()} us small canadda"
    with pytest.raises(UnusableError, match=r"for the place 'canadda'.*did you mean 'canada'"):
        found_in(opened)
    for place in ("canada", "for Canada", ". canada ."):
        opened.said = f"Pourtally {release()} us small {place}"
        assert found_in(opened).template.book.local.key == "canada"
    opened.said = f"Pourtally {release()} us small, by A. Smith"
    assert found_in(opened).template.book.local.key == "united-states"


def test_without_names_it_is_known_by_its_words_or_not_at_all(opened: Opened) -> None:
    opened.pointing = {}
    found = found_in(opened)
    assert (found.problems, found.entries) == ([], job())
    sheet, row, column = next((c.sheet, c.row, c.column) for c in shop.usual_cells("us", "small")
                              if c.role == "label" and c.content)  # fmt: skip
    opened[sheet][row, column] = ("s", "Mine")
    with pytest.raises(UnusableError, match="its sheets were rebuilt"):
        found_in(opened)


def test_all_bad_cells_are_named_at_once_and_the_exit_code_says_so(filled: Path) -> None:
    retype(filled, [(FEET, 0, "wide", None), (COUNT, 0, -1, None), ("pieces.b.ft", 11, "x", None),
                    ("bands.inside_across", 2, 9, None)])  # fmt: skip
    result = CliRunner().invoke(main, ["values", str(filled)])
    assert result.exit_code == 1
    assert "Area of all finishes" in result.stdout
    for said in (
        "(Slab pieces, A, ft, line 1): came 'wide'",
        "(Slab pieces, Count, line 1): came -1",
        "(Slab pieces, B, ft, line 12): came 'x'",
        "(Banded rectangle, Bands inside, across the length, line 3): came 9",
    ):
        assert said in result.stderr


def test_an_open_stop_check_is_a_problem_of_the_file(filled: Path) -> None:
    retype(filled, [(SHAPE, 2, "Rectangle", None), (FEET, 2, 9, None)])
    result = CliRunner().invoke(main, ["values", str(filled), "--quiet"])
    assert (result.exit_code, result.stdout) == (1, "")
    assert "All checks: A slab piece has no area and is in no total" in result.stderr


@pytest.mark.parametrize(
    ("xml", "said"),
    [
        (' t="e"><f>1/0</f><v>#DIV/0!</v>', "came the error #DIV/0!; expected a number"),
        (' t="e"><v>#REF!</v>', "came the error #REF!; expected a number"),
        ("><f>-9</f><v>-9</v>", "came -9; expected a number from 0 to 2000 ft"),
    ],
    ids=["an error", "an error without formula", "out of limits"],
)
def test_a_formula_without_a_value_to_take_is_a_problem(xml: str, said: str, filled: Path) -> None:
    put(filled, FEET, 0, xml)
    found = read_workbook(filled)
    (problem,) = found.problems
    assert said in problem
    assert (found.notes, found.entries[FEET][0]) == ([], None)


def test_a_formula_in_an_entry_gives_its_value_and_a_note(filled: Path) -> None:
    put(filled, FEET, 0, "><f>2+2.5</f><v>4.5</v>")
    found = read_workbook(filled)
    sheet, at = cell(FEET)
    said = f"{sheet} {at} (Slab pieces, A, ft, line 1): holds a formula; its value 4.5 is taken"
    assert (found.problems, found.notes) == ([], [said])
    assert found.entries[FEET][0] == 4.5


COMMANDS = {
    "values": ["values", "{0}", "--json"],
    "save": ["prices", "{0}", "--save", "{1}/prices.csv"],
    "load": ["prices", "{0}", "--load", "{1}/given.csv", "-o", "{1}/new.xlsx"],
    "share": ["share", "{0}", "-o", "{1}/copy.xlsx"],
    "learn": ["learn", "{0}", "-o", "{1}/rates.csv"],
}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_formula_in_an_entry_stops_no_command(
    command: str, shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    path = Path(shutil.copy(shelf("finished-small"), tmp_path / "job.xlsx"))
    (tmp_path / "given.csv").write_text("table,figure,line,value\npricing,oldest,,90\n", "utf-8")
    put(path, "usual.thickness", 0, "><f>2+2</f><v>4</v>")
    words = [word.format(path, tmp_path) for word in COMMANDS[command]]
    result = CliRunner().invoke(main, words)
    said = "(Usual slab, Thickness): holds a formula; its value 4 is taken\n"
    assert (result.exit_code, result.stderr.count(said)) == (0, 1), result.stderr
    assert result.stderr.startswith(f"{path}: ")


def test_entries_of_a_hidden_sheet_and_notes_elsewhere_do_no_harm(filled: Path) -> None:
    workbook = openpyxl.load_workbook(filled)
    workbook["Bands"].sheet_state = "hidden"
    workbook["Measure"]["ZZ900"] = "a note"
    workbook.create_sheet("Mine")["A1"] = "=1/0"
    workbook.save(filled)
    found = read_workbook(filled)
    assert (found.problems, found.entries) == ([], job())
