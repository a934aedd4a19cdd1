"""The crew sheet: in both languages, without money, true to Strings, on one page."""

from __future__ import annotations

import random
import re
import zipfile
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import pytest

import programs
from pourtally.formula import find
from pourtally.grid import is_formula
from pourtally.model import Book, Entries, Scalar, Units
from shop import build, laid_out, results, work_out

LANGUAGES = ["English", "Spanish", "Both"]
UNITS = pytest.mark.parametrize("units", ["us", "si"])
FIXED = {"", "no.", "ft", "in", "m", "mm", "Pourtally"}
"""Words that both languages write alike."""
SAID_OF_MONEY = re.compile(r"[$€]|price|cost|charge|\bpay|precio|costo|cobr|pag[ao]", re.IGNORECASE)


@lru_cache(maxsize=6)
def crew(units: Units, language: str) -> dict[tuple[int, int], tuple[bool, Scalar, str]]:
    """Return {row, column: (is a label, value, role)} of every cell of the sheet."""
    unit = "ft" if units == "us" else "m"
    entries: Entries = {
        "papers.language": [language],
        "pieces.shape": ["Rectangle"],
        f"pieces.a.{unit}": [30.0],
        f"pieces.b.{unit}": [12.0],
        **_banded(units),
        "job.name": ["1234"],
    }
    cells, values = work_out(units, entries)
    book, _ = laid_out(units)
    out = {}
    for cell in cells:
        if cell.sheet == "Crew":
            here = (cell.sheet, cell.row, cell.column)
            value = values[here] if is_formula(cell.content) else cell.content
            part = book.parts[cell.part][2] if cell.part else None
            out[cell.row, cell.column] = (not part or part.kind == "text", value, cell.role)
    return out


def own_parts(book: Book) -> list[str]:
    """Return the keys of the parts that stand on the sheet."""
    return [k for k, (b, _, p) in book.parts.items() if b.sheet == "Crew" and not p.working]


@UNITS
def test_every_label_and_sentence_has_a_second_language(units: Units) -> None:
    book, _ = laid_out(units)
    blocks = [b for b in book.blocks if b.sheet == "Crew"]
    assert len(blocks) > 5
    said = [(b.title, b.also) for b in blocks]
    said += [(w, a) for b in blocks for w, a in zip(b.words, b.words_also, strict=True)]
    shown = [(b, f, f.parts[-1]) for b in blocks for f in b.fields if not f.parts[-1].working]
    said += [(f.label, f.also) for b, f, _ in shown if b.shape != "page"]
    texts = [p for _, _, p in shown if p.kind == "text"]
    said += [(str(w), a) for p in texts for w, a in zip(p.values, p.also, strict=True)]
    assert len(said) > 45
    assert [words for words, also in said if not also or also == words] == []


@UNITS
def test_the_language_chosen_switches_every_word(units: Units) -> None:
    english, spanish, both = (crew(units, language) for language in LANGUAGES)
    words = {k: v for k, (label, v, _) in english.items() if label and isinstance(v, str)}
    ways = {"Start", "‹ Supplies", "Tickets ›"}  # names of sheets, beside the page
    words = {k: v for k, v in words.items() if v not in FIXED | ways and not v.isdigit()}
    assert len(words) > 35
    alike = [v for k, v in words.items() if spanish[k][1] == v]
    assert alike == []
    signs = {p.unit for _, _, p in laid_out(units)[0].parts.values()} - {""}
    for place, first in words.items():
        head, _, unit = first.rpartition(", ")
        once = head if unit in signs else first  # a unit is said once, at the end
        assert both[place][1] == f"{once} / {spanish[place][1]}"


@UNITS
def test_words_worked_out_follow_the_language_too(units: Units) -> None:
    english, spanish, both = (
        results(units, {**_slab(units), "papers.language": [tongue]})["crew_day.placed"][0]
        for tongue in LANGUAGES
    )
    assert english != spanish
    assert both == f"{english} / {spanish}"


@UNITS
def test_heads_of_string_marks_are_said_where_there_are_some_in_each_language(
    units: Units,
) -> None:
    heads = [f"crew_job.{key}_tag" for key in ("from", "left", "right", "near", "far")]
    seen = {}
    for tongue in LANGUAGES:
        shown = {v for _, v, _ in crew(units, tongue).values() if isinstance(v, str)}
        got = results(units, {**_slab(units), **_banded(units), "papers.language": [tongue]})
        seen[tongue] = [got[key][0] for key in heads]
        assert set(seen[tongue]) <= shown
    english, spanish, both = seen.values()
    assert not set(english) & set(spanish)
    pairs = zip(english, spanish, strict=True)
    assert both == [f"{one} / {other}" for one, other in pairs]
    without = results(units, _slab(units))
    assert {without[key][0] for key in heads} == {""}


def _banded(units: Units) -> Entries:
    unit = "ft" if units == "us" else "m"
    return {f"bands.length.{unit}": [24.0], f"bands.width.{unit}": [16.0],
            "bands.inside_across": [1.0], "bands.inside_along": [1.0]}  # fmt: skip


def _slab(units: Units) -> Entries:
    one, other = ("ft", "ft") if units == "us" else ("m", "m")
    return {"pieces.shape": ["Rectangle"], f"pieces.a.{one}": [30.0], f"pieces.b.{other}": [12.0]}


@UNITS
def test_every_word_of_a_list_can_be_said_in_spanish(units: Units) -> None:
    blank = results(units, {})
    assert blank["placing_words.english"] == blank["placing.name"]
    assert len(blank["steel_words.english"]) == len(blank["steel_kinds.name"])
    for key in ("placing_words", "steel_words"):
        pairs = zip(blank[f"{key}.english"], blank[f"{key}.spanish"], strict=True)
        assert [e for e, s in pairs if not s or s == e] == []


@UNITS
def test_nothing_on_it_is_about_money(units: Units) -> None:
    book, _ = laid_out(units)
    texts = [str(v) for language in LANGUAGES for _, v, _ in crew(units, language).values()]
    assert [t for t in texts if SAID_OF_MONEY.search(t)] == []
    seen: set[str] = set()
    waiting = [key for key in own_parts(book) if key != "crew_job.stop"]  # a STOP may be of prices
    assert len(waiting) > 30
    while waiting:
        key = waiting.pop()
        if key not in seen and key in book.parts:
            seen.add(key)
            block, _, part = book.parts[key]
            waiting += [r.part for f in part.formulas for r in find(book, block, f, key)]
    money = [k for k in book.parts if "dollar" in book.parts[k][2].pint]
    assert money
    assert [k for k in money if k in seen] == []


def sixteenths(mark: Scalar) -> int:
    """Return the sixteenths of an inch of a mark as a person reads it."""
    match = re.fullmatch(r"(\d+)' (\d+)(?: (\d+)/(\d+))?\"", str(mark))
    assert match, mark
    feet, inches, over, under = (int(g or 0) for g in match.groups())
    assert inches < 12
    assert not under or over < under
    return feet * 192 + inches * 16 + (over * 16 // under if under else 0)


@pytest.mark.parametrize("seed", range(5))
def test_marks_are_those_of_a_tape_and_of_strings(seed: int) -> None:
    chance = random.Random(seed)
    rectangles = [_rectangle(chance) for _ in range(6)]
    chosen = chance.randint(1, 6)
    columns: Entries = {key: [r[key] for r in rectangles] for key in rectangles[0]}
    got = results("us", {**columns, "papers.rectangle": [float(chosen)]})
    rectangle = rectangles[chosen - 1]
    for crew_near, crew_far, strings, long, many, wide in (
        ("left", "right", "strings_x", "length", "across", "end_wide"),
        ("near", "far", "strings_y", "width", "along", "side_wide"),
    ):
        whole, band = (_feet(rectangle, key) for key in (long, wide))
        count = int(rectangle[f"bands.inside_{many}"])
        apart = (whole - band) / (count + 1)  # from border to border, center lines
        lines = [band / 2 + n * apart for n in range(1, count + 1)]
        at = (chosen - 1) * 9
        for side, wanted in ((crew_near, lines), (crew_far, [whole - x for x in lines])):
            shown = got[f"crew_lines.{side}.says"]
            assert [sixteenths(m) for m in shown[:count]] == [_nearest(x * 192) for x in wanted]
            assert shown[count:] == [""] * (8 - count)
            own = "near" if side == crew_near else "far"
            feet, inches = (got[f"{strings}.{own}.{u}"][at : at + count] for u in ("ft", "in"))
            pairs = zip(feet, inches, strict=True)
            there = [192 * float(f or 0) + 16 * float(i or 0) for f, i in pairs]
            assert [sixteenths(m) for m in shown[:count]] == there
    assert sixteenths(got["crew_plan.length.says"][0]) == _nearest(_feet(rectangle, "length") * 192)
    assert got["crew_plan.diagonal"][0] == got["bands.diagonal"][chosen - 1]
    assert got["crew_plan.panel_x"][0] == got["bands.panel_x"][chosen - 1]


Sides = dict[str, float]


def _rectangle(chance: random.Random) -> Sides:
    return {
        "bands.length.ft": float(chance.randint(20, 60)),
        "bands.length.in": float(chance.randint(0, 11)),
        "bands.width.ft": float(chance.randint(14, 19)),
        "bands.width.in": chance.randint(0, 95) / 8,
        "bands.inside_across": float(chance.randint(0, 8)),
        "bands.inside_along": float(chance.randint(0, 6)),
        "bands.end_wide.ft": 1.0,
        "bands.end_wide.in": float(chance.randint(0, 6)),
        "bands.side_wide.ft": 0.0,
        "bands.side_wide.in": float(chance.randint(8, 18)),
    }


def _feet(rectangle: Sides, key: str) -> Fraction:
    feet, inches = (Fraction(rectangle[f"bands.{key}.{unit}"]) for unit in ("ft", "in"))
    return feet + inches / 12


def _nearest(sixteenth: Fraction) -> int:
    return int(sixteenth + Fraction(1, 2))  # a half goes up, as on a spreadsheet


@pytest.mark.parametrize("typed", [0.0, 7.0, -3.0, "word", None, 2.5])
def test_an_impossible_rectangle_shows_one_that_is_there(typed: Scalar) -> None:
    entries = {**_two_rectangles(), "papers.rectangle": [typed]}
    shown = results("us", entries)["crew_at.rectangle"][0]
    assert isinstance(shown, float)
    assert shown in range(1, 7)


def _two_rectangles() -> Entries:
    return {"bands.length.ft": [20.0, 30.0], "bands.width.ft": [14.0, 16.0],
            "bands.inside_across": [0.0, 1.0], "bands.inside_along": [0.0, 1.0]}  # fmt: skip


@UNITS
def test_the_plan_stands_between_times_and_loads_left_of_its_marks(
    units: Units, tmp_path: Path
) -> None:
    build(units, {}, tmp_path / "blank.xlsx")
    with zipfile.ZipFile(tmp_path / "blank.xlsx") as package:
        drawings = [package.read(n).decode() for n in package.namelist() if "drawings/d" in n]
    drawing = next(d for d in drawings if "all marks stand on its right" in d)
    right = max(map(int, re.findall(r"<xdr:col>(\d+)", drawing)))
    top, bottom = (f(map(int, re.findall(r"<xdr:row>(\d+)", drawing))) for f in (min, max))
    heads = {v: k for k, (_, v, _) in crew(units, "English").items() if isinstance(v, str)}
    assert heads["Pour"][0] + 3 < top < bottom <= heads["Loads, bags"][0]
    assert right <= heads["String marks"][1]
    assert bottom - top >= 14  # the largest part of the page


PAPERS = {"us": "612 x 792 pts (letter)", "si": "595.304 x 841.89 pts (A4)"}
SHOWN: tuple[tuple[Units, str], ...] = (("us", "English"), ("us", "Both"), ("si", "Spanish"))
"""Both papers, and every language: both of them in one sentence take the most room."""
LAST = {"English": "Faint: call 911.", "Spanish": "Mareado: pida ayuda.", "Both": "llame al 911."}
"""What each ends on; a job in meters names no place, so it knows no number to call."""


def test_it_prints_on_one_page_with_nothing_cut_off(tmp_path: Path) -> None:
    for path, page in _prints(tmp_path).items():
        units, language = path.stem.split("-")
        info = programs.asked("pdfinfo", page)
        assert re.search(r"Pages: +1\n", info), path.stem
        assert PAPERS[units] in info, path.stem
        text = programs.asked("pdftotext", "-layout", page, "-")
        assert "###" not in text and "Pourtally" not in text, path.stem
        assert LAST[language] in text, path.stem
        assert "Juniper Row 14, front walk, court and back patio, Ostrander residence" in text


def test_it_is_read_at_arm_s_length(tmp_path: Path) -> None:
    for path, page in _prints(tmp_path).items():
        tall = word_heights(page)
        least = 13 * LINE
        language = path.stem.split("-")[1]
        words = {"English": ["Pour", "Until", "call"], "Spanish": ["Colado", "Hasta", "pida"],
                 "Both": ["Pour", "Until", "call"]}[language]  # fmt: skip
        assert {word: tall[word] for word in words if tall[word] < least} == {}, path.stem


LINE = 1.22
"""How tall a line is against the size of its letters, in Calibri and its like."""


def word_heights(page: Path) -> dict[str, float]:
    """Return {word: the height of its letters in points}, of each the last on the page."""
    told = programs.asked("pdftotext", "-bbox", page, "-")
    words = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">([^<]+)<', told)
    return {word: float(low) - float(high) for high, low, word in words}


def _prints(folder: Path) -> dict[Path, Path]:
    """Return {workbook: its crew sheet on paper} of a full job, by units and language."""
    files = []
    sizes: dict[Units, float] = {"us": 1.0, "si": 0.3}
    for units, language in SHOWN:
        path = folder / f"{units}-{language}.xlsx"
        build(units, _full(units, sizes[units], language), path)
        files.append(path)
    return programs.printed(files, folder, "Crew")


def _full(units: Units, size: float, language: str) -> Entries:
    unit = "ft" if units == "us" else "m"
    return {
        "job.name": ["Juniper Row 14, front walk, court and back patio"],
        "job.customer": ["Ostrander residence, 14 Juniper Row"],
        f"bands.length.{unit}": [92.0 * size],
        f"bands.width.{unit}": [61.0 * size],
        "bands.inside_across": [8.0],
        "bands.inside_along": [8.0],
        "bands.panel_mix": ["Colored"],
        "bands.panel_finish": ["Stamped"],
        "papers.placement": ["Pour 2"],
        "papers.language": [language],
        "roles.stampers": ["Luis, Marco, Chuy"],
    }
