"""What tells how other programs get on: each loss is found, and nothing else is told."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

import engines
import other_programs
from others import recalculated, trips
from others.compared import Loss, Reason, losses, reasons, stale, unexplained
from others.contents import things

Change = Callable[[openpyxl.Workbook], None]


@pytest.fixture
def sums(tmp_path: Path) -> Path:
    """Return a small workbook that holds one of everything."""
    path = tmp_path / "sums.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet, back = book.add_worksheet("Sums"), book.add_worksheet("Back")
        back.hide()
        open_cell = book.add_format({"locked": False, "num_format": "0.00"})
        sheet.write_number("A1", 24.5, open_cell)
        sheet.write_string("A2", "Broom", open_cell)
        sheet.write_formula("B1", "=A1*2", None, 49)
        sheet.write_formula("B2", "=B1+SUM(A1,A1)", None, 98)
        sheet.write_formula("B3", "=B2+1", None, 99)
        sheet.merge_range("D1:E1", "Together")
        sheet.write_url("A4", "internal:'Sums'!A1", None, "back")
        sheet.data_validation("A1", {"validate": "decimal", "criteria": "between", "minimum": 0,
                                     "maximum": 50, "input_title": "Length"})  # fmt: skip
        good = book.add_format({"bg_color": "#00FF00"})
        rule = {"type": "text", "criteria": "begins with", "value": "OK", "format": good}
        sheet.conditional_format("A2", rule)
        sheet.protect()
        sheet.freeze_panes(1, 1)
        sheet.set_landscape()
        sheet.set_print_scale(80)
        sheet.set_footer("&LPage &P")
        sheet.set_h_pagebreaks([3])
        sheet.set_column("C:C", 20)
        sheet.set_row(5, 40)
        book.define_name("length", "=Sums!$A$1")
        chart = book.add_chart({"type": "line"})
        chart.add_series({"values": "=Sums!$B$1:$B$3"})
        sheet.insert_chart("G1", chart)
    return path


def changed(path: Path, change: Change) -> Counter[str]:
    """Return how many things of each kind a change loses, over what openpyxl loses itself."""
    plain, other = path.with_name("plain.xlsx"), path.with_name("other.xlsx")
    book = openpyxl.load_workbook(path)
    book.save(plain)
    change(book)
    book.save(other)
    lost = Counter(loss.kind for loss in losses(things(path), things(other)))
    assert "typed" not in Counter(loss.kind for loss in losses(things(path), things(plain)))
    lost.subtract(loss.kind for loss in losses(things(path), things(plain)))
    return +lost


def rename(book: openpyxl.Workbook) -> None:
    del book.defined_names["length"]


def unruled(book: openpyxl.Workbook) -> None:
    book["Sums"].conditional_formatting = type(book["Sums"].conditional_formatting)()


CHANGES: dict[str, Change] = {
    "typed": lambda b: b["Sums"].__setitem__("A1", 24.6),
    "formulas": lambda b: b["Sums"].__setitem__("B3", 99),
    "names": rename,
    "validations": lambda b: b["Sums"].data_validations.dataValidation.clear(),
    "rules of looks": unruled,
    "links": lambda b: setattr(b["Sums"]["A4"], "hyperlink", None),
    "merged": lambda b: b["Sums"].unmerge_cells("D1:E1"),
    "drawings": lambda b: b["Sums"]._charts.clear(),
    "panes": lambda b: setattr(b["Sums"], "freeze_panes", None),
    "page breaks": lambda b: setattr(b["Sums"].row_breaks, "brk", ()),
    "printing": lambda b: setattr(b["Sums"].page_setup, "scale", 100),
    "columns": lambda b: setattr(b["Sums"].column_dimensions["C"], "width", 8),
    "rows": lambda b: setattr(b["Sums"].row_dimensions[6], "height", 20),
    "protection": lambda b: setattr(b["Sums"].protection, "sheet", False),
    "formats": lambda b: setattr(b["Sums"]["A1"], "number_format", "0.0"),
    "sheets": lambda b: setattr(b["Back"], "sheet_state", "visible"),
    "locks": lambda b: setattr(
        b["Sums"]["A1"], "protection", openpyxl.styles.Protection(locked=True)
    ),
}
"""A change that loses one thing of each kind."""
ALONG = {"validations": {"hints"}, "formulas": {"values"}}
"""What goes with it: the words of a rule, the value of a formula."""


@pytest.mark.parametrize("kind", CHANGES)
def test_what_is_lost_is_told_and_nothing_else(sums: Path, kind: str) -> None:
    lost = changed(sums, CHANGES[kind])
    assert lost[kind] == (4 if kind == "protection" else 1)  # and three leaves it gives
    assert set(lost) <= {kind} | ALONG.get(kind, set())


def test_every_kind_of_thing_is_tried(sums: Path) -> None:
    assert set(things(sums)) - set(CHANGES) == {"hints", "values"}


def test_a_wrong_value_beside_a_formula_is_told(sums: Path) -> None:
    other = recalculated.wrong(sums, sums.with_name("wrong.xlsx"))
    told = losses(things(sums), things(other))
    assert [str(loss) for loss in told] == [
        "values: Sums!B1: 49.0 -> -987654321.0",
        "values: Sums!B2: 98.0 -> -987654321.0",
        "values: Sums!B3: 99.0 -> -987654321.0",
    ]


def no_sum(path: Path, _: Path, __: Path | None) -> engines.Values:
    """Work a workbook out as an engine would that takes SUM for something else."""
    told = engines.formula_cells(path)
    worked = engines.by_formualizer(path)
    for place in list(worked):
        if "SUM(" in told[place]:
            worked[place] = -1.0
        elif place == ("Sums", 3, 2):
            worked[place] = 0.0
    return worked


def test_of_cells_that_differ_those_are_named_that_do_so_by_themselves(
    sums: Path, tmp_path: Path
) -> None:
    (tmp_path / "work").mkdir()
    made = recalculated.held(no_sum, sums, tmp_path / "work", None)
    assert (made.cells, made.differ) == (3, 2)
    assert made.own == {("Sums", 2, 2): ("=B1+SUM(A1,A1)", 98.0, -1.0)}


def test_an_engine_that_works_nothing_out_is_no_engine(sums: Path, tmp_path: Path) -> None:
    (tmp_path / "work").mkdir()
    made = recalculated.held(
        lambda path, _, __: engines.stored(path), sums, tmp_path / "work", None
    )
    assert made.differ == 3


def test_a_formula_is_moved_away_with_all_it_reads() -> None:
    formula = "IF(ATAN2(A1,$B$2)>0,Back!A1,\"see A1\")&SUM('Two words'!A1:B2,C3:D4)"
    told = recalculated.away(formula, "Sums")
    assert told == (
        'IF(ATAN2(Sums!A1,Sums!$B$2)>0,Back!A1,"see A1")'
        "&SUM('Two words'!A1:B2,Sums!C3:D4)"
    )  # fmt: skip
    assert recalculated.read(formula, "Sums") == [
        ("Sums", 1, 1, 1, 1), ("Sums", 2, 2, 2, 2), ("Back", 1, 1, 1, 1),
        ("Two words", 1, 1, 2, 2), ("Sums", 3, 3, 4, 4),
    ]  # fmt: skip


def test_a_reason_that_explains_nothing_is_told() -> None:
    lost = [Loss("links", "Start!B2", "Measure!C7", None), Loss("names", "length", "A1", None)]
    known = [
        Reason("Cal.*", "links|panes", re.compile("gone$"), "It keeps no links."),
        Reason("Calc", "links", re.compile(""), "The same once more."),
        Reason("Another", "links", re.compile(""), "It was not tried."),
    ]
    assert unexplained("Calc", lost, known) == lost[1:]
    assert [r.met for r in known] == [1, 0, 0]
    assert stale(known, ["Calc"]) == known[1:2]


def test_each_reason_is_a_sentence_about_a_program_of_the_table() -> None:
    names = [name for name, _ in other_programs.STEPS]
    known = reasons()
    assert len(known) > 10
    assert [r for r in known if not any(re.fullmatch(r.program, n) for n in names)] == []
    assert [r.why for r in known if not re.fullmatch(r"[A-Z].{20,}\.", r.why)] == []


@pytest.mark.parametrize("name", ["HyperFormula", "Formulon", "Open XML SDK", "ExcelJS"])
def test_what_is_not_installed_is_named_as_left_out(name: str, sums: Path) -> None:
    (row,) = other_programs.rows([sums], None, [], {name}, slow=True)
    assert "left out" in str(row)
    assert "see --install" in row.left_out


def test_a_program_that_gives_up_is_no_program_left_out(
    sums: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gives_up(*_: object) -> None:
        trips.run("python3", "-c", "raise SystemExit('no such sheet')")

    monkeypatch.setitem(trips.TRIPS, "openpyxl", gives_up)
    (row,) = other_programs.rows([sums], None, [], {"openpyxl"}, slow=False)
    assert str(row).endswith("| left out: gave up: no such sheet | 1 |")


def test_nothing_is_installed_into_the_project() -> None:
    with pytest.raises(SystemExit, match="is in the project"):
        other_programs.install(Path(__file__).parent / "others")


def test_the_demo_goes_through_openpyxl_with_nothing_unexplained(
    shelf: Callable[[str], Path],
) -> None:
    known = reasons()
    path = shelf("demo-small")
    (row,) = other_programs.rows([path], None, known, {"openpyxl"}, slow=False)
    assert row.left_out == ""
    assert row.cells > 30_000
    assert [str(loss) for loss in row.open] == []
    assert set(row.lost) == {"values"}
    assert trips.TRIPS.keys() >= {row.program}
