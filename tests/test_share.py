"""The customer's copy: nothing behind the prices comes along, and its choices stay live."""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner
from openpyxl.cell import Cell

import programs
from filled import filled
from pourtally import share as room
from pourtally.cli import main
from pourtally.files import templates_folder
from pourtally.model import (
    Block,
    Book,
    Chart,
    Entries,
    Field,
    Part,
    Run,
    Scalar,
    Series,
    Shape,
    TemplateError,
    Units,
)
from pourtally.output import Care
from pourtally.read import Filled
from pourtally.share import RefusedError
from pourtally.style import Face
from pourtally.template import Template, Templates
from shop import (
    TEMPLATES,
    Told,
    build,
    laid_out,
    load_copy,
    read_jobs,
    results,
    write_copy,
)

pytestmark = pytest.mark.xdist_group("share")  # its workbooks are made once

PUBLIC = (
    "job.", "company.", "customer.", "terms.", "shown.", "includes.", "excludes.", "notes.",
    "notices.", "warranty.", "proposal_", "draws.", "sale.", "options.", "pairs.",
    "finishes.name", "finishes.pattern", "finishes.release", "finishes.shake_color",
    "mixes.name", "finish_area.", "tax_rates.name",
    "finish_price.price", "finish_price.each", "bands.", "pieces.", "curves.", "outlines.",
    "steps.", "walks.what", "usual.", "corners.", "closing.", "quantities_shown.",
    "products.name", "told.", "scope_words.", "bars.name", "orders.color",
    "payment.state", "payment.no", "payment.percent", "payment.amount", "payment.special",
)  # fmt: skip
"""What a customer may see: what he is told anyway, and what can be measured in his yard.

Products, bars, mixes, pattern and colors are named in the scope, where the owner types them.
"""
DRAWN = (
    "yard.", "slab_plan.", "stripes.", "upright.", "walls.", "outline_plan.", "walk_plan.", "legs.",
    "sketches.", "rounds.", "nosings.", "heights_said.",
)  # fmt: skip
"""The points of the plan, and the names in it."""

NUMBER = re.compile(r"-?\d+\.?\d*(?:[eE][-+]?\d+)?")


def secret_job(units: Units, seed: int) -> Entries:
    """Return a job filled to its last line, each secret with a word or an odd price of its own."""
    dice = Random(seed)
    book, _ = laid_out(units)
    entries = filled(units)
    for key, (_, _, part) in book.entries().items():
        if key.startswith(PUBLIC):
            continue
        for line in range(len(entries[key])):
            if part.entry == "text":
                entries[key][line] = f"zq{dice.randrange(16**8):08x}"
            elif part.entry == "number" and "dollar" in part.pint:
                least, most = part.limits.least, min(part.limits.most, 900)
                entries[key][line] = round(dice.uniform(least, most), 2) + 0.01
    return entries


def parts_of(path: Path) -> dict[str, str]:
    """Return every part of a workbook as text, and the names of the parts."""
    with zipfile.ZipFile(path) as archive:
        found = {n: archive.read(n).decode("utf-8", "replace") for n in archive.namelist()}
    return found | {"names of parts": "\n".join(found)}


def secrets(units: Units, entries: Entries) -> tuple[set[str], set[float]]:
    """Return the words and the figures of a job that are no customer's business."""
    book, _ = laid_out(units)
    worked = results(units, entries)
    open_words = {str(v) for k, c in worked.items() if k.startswith(PUBLIC) for v in c}
    open_figures = {
        round(v, 2)
        for k, c in worked.items()
        if k.startswith(PUBLIC)
        for v in c
        if isinstance(v, float)
    }
    words, figures = set(), set()
    for key, (_, _, part) in book.parts.items():
        if key.startswith(PUBLIC) or part.kind not in ("entry", "formula"):
            continue
        for value in worked[key]:
            if isinstance(value, str) and value.startswith("zq") and value not in open_words:
                words.add(value)
            private = "dollar" in part.pint or key.startswith(("price.", "markups."))
            if private and isinstance(value, float) and telling(value):
                figures.add(round(value, 2))
    return words, figures - open_figures


def telling(value: float) -> bool:
    """Tell whether a figure is odd enough to be known again: five digits, with cents."""
    return abs(value) >= 100 and round(value, 2) != round(value)


def leaks(path: Path, words: set[str], figures: set[float]) -> list[str]:
    """Return where a workbook holds a word or a figure that it must not hold."""
    found = []
    for name, text in parts_of(path).items():
        found += [f"{name}: {word}" for word in words if word in text]
        numbers = {round(float(n), 2) for n in NUMBER.findall(text)}
        found += [f"{name}: {figure}" for figure in figures & numbers]
    return found


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("seed", range(4))
def test_no_secret_of_a_job_is_anywhere_in_its_copy(
    units: Units, seed: int, tmp_path: Path
) -> None:
    entries = secret_job(units, seed)
    words, figures = secrets(units, entries)
    assert len(words) > 100
    assert len(figures) > 100
    copy = tmp_path / "copy.xlsx"
    write_copy(units, results(units, entries), copy)
    assert leaks(copy, words, figures) == []


def test_the_search_finds_what_is_there(tmp_path: Path) -> None:
    entries = secret_job("us", 0)
    words, figures = secrets("us", entries)
    build("us", entries, tmp_path / "job.xlsx")
    found = "\n".join(leaks(tmp_path / "job.xlsx", words, figures))
    assert all(word in found for word in words)
    assert sum(str(figure) in found for figure in figures) > 0.9 * len(figures)


def test_a_copy_has_no_names_no_maker_and_no_key_of_the_job(tmp_path: Path) -> None:
    copy = tmp_path / "copy.xlsx"
    write_copy("us", results("us", secret_job("us", 1)), copy)
    parts = parts_of(copy)
    book, _ = laid_out("us")
    names = re.findall(r"<definedName[^>]*name=\"([^\"]+)\"", parts["xl/workbook.xml"])
    assert {n for n in names if not n.startswith("_xlnm.Print")} == set()
    keys = [k for k in book.parts if "." in k]
    assert [k for k in keys if any(k in text for text in parts.values())] == []
    assert [n for n, text in parts.items() if "pourtally" in text.lower()] == []
    for word in ("cost", "wage", "burden", "margin", "markup", "overhead", "supplier", "profit"):
        assert [n for n, text in parts.items() if re.search(rf"\b{word}", text.lower())] == [], word


def test_what_is_behind_a_price_is_not_asked_for_by_the_template() -> None:
    for units in ("us", "si"):
        for key, (_, _, part) in load_copy(units).parts.items():
            for given in part.given.split(" unless ") if part.given else ():
                assert given.startswith((*PUBLIC, "price.t", "price.by_line", "const.",
                                              *DRAWN)), key  # fmt: skip
                assert given in laid_out(units)[0].parts, key


@pytest.fixture
def demo(shelf: Callable[[str], Path], tmp_path: Path) -> Path:
    """Return a ready job's workbook, to be done with as one likes."""
    return Path(shutil.copy(shelf("demo"), tmp_path))


def run(*words: str | Path) -> tuple[int, str, str]:
    """Return exit code, output and errors of the command."""
    result = CliRunner().invoke(main, [str(w) for w in words])
    return result.exit_code, result.stdout, result.stderr


def cell_beside(path: Path, words: str) -> object:
    """Return what stands next to the right of some words on the first sheet, as stored."""
    sheet = openpyxl.load_workbook(path, data_only=True).worksheets[0]
    for row in sheet.iter_rows():
        told = [cell.value for cell in row if cell.value not in (None, "")]
        if words in told:
            return told[told.index(words) + 1]
    raise AssertionError(f"{words} stands nowhere")


def test_the_copy_shows_the_price_of_the_job(demo: Path, tmp_path: Path) -> None:
    code, said, _ = run("share", demo)
    assert (code, said) == (0, f"Wrote {tmp_path / 'demo-proposal.xlsx'}\n")
    worked = results(
        "us", read_jobs([templates_folder() / "jobs" / "demo.toml"], None)[0][0].entries
    )
    shown = cell_beside(tmp_path / "demo-proposal.xlsx", "In all")
    assert shown == pytest.approx(worked["sale.total"][0])


def test_only_what_the_customer_may_choose_is_unlocked(demo: Path, tmp_path: Path) -> None:
    run("share", demo)
    book = openpyxl.load_workbook(tmp_path / "demo-proposal.xlsx")
    assert all(sheet.protection.sheet for sheet in book)
    cells = [c for s in book for row in s.iter_rows() for c in row if isinstance(c, Cell)]
    open_cells = [c for c in cells if not c.protection.locked]
    assert {c.value for c in open_cells} <= {"No", "Yes", None}
    assert len(open_cells) == 6 + 3  # options of the demo; accepted by, date, wishes


def test_a_choice_changes_total_tax_and_payments_as_the_job_itself_would(tmp_path: Path) -> None:
    (job,), _ = read_jobs([templates_folder() / "jobs" / "demo.toml"], None)
    plain = results("us", job.entries)
    for line, name in enumerate(plain["options.offer"]):
        if name:
            entries = dict(job.entries)
            entries["options.chosen"] = ["Yes" if n == line else None for n in range(8)]
            worked = results("us", entries)
            write_copy("us", plain | {"options.answer": worked["options.answer"]},
                       tmp_path / "copy.xlsx")  # fmt: skip
            shown = [cell_beside(tmp_path / "copy.xlsx", said) for said in ("In all", "Sales tax")]
            assert shown == pytest.approx([worked["sale.total"][0], worked["sale.tax"][0]])
            sheet = openpyxl.load_workbook(tmp_path / "copy.xlsx", data_only=True).worksheets[0]
            due = [round(float(row[15].value), 2) for row in sheet.iter_rows(max_row=18)
                   if row[13].value in worked["draws.name"] and row[15].value]  # fmt: skip
            assert due == [round(float(d), 2) for d in worked["draws.due"] if d]


def test_a_stop_is_a_refusal_that_says_why(tmp_path: Path) -> None:
    (job,), _ = read_jobs([templates_folder() / "jobs" / "demo.toml"], None)
    entries = dict(job.entries)
    entries["pieces.shape"] = [None, *entries["pieces.shape"][1:]]
    build("us", entries, tmp_path / "bad.xlsx")
    code, said, wrong = run("share", tmp_path / "bad.xlsx")
    assert (code, said) == (1, "")
    assert "bad.xlsx: All checks: " in wrong
    assert "No copy was written" in wrong
    assert not (tmp_path / "bad-proposal.xlsx").exists()


def test_a_job_of_which_a_bad_cell_was_left_out_is_refused(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No check of the workbook is open: what could not be taken is in no formula any more."""
    sound: Callable[..., Filled] = vars(room)["read_workbook"]

    def read(path: Path, templates: Templates) -> Filled:
        return replace(sound(path, templates), problems=["Labor!C9: came #REF!"])

    monkeypatch.setattr(room, "read_workbook", read)
    code, said, wrong = run("share", demo, "-o", tmp_path / "copy.xlsx")
    assert (code, said) == (1, "")
    assert wrong == f"{demo}: Labor!C9: came #REF!\nNo copy was written\n"
    assert not (tmp_path / "copy.xlsx").exists()


# A copy of told figures: what is refused, what comes along ---------------------------------


def a_job(
    monkeypatch: pytest.MonkeyPatch, problems: list[str] | None = None, **more: Any
) -> list[tuple[Book, Entries, Care]]:
    """Let a workbook be read that says some things and no others; return what is written."""
    book, _ = laid_out("us")
    worked: Entries = {k: [0.0] * b.lines for k, (b, _, _) in book.parts.items()}
    said = {key.replace("__", "."): column for key, column in more.items()}
    for key, values in ({load_copy("us").words["needs"]: [1.0]} | said).items():
        worked[key][: len(values)] = values
    job = Filled(Told(book, worked), {}, problems or [], [], ["a note"])
    out: list[tuple[Book, Entries, Care]] = []

    def build(template: Template, given: Entries, _: Path, __: Face, care: Care) -> None:
        out.append((template.book, given, care))

    monkeypatch.setattr(room, "read_workbook", lambda *_: job)
    monkeypatch.setattr(room, "build", build)
    return out


def shared(replace_it: bool = True) -> list[str]:
    return room.share(Path("job.xlsx"), Path("copy.xlsx"), TEMPLATES, replace_it=replace_it)


def refused() -> list[str]:
    with pytest.raises(RefusedError) as told:
        shared()
    assert str(told.value) == "; ".join(told.value.problems)
    return told.value.problems


def test_a_job_that_is_fit_is_written_and_closed_to_those_who_may_not_read_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    out = a_job(monkeypatch)
    assert shared() == ["a note"]
    assert shared(replace_it=False) == ["a note"]
    assert [care for _, _, care in out] == [Care(True, (Path("job.xlsx"),)),
                                            Care(False, (Path("job.xlsx"),))]  # fmt: skip


def test_a_contract_that_stands_is_said_with_its_copy(monkeypatch: pytest.MonkeyPatch) -> None:
    keys, words = laid_out("us")[0].keys, laid_out("us")[0].words
    stands: dict[str, Any] = {keys["contract_stands"].replace(".", "__"): [1.0]}
    a_job(monkeypatch, **stands)
    assert shared() == ["a note", words["contract_copied"]]


def test_a_cell_that_was_left_out_or_an_open_stop_or_no_price_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    needs = load_copy("us").words["needs"].replace(".", "__")
    bad = "Labor!C9: came #REF!"
    stop: dict[str, Any] = {"checks__state": [2.0], "checks__say": ["Too steep"]}
    out = a_job(monkeypatch, [bad])
    assert refused() == [bad]
    a_job(monkeypatch, **stop)
    assert refused() == ["All checks: Too steep"]
    a_job(monkeypatch, [bad], **stop, **{needs: [0.0]})
    assert refused() == [bad, "All checks: Too steep"]
    for nothing in (0.0, None, ""):
        none: dict[str, Any] = {needs: [nothing]}
        a_job(monkeypatch, **none)
        assert refused() == [load_copy("us").words["nothing"]]
    assert out == []


def a_part(key: str, given: str) -> Field:
    return Field(key, key, (Part(key, key, "formula", given=given, formulas=()),))


def a_block(key: str, shape: Shape, lines: int, *fields: Field, **more: Any) -> Block:
    return Block(key, "Proposal", key, shape, lines, fields, key, **more)


def copied(
    monkeypatch: pytest.MonkeyPatch, worked: Entries, *blocks: Block
) -> tuple[dict[str, Block], Entries]:
    """Return the blocks of a copy as it is written, and what they are given."""
    out: list[tuple[Book, Entries]] = []
    monkeypatch.setattr(room, "build", lambda t, given, *_: out.append((t.book, given)))
    room.write_copy(replace(load_copy("us"), blocks=blocks), worked, Path("copy.xlsx"))
    ((book, given),) = out
    return {block.key: block for block in book.blocks}, given


def test_a_table_has_the_lines_that_hold_something_and_is_left_out_where_none_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    offers = a_block("offers", "table", 3, a_part("offers.name", "o.name"),
                     a_part("offers.price", "o.price"))  # fmt: skip
    none = a_block("none", "table", 3, a_part("none.name", "o.none"))
    sums = a_block("sums", "table", 3, a_part("sums.name", "o.none"))
    adds = a_block("adds", "form", 1, Field("adds.all", "All", (
        Part("adds.all", "All", "formula", formulas=("SUM({sums.name[]})",)),)))  # fmt: skip
    worked: Entries = {"o.name": ["a", "", "b", None, "past the last line"],
                       "o.price": [1.0, 2.0, 3.0, 4.0, 5.0], "o.none": ["", None, ""]}  # fmt: skip
    blocks, given = copied(monkeypatch, worked, offers, none, sums, adds)
    assert {key: block.lines for key, block in blocks.items()} == {
        "offers": 2,
        "sums": 1,
        "adds": 1,
    }
    assert given == {"offers.name": ["a", "b"], "offers.price": [1.0, 3.0], "sums.name": []}


def test_a_field_of_a_form_is_there_where_it_is_given_something(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    form = a_block("form", "form", 1, a_part("form.a", "o.a"), a_part("form.b", "o.b"),
                   a_part("form.c", "o.c unless o.hide"),
                   a_part("form.d", "o.c unless o.b"))  # fmt: skip
    page = a_block("page", "page", 2, a_part("page.a", "o.b"))
    worked: Entries = {"o.a": ["x"], "o.b": [""], "o.c": ["secret"], "o.hide": [1.0]}
    blocks, given = copied(monkeypatch, worked, form, page)
    assert [field.key for field in blocks["form"].fields] == ["form.a", "form.c", "form.d"]
    assert (given["form.c"], given["form.d"]) == ([0.0], ["secret"])
    assert blocks["page"].lines == 1


def test_a_field_that_is_given_nothing_there_is_is_a_slip_of_the_template(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for given in ("o.gone", "o.a unless o.gone"):
        with pytest.raises(TemplateError, match=r"a\.b: given 'o.gone' is no figure"):
            copied(monkeypatch, {"o.a": [1.0]}, a_block("a", "form", 1, a_part("a.b", given)))


def a_line(key: str, first: int, last: int, **look: Any) -> Series:
    """Return a line down the columns x and y of a block."""
    x, y = (Run(f"{key}.{a}", first, f"{key}.{a}", last) for a in "xy")
    return Series(x, y, **look)


def test_a_drawing_has_the_lines_and_areas_that_show_something(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    points = a_block("points", "table", 4, a_part("points.x", "o.x"), a_part("points.y", "o.y"))
    shown, dot, gone = (a_line("points", *ends) for ends in ((0, 1), (1, 2), (2, 4)))
    named = a_line("points", 1, 2, name=Run("points.x", 1, "points.x", 1))
    area, flat = (a_line("points", *ends, fill="light") for ends in ((0, 1), (3, 3)))
    none, across = a_line("points", 0, 1, fill="none"), Series(
        Run("row.a", 0, "row.c", 0), Run("row.a", 0, "row.c", 0))  # fmt: skip
    row = a_block("row", "table", 1, *(a_part(f"row.{k}", f"o.{k}") for k in "abcd"), charts=(
        Chart("empty", 1, (dot, gone)),
        Chart("first", 1, (shown, dot, gone, named, across), over=True),
        Chart("areas", 1, (area, flat, none), over=True, fills=True),
        Chart("flat", 1, (flat, none), fills=True),
        Chart("again", 1, (), same="plan"),
    ))  # fmt: skip
    worked: Entries = {"o.x": [1.0, 2.0, 2.0, 3.0], "o.y": [1.0, 2.0, 2.0, 0.0],
                       "o.a": [1.0], "o.b": [1.0], "o.c": [2.0], "o.d": [0.0]}  # fmt: skip
    charts = {c.words: c for c in copied(monkeypatch, worked, points, row)[0]["row"].charts}
    assert list(charts) == ["first", "areas", "again"]
    assert charts["first"].series == (shown, named, across)
    assert charts["areas"].series == (area, flat, none)  # areas stand on one another
    assert [chart.over for chart in charts.values()] == [False, True, False]


def test_a_drawing_of_a_block_that_is_left_out_is_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    points = a_block("points", "table", 4, a_part("points.x", "o.x"), a_part("points.y", "o.x"))
    form = a_block("form", "form", 1, a_part("form.a", "o.a"), charts=(
        Chart("gone", 1, (a_line("points", 0, 0, name=Run("form.a", 0, "form.a", 0)),)),
    ))  # fmt: skip
    blocks, _ = copied(monkeypatch, {"o.x": [""] * 4, "o.a": ["x"]}, points, form)
    assert list(blocks) == ["form"]
    assert blocks["form"].charts == ()


def test_options_that_stand_in_a_copy_are_those_with_a_name() -> None:
    book, _ = laid_out("us")
    names: list[Scalar] = ["", "Seal", None, "Steps"]
    assert room.offered_lines(book, {book.keys["option_offer"]: names}) == [1, 3]


def test_a_job_without_prices_is_refused(shelf: Callable[[str], Path]) -> None:
    code, _, wrong = run("share", shelf("courtyard-metric"))
    assert code == 1
    assert "no price to offer" in wrong


def test_a_copy_never_takes_the_place_of_the_job(demo: Path, tmp_path: Path) -> None:
    before = demo.read_bytes()
    code, _, wrong = run("share", demo, "-o", demo, "--replace")
    assert code == 2
    assert "the workbook itself" in wrong
    assert demo.read_bytes() == before
    assert run("share", demo, "-o", tmp_path / "copy.pdf")[0] == 2
    assert run("share", demo)[0] == 0
    assert run("share", demo)[0] == 2  # there already


def test_a_pdf_is_made_where_libreoffice_is(demo: Path, tmp_path: Path) -> None:
    programs.program("soffice")
    code, said, wrong = run("share", demo, "--pdf")
    assert (code, wrong) == (0, "")
    assert (tmp_path / "demo-proposal.pdf").read_bytes().startswith(b"%PDF")
    assert "demo-proposal.pdf" in said


def test_without_libreoffice_nothing_is_written_and_said_what_to_do(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shutil.which", lambda *_: None)
    code, _, wrong = run("share", demo, "--pdf")
    assert code == 2
    assert "LibreOffice" in wrong
    assert "spreadsheet program" in wrong
    assert not (tmp_path / "demo-proposal.xlsx").exists()
