"""Lengths as contractors write them: read back exactly, refused where they could mean two."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from fractions import Fraction
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from pourtally.cli import main
from pourtally.jobfile import job_entries
from pourtally.lengths import Length, as_typed, feet_and_inches, in_words, meters
from pourtally.model import Units
from pourtally.place import address
from programs import by_hand
from shop import build, laid_out, read_workbook, report

HANDS = Path(__file__).with_name("hands.py")
FEET = ["'", " '", "’", "′", " ft", "ft", " ft.", " feet", " FT", "`"]
INCHES = ['"', "”", "″", "''", " in", "in", " in.", " inches", ""]
BETWEEN = ["", " ", "  ", "-", " - ", ", ", "–", "\N{NO-BREAK SPACE}"]
BARE = [" ", "-", " - ", "  "]
BEFORE_FRACTION = [" ", "-", "  "]


def once(text: str) -> Length:
    """Return a length that must be understood."""
    found = feet_and_inches(text)
    assert isinstance(found, Length), f"{text!r}: {found}"
    return found


@st.composite
def fractions(draw: st.DrawFn) -> tuple[str, Fraction]:
    """Return part of an inch as people write it, or nothing."""
    under = draw(st.sampled_from([1, 2, 4, 8, 16, 32]))
    over = draw(st.integers(0, under - 1))
    return (f"{over}/{under}", Fraction(over, under)) if over else ("", Fraction(0))


@given(
    st.integers(0, 2000), st.integers(0, 11), fractions(), st.sampled_from(FEET),
    st.sampled_from(BETWEEN), st.sampled_from(BEFORE_FRACTION), st.sampled_from(INCHES),
)  # fmt: skip
def test_feet_inches_and_a_fraction_are_read_back_exactly(
    feet: int, inches: int, part: tuple[str, Fraction], foot: str, between: str, space: str,
    mark: str,
) -> None:  # fmt: skip
    text = f"{feet}{foot}{between}{inches}{space + part[0] if part[0] else ''}{mark}"
    assert once(text) == Length(float(feet), float(inches + part[1]))


@given(
    st.integers(0, 2000), st.integers(0, 11), fractions(), st.sampled_from(BARE),
    st.sampled_from(INCHES),
)  # fmt: skip
def test_two_numbers_without_a_mark_are_feet_and_inches(
    feet: int, inches: int, part: tuple[str, Fraction], between: str, mark: str
) -> None:
    text = f"{feet}{between}{inches}{' ' + part[0] if part[0] else ''}{mark}"
    assert once(text) == Length(float(feet), float(inches + part[1]))


@given(st.integers(0, 999), fractions(), st.sampled_from([m for m in INCHES if m]))
def test_inches_alone_are_inches(inches: int, part: tuple[str, Fraction], mark: str) -> None:
    text = f"{inches}{' ' + part[0] if part[0] else ''}{mark}"
    assert once(text) == Length(None, float(inches + part[1]))


@given(st.integers(0, 99999), st.sampled_from([*FEET, ""]))
def test_feet_alone_may_have_decimals(hundredths: int, foot: str) -> None:
    assert once(f"{hundredths / 100:.2f}{foot}") == Length(hundredths / 100)


@given(st.integers(0, 99999), st.sampled_from([".", ","]), st.sampled_from(["", " m", "m", " M"]))
def test_meters_are_read_with_a_point_or_a_comma(centimeters: int, point: str, unit: str) -> None:
    text = f"{centimeters / 100:.2f}".replace(".", point)
    assert meters(text + unit) == centimeters / 100


@given(st.integers(0, 600_000), st.sampled_from([("mm", 1000), ("cm", 100), (" meters", 1)]))
def test_smaller_units_are_turned_into_meters(number: int, unit: tuple[str, int]) -> None:
    assert meters(f"{number}{unit[0]}") == number / unit[1]


@given(st.text(max_size=60))
def test_no_text_breaks_the_reading(text: str) -> None:
    for found in (feet_and_inches(text), feet_and_inches(text, inches=True), meters(text)):
        assert isinstance(found, (Length, float)) or found.startswith("expected ")


AS_TYPED = {
    "24'6": (24.0, 6.0), "24' 6\"": (24.0, 6.0), "24' 6 1/2\"": (24.0, 6.5), "24'-6\"": (24.0, 6.0),
    "24-6": (24.0, 6.0), "24 ft 6 in": (24.0, 6.0), '6"': (None, 6.0), "24 6": (24.0, 6.0),
    "24' 6.5": (24.0, 6.5), "24’ 6½”": (24.0, 6.5), "24'-6-1/2\"": (24.0, 6.5), "24": (24.0, None),
    "24 1/2\"": (None, 24.5), "0' 6\"": (0.0, 6.0),
}  # fmt: skip


@pytest.mark.parametrize("text", AS_TYPED)
def test_what_people_type_is_read_as_they_mean_it(text: str) -> None:
    assert once(text) == Length(*AS_TYPED[text])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("6 1/2", "6 1/2\" or 6' 1/2\"?"), ("24/6", "24/6\" or 24' 6\"?"),
        ("24' 12\"", "after feet, inches are less than 12"), ("24 18", "less than 12"),
        ("24.5' 6\"", "whole feet where inches follow"), ("24' 6 3/2\"", "3/2 is no part"),
        ("24' 6.5 1/2\"", "1/2 is no part"), ("24' 6 1/0\"", "1/0 is no part"),
        ("about 24", 'such as 24\' 6 1/2"'), ("-3'", "such as"), ("24'6'", "such as"),
        ("7.47 m", "such as"), ("24 6 7", "such as"), ("24'-", "such as"), ("", "such as"),
        ("9" * 50, "such as"), ("٢٤", "such as"),
    ],
)  # fmt: skip
def test_what_is_no_length_or_could_be_two_is_refused_in_words(text: str, words: str) -> None:
    found = feet_and_inches(text)
    assert isinstance(found, str)
    assert found.startswith("expected feet and inches such as")
    assert words in found


@pytest.mark.parametrize(
    ("text", "words"),
    [("7,470", "7.470 or 7470?"), ("24'6", "7.47, or 7470 mm"), ("seven", "such as 7.47")],
)
def test_what_is_no_length_in_meters_is_refused_in_words(text: str, words: str) -> None:
    found = meters(text)
    assert isinstance(found, str)
    assert words in found


@pytest.mark.parametrize(
    ("day", "typed"),
    [
        (date(2026, 8, 6), ("8-6 or 6-8", 8, 6)), (date(2026, 6, 24), ("24-6", 24, 6)),
        (date(2026, 6, 6), ("6-6", 6, 6)), (date(2026, 12, 30), ("30-12", 30, 12)),
    ],
)  # fmt: skip
def test_a_date_is_told_as_what_was_typed(day: date, typed: tuple[str, int, int]) -> None:
    assert as_typed(day) == typed


# Job files --------------------------------------------------------------------------


def read_job(units: Units, **line: Any) -> tuple[list[Any], list[str], list[str]]:
    """Return the cells of A of a job's one piece, problems and notes."""
    notes: list[str] = []
    book = laid_out(units, "small")[0]
    entries, problems = job_entries(book, {"pieces": [line]}, "smith.toml", notes=notes)
    keys = ("pieces.a.ft", "pieces.a.in") if units == "us" else ("pieces.a.m",)
    return [entries[key][0] for key in keys], problems, notes


@pytest.mark.parametrize("text", AS_TYPED)
def test_a_job_file_may_say_a_length_as_people_write_it(text: str) -> None:
    feet, inches = AS_TYPED[text]
    cells, problems, (note,) = read_job("us", a=text)
    assert (cells, problems) == ([feet or 0, inches or 0], [])
    assert note == f"smith.toml: pieces[1].a: {text} is read as {in_words(Length(feet, inches))}"


def test_a_job_file_in_meters_may_say_its_unit() -> None:
    assert read_job("si", a="7470 mm") == (
        [7.47], [], ["smith.toml: pieces[1].a: 7470 mm is read as 7.47 m"],
    )  # fmt: skip
    assert read_job("si", a=7.47) == ([7.47], [], [])


@pytest.mark.parametrize(
    ("units", "came", "words"),
    [
        ("us", "about 24", "came 'about 24'; expected feet and inches such as 24' 6 1/2\""),
        ("us", "6 1/2", "came '6 1/2'; expected feet and inches such as 24' 6 1/2\": "
                        "6 1/2\" or 6' 1/2\"?"),
        ("us", "3000'", "came 3000; expected a number from 0 to 2000 ft"),
        ("us", [24, "6"], "came [24, '6']; expected feet, or [feet, inches]"),
        ("us", [1, 2, 3], "came [1, 2, 3]; expected feet, or [feet, inches]"),
        ("us", date(2026, 6, 24), "came 2026-06-24; expected feet, or [feet, inches]"),
        ("si", "24'6", "came \"24'6\"; expected meters such as 7.47, or 7470 mm"),
        ("si", [7, 47], "came [7, 47]; expected meters"),
    ],
)  # fmt: skip
def test_what_is_no_length_in_a_job_file_is_a_problem(units: Units, came: Any, words: str) -> None:
    _, problems, _ = read_job(units, a=came)
    assert problems == [f"smith.toml: pieces[1].a: {words}"]


def test_lists_of_feet_and_inches_go_on_working_without_a_note() -> None:
    assert read_job("us", a=[24, 6.5]) == ([24, 6.5], [], [])
    assert read_job("us", a="") == ([None, None], [], [])


def test_build_tells_how_a_length_was_read(tmp_path: Path) -> None:
    path = tmp_path / "smith.toml"
    path.write_text('size = "small"\n[[pieces]]\nshape = "Rectangle"\na = "24\'6"\nb = 10\n')
    out = CliRunner().invoke(main, ["build", str(path), "-o", str(tmp_path / "smith.xlsx")])
    assert out.exit_code == 0
    assert out.stderr == f"{path}: pieces[1].a: 24'6 is read as 24 ft 6 in\n"
    found = report(tmp_path / "smith.xlsx")
    assert found.figures["total.area"].value == pytest.approx(245)  # 24.5 × 10


# Workbooks --------------------------------------------------------------------------


@cache
def rectangle(units: Units) -> openpyxl.Workbook:
    """Return a workbook with one rectangle, B 10 ft or 3 m, opened once for all tests."""
    book, job = laid_out(units, "small")[0], {"shape": "Rectangle", "b": 10 if units == "us" else 3}
    with TemporaryDirectory() as folder:
        path = Path(folder) / "smith.xlsx"
        build(units, job_entries(book, {"pieces": [job]}, "test")[0], path, "small")
        return openpyxl.load_workbook(path)


@pytest.fixture
def typed(tmp_path: Path) -> Callable[..., Path]:
    """Return what types values into the workbook with one rectangle, saves it, and clears them."""

    def type_in(units: Units = "us", **cells: Any) -> Path:
        path, workbook = tmp_path / "smith.xlsx", rectangle(units)
        spots = laid_out(units, "small")[1].spots
        before = []
        for name, value in cells.items():
            spot = spots["pieces." + name.replace("_", ".")]
            cell = workbook[spot.sheet][address(*spot.at(0))]
            before.append((cell, cell.value, cell.number_format))
            cell.value = value
        workbook.save(path)
        for cell, was, look in before:
            cell.value, cell.number_format = was, look
        return path

    return type_in


@pytest.mark.parametrize("text", AS_TYPED)
def test_a_text_in_the_feet_cell_is_taken_and_told(text: str, typed: Callable[..., Path]) -> None:
    feet, inches = AS_TYPED[text]
    found = report(typed(a_ft=text))
    area = ((feet or 0) + (inches or 0) / 12) * 10
    assert found.problems == []
    assert found.figures["total.area"].value == pytest.approx(area)
    sheet, places = "Measure", laid_out("us", "small")[1]
    where = f"{sheet} {address(*places.spots['pieces.a.ft'].at(0))} (Slab pieces, A, ft, line 1)"
    assert found.notes == [
        f"{where}: {text} is read as {in_words(Length(feet, inches))}, and what is told here is "
        "worked out with it; the workbook itself takes it for 0 until you type "
        f"{feet or 0:g} and {inches or 0:g} into its two cells"
    ]


@pytest.mark.parametrize(
    ("cells", "feet", "inches"),
    [
        ({"a_in": "24'6"}, 24, 6), ({"a_in": "6 1/2"}, None, 6.5),
        ({"a_ft": 24, "a_in": '6"'}, 24, 6), ({"a_ft": "24'", "a_in": 6}, 24, 6),
        ({"a_ft": "24", "a_in": "6"}, 24, 6),
        ({"a_ft": "24'6", "a_in": 0}, 24, 6), ({"a_ft": 0, "a_in": "24'6"}, 24, 6),
        ({"a_ft": '6"'}, None, 6),
    ],
)  # fmt: skip
def test_either_cell_of_a_length_may_hold_what_was_written(
    cells: dict[str, Any], feet: float | None, inches: float, typed: Callable[..., Path]
) -> None:
    found = read_workbook(typed(**cells))
    assert (found.problems, len(found.notes)) == ([], 1)
    assert [found.entries[f"pieces.a.{unit}"][0] for unit in ("ft", "in")] == [feet, inches]


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"a_ft": "24'6", "a_in": 3}, "came \"24'6\" where the other cell of the length has 3"),
        ({"a_ft": 24, "a_in": "3'6"}, "came \"3'6\" where the other cell of the length has 24"),
        ({"a_ft": "6 1/2"}, "came '6 1/2'; expected feet and inches such as 24' 6 1/2\""),
        ({"a_in": "six"}, "came 'six'; expected feet and inches"),
        (
            {"a_ft": datetime(2026, 6, 24)},
            "came the date 2026-06-24: the spreadsheet made one of 24-6; clear the cell's "
            "format, then type 24 in the feet cell and 6 in the inches cell",
        ),
        ({"a_ft": 46197}, "came the date 2026-06-24: the spreadsheet made one of 24-6"),
        ({"a_in": datetime(2026, 8, 6)}, "made one of 8-6 or 6-8"),
    ],
)  # fmt: skip
def test_what_could_mean_two_lengths_is_a_problem_with_its_cell(
    cells: dict[str, Any], words: str, typed: Callable[..., Path]
) -> None:
    found = read_workbook(typed(**cells))
    (problem,) = found.problems
    assert words in problem
    if len(cells) == 1:
        key = f"pieces.{next(iter(cells)).replace('_', '.')}"
        at = address(*laid_out("us", "small")[1].spots[key].at(0))
        assert problem.startswith(f"Measure {at} (Slab pieces, A, {key[-2:]}, line 1): ")
    assert [found.entries[f"pieces.a.{unit}"][0] for unit in ("ft", "in")] == [None, None]


@pytest.mark.parametrize(("text", "value"), [("7,47", 7.47), ("7.47 m", 7.47), ("7470 mm", 7.47)])
def test_meters_may_say_their_unit(text: str, value: float, typed: Callable[..., Path]) -> None:
    found = report(typed("si", a_m=text))
    assert found.problems == []
    assert found.figures["total.area"].value == pytest.approx(value * 3)
    (note,) = found.notes
    assert f"{text} is read as 7.47 m" in note
    assert note.endswith("until you type 7.47")


def test_a_date_in_a_length_of_meters_is_a_problem(typed: Callable[..., Path]) -> None:
    (problem,) = read_workbook(typed("si", a_m=datetime(2026, 6, 24))).problems
    assert "came the date 2026-06-24; expected meters" in problem


@pytest.mark.parametrize("units", ["us", "si"])
def test_every_length_says_in_its_cell_what_goes_there(
    units: Units, shelf: Callable[[str], Path]
) -> None:
    book, places = laid_out(units)
    asked = {
        (sheet.title, str(rule.sqref).partition(":")[0]): rule
        for sheet in openpyxl.load_workbook(shelf(f"blank-{units}"))
        for rule in sheet.data_validations.dataValidation
    }
    lengths = [(b, p) for b in book.blocks for f in b.fields if f.is_length for p in f.typed]
    assert len(lengths) > 40
    for block, part in lengths:
        spot = places.spots[part.key]
        rule = asked[spot.sheet, address(*spot.at(0))]
        after, before = ("cell below", "cell above") if block.shape == "across" else (
            "next cell", "cell before")  # fmt: skip
        note, error = {
            "ft": (f"Feet; inches go in the {after}.", f"Feet here, inches in the {after}: 24 and"),
            "in": (f"Inches; feet go in the {before}.", f"Inches here, feet in the {before}: 24"),
            "m": ("Meters, such as 7.47.", "Meters alone: 7.47, not 7.47 m"),
        }[part.key.rpartition(".")[2]]
        assert rule.prompt.startswith(note), part.key
        assert rule.error.startswith(error), part.key
        assert len(rule.error) <= 225, part.key


# Typed in a spreadsheet --------------------------------------------------------------

LINES = {
    "24'6": (24, 6), "24' 6\"": (24, 6), "24' 6 1/2\"": (24, 6.5), "24'-6\"": (24, 6),
    "24-6": (24, 6), "8-6": (8, 6), "24 ft 6 in": (24, 6), '6"': (None, 6), "24 6": (24, 6),
    "24' 6.5": (24, 6.5), "24": (24, None), "24.5": (24.5, None),
}  # fmt: skip
"""What is typed into the feet cell of A, line by line, and what it is read as."""
DATES = {"8/6": "8-6 or 6-8", "6/24": "24-6"}
"""What LibreOffice makes a date of, and what the problem says that it was."""


def test_what_is_typed_in_libreoffice_is_read_back(tmp_path: Path) -> None:
    path, saved = tmp_path / "smith.xlsx", tmp_path / "saved.xlsx"
    book, places = laid_out("us", "usual")
    texts = [*LINES, *DATES]
    job = {"pieces": [{"shape": "Rectangle", "b": 10}] * len(texts)}
    build("us", job_entries(book, job, "test")[0], path)
    spot = places.spots["pieces.a.ft"]
    moves = [{"do": "enter", "to": (spot.sheet, address(*spot.at(line))), "what": text}
             for line, text in enumerate(texts)]  # fmt: skip
    by_hand(HANDS, path, {"entries": [], "moves": moves, "save": str(saved)}, tmp_path)
    found = read_workbook(saved)
    got = [(found.entries["pieces.a.ft"][n], found.entries["pieces.a.in"][n])
           for n in range(len(texts))]  # fmt: skip
    assert got == [*LINES.values(), *[(None, None)] * len(DATES)]
    assert len(found.notes) == len(LINES) - 2  # all but the numbers
    at = [address(*spot.at(len(LINES) + n)) for n in range(len(DATES))]
    assert [p.partition(" (")[0] for p in found.problems] == [f"{spot.sheet} {a}" for a in at]
    for problem, was in zip(found.problems, DATES.values(), strict=True):
        assert f"the spreadsheet made one of {was}; clear" in problem
    whole = openpyxl.load_workbook(saved, data_only=True, read_only=True)
    wrong = places.spots["limits.count"]
    line = book.parts["limits.count"][0].codes.index("pieces.a")
    counted = whole[wrong.sheet][address(*wrong.at(line))].value
    assert counted == len(LINES) - 2 + len(DATES)  # the workbook itself refuses each of them
