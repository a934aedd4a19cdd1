"""The customer's copy: nothing behind the prices comes along, and its choices stay live."""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import openpyxl
import pytest
from click.testing import CliRunner
from openpyxl.cell import Cell

import programs
from filled import filled
from pourtally import share as room
from pourtally.cli import main
from pourtally.files import templates_folder
from pourtally.model import Entries, Units
from pourtally.read import Filled
from pourtally.template import Templates
from shop import build, laid_out, load_copy, read_jobs, results, write_copy

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
