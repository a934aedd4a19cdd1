"""A copy that came back: what was chosen goes into the job, what was changed is told."""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner

import programs
from conftest import JOBS
from pourtally.cli import main
from pourtally.model import Entries
from shop import build, keys_of, read_jobs, read_workbook, results

pytestmark = [
    pytest.mark.xdist_group("share"),  # its workbooks are made once
    pytest.mark.filterwarnings("ignore:Unable to read chart"),
]


def run(*words: str | Path) -> tuple[int, str, str]:
    """Return exit code, output and errors of the command."""
    result = CliRunner().invoke(main, [str(w) for w in words])
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture(scope="module")
def sent(shelf: Callable[[str], Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a ready job and its copy."""
    folder = tmp_path_factory.mktemp("sent")
    shutil.copy(shelf("demo"), folder / "demo.xlsx")
    assert run("share", folder / "demo.xlsx")[0] == 0
    return folder


@pytest.fixture
def job(sent: Path, tmp_path: Path) -> Path:
    """Return the job's workbook, its copy beside it, to be done with as one likes."""
    shutil.copy(sent / "demo-proposal.xlsx", tmp_path)
    return Path(shutil.copy(sent / "demo.xlsx", tmp_path))


def typed(copy: Path, cells: dict[str, Any], sheet: str = "Proposal") -> Path:
    """Type into the cells of a copy, as openpyxl saves it: without any figure worked out."""
    book = openpyxl.load_workbook(copy)
    for cell, value in cells.items():
        book[sheet][cell] = value
    book.save(copy)
    return copy


def beside(job: Path) -> Path:
    return job.with_name(f"{job.stem}-proposal.xlsx")


CHOSEN = {"L24": "Yes", "L27": "y", "B91": "Ann Ostrander", "N91": "Can the tree stay?"}
"""Two options by their cells, who accepted, and a question."""


def test_a_copy_as_it_was_sent_changes_nothing_of_the_job(job: Path, tmp_path: Path) -> None:
    before = job.read_bytes()
    code, told, wrong = run("returned", job, beside(job), "-o", tmp_path / "new.xlsx")
    assert (code, wrong) == (0, "")
    assert told.startswith(f"Wrote {tmp_path / 'new.xlsx'}: options chosen: none; in all ")
    assert "accepted by nobody yet" in told
    assert read_workbook(tmp_path / "new.xlsx").entries == read_workbook(job).entries
    assert job.read_bytes() == before


@pytest.mark.parametrize("program", ["openpyxl", "LibreOffice"])
def test_options_chosen_go_into_the_job_and_nothing_else(
    program: str, job: Path, tmp_path: Path
) -> None:
    copy = typed(beside(job), CHOSEN)
    if program == "LibreOffice":
        (tmp_path / "saved").mkdir()
        programs.convert([copy], "xlsx", tmp_path / "saved", tmp_path / "profile")
        copy = tmp_path / "saved" / copy.name
    before, bytes_before = read_workbook(job).entries, job.read_bytes()
    code, told, wrong = run("returned", job, copy, "-o", tmp_path / "new.xlsx")
    after = read_workbook(tmp_path / "new.xlsx").entries
    assert code == 0
    assert {key for key in after if after[key] != before[key]} == {"options.chosen"}
    assert [line for line, word in enumerate(after["options.chosen"]) if word == "Yes"] == [2, 5]
    assert "Everything stamped and colored, Sleeves for lights under the bands" in told
    assert "accepted by Ann Ostrander" in told
    assert wrong == f"{copy}: Proposal N91: the customer writes 'Can the tree stay?'\n"
    total = results("us", after, keys_of("us", ("payment.price",)))["payment.price"][0]
    assert f"in all {total:,.2f}" in told
    assert job.read_bytes() == bytes_before


def test_the_price_told_is_the_one_the_customer_saw(job: Path, tmp_path: Path) -> None:
    copy = typed(beside(job), CHOSEN)
    (tmp_path / "saved").mkdir()
    programs.convert([copy], "xlsx", tmp_path / "saved", tmp_path / "profile")
    saw = openpyxl.load_workbook(tmp_path / "saved" / copy.name, data_only=True)["Proposal"]["G19"]
    _, told, _ = run("returned", job, copy, "-o", tmp_path / "new.xlsx")
    assert f"in all {saw.value:,.2f}" in told


def test_an_option_chosen_before_and_no_longer_is_taken_out(job: Path, tmp_path: Path) -> None:
    entries = dict(read_workbook(job).entries)
    entries["options.chosen"] = [None, None, None, "Yes", *[None] * 4]
    build("us", entries, job)
    assert run("share", job, "--replace")[0] == 0
    copy = typed(beside(job), {"L25": "no"})
    code, told, _ = run("returned", job, copy, "--replace")
    assert code == 0
    assert "options chosen: none" in told
    assert read_workbook(job).entries["options.chosen"][3] == "No"


TAMPERED = {
    "H23": 95, "B63": "Layout, forms, and the driveway for nothing.", "Q20": "all lights free",
    "P10": 0, "G19": "=P9*0.5", "L24": "perhaps", "N4": None,
}  # fmt: skip
"""Prices, words, a formula, a word where nothing was, an answer that is none, a date gone."""


def test_all_that_was_changed_is_told_at_once_and_nothing_is_written(
    job: Path, tmp_path: Path
) -> None:
    copy = typed(beside(job), TAMPERED)
    typed(copy, {"A2": "0.5"}, "Plan")
    code, told, wrong = run("returned", job, copy, "-o", tmp_path / "new.xlsx")
    assert (code, told) == (1, "")
    assert not (tmp_path / "new.xlsx").exists()
    lines = wrong.splitlines()
    assert lines[-1] == "8 problems found; nothing was written"
    for cell, came, expected in (
        ("Proposal H23", "95", "-3600"),
        ("Proposal B63", "'Layout, forms, and the", "'Layout, forms, concrete"),
        ("Proposal Q20", "'all lights free'", "nothing"),
        ("Proposal P10", "0", "283.2"),
        ("Proposal G19", "'=P9*0.5'", "9618.2"),
        ("Proposal L24 (Everything stamped and colored)", "'perhaps'", "Yes or No"),
        ("Proposal N4", "nothing", "46187"),
    ):
        (line,) = [one for one in lines if one.startswith(f"{copy}: {cell}: came {came}")]
        assert f"; expected {expected}" in line
        assert line.endswith(("share'", "type it there"))


def test_a_word_changed_late_in_a_clause_is_shown_where_it_differs(
    job: Path, tmp_path: Path
) -> None:
    words = openpyxl.load_workbook(beside(job))["Proposal"]["N78"].value
    assert words.endswith("may change price and date.")
    copy = typed(beside(job), {"N78": words.replace("may change price", "never changes price")})
    _, _, wrong = run("returned", job, copy, "-o", tmp_path / "new.xlsx")
    assert "never changes price" in wrong
    assert "may change price" in wrong


def test_a_price_changed_and_saved_by_libreoffice_is_told_once(job: Path, tmp_path: Path) -> None:
    (tmp_path / "saved").mkdir()
    copy = typed(beside(job), {"H23": 95, "L23": "Yes"})
    programs.convert([copy], "xlsx", tmp_path / "saved", tmp_path / "profile")
    copy = tmp_path / "saved" / copy.name
    code, _, wrong = run("returned", job, copy, "-o", tmp_path / "new.xlsx")
    assert code == 1
    assert [line.split(": came")[0] for line in wrong.splitlines()] == [
        f"{copy}: Proposal H23", "1 problem found; nothing was written",
    ]  # fmt: skip


def test_a_figure_that_was_not_worked_out_anew_is_noted_and_the_jobs_own_is_taken(
    job: Path, tmp_path: Path
) -> None:
    """A program that keeps figures as they were, as some phones do, shows the price of before."""
    copy, cell = beside(job), b"<v>961.82</v>"
    with zipfile.ZipFile(copy) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    sheet = "xl/worksheets/sheet1.xml"
    assert parts[sheet].count(cell) == 1
    parts[sheet] = parts[sheet].replace(cell, b"<v>9.32</v>")
    with zipfile.ZipFile(copy, "w") as package:
        for name, content in parts.items():
            package.writestr(name, content)
    code, _, wrong = run("returned", job, copy, "-o", tmp_path / "new.xlsx")
    assert code == 0
    assert "Proposal P13: its figure was not worked out anew" in wrong


def test_the_copy_of_another_job_is_refused_in_one_line(
    shelf: Callable[[str], Path], job: Path, tmp_path: Path
) -> None:
    shutil.copy(shelf("finished"), tmp_path / "other.xlsx")
    assert run("share", tmp_path / "other.xlsx")[0] == 0
    code, _, wrong = run(
        "returned", job, tmp_path / "other-proposal.xlsx", "-o", tmp_path / "n.xlsx"
    )
    assert code == 1
    assert "it is the copy of another job; give the workbook it was made from" in wrong
    assert wrong.count("\n") == 2


@pytest.mark.parametrize("what", ["job", "text", "nothing"])
def test_what_is_no_copy_is_refused(what: str, job: Path, tmp_path: Path) -> None:
    file = {"job": job, "text": tmp_path / "text.xlsx", "nothing": tmp_path / "none.xlsx"}[what]
    if what == "text":
        file.write_text("hello")
    code, told, wrong = run("returned", job, file, "-o", tmp_path / "new.xlsx")
    assert (code, told) == (1, "")
    assert wrong.startswith(f"{file}: ")
    assert not (tmp_path / "new.xlsx").exists()


def test_without_a_place_to_write_nothing_is_done(job: Path) -> None:
    before = job.read_bytes()
    code, _, wrong = run("returned", job, beside(job))
    assert code == 2
    assert "give -o NEW.xlsx, or --replace" in wrong
    assert run("returned", job, beside(job), "-o", job)[0] == 2
    assert job.read_bytes() == before


def test_a_job_changed_since_is_told_as_the_copy_of_before(job: Path, tmp_path: Path) -> None:
    entries = dict(read_workbook(job).entries)
    entries["markups.profit"] = [0.3]
    build("us", entries, job)
    code, _, wrong = run("returned", job, beside(job), "-o", tmp_path / "new.xlsx")
    assert code == 1
    assert "or the job was since" in wrong
    assert "Proposal P21: came 9335" in wrong


def signed_demo() -> Entries:
    (ready,), _ = read_jobs([JOBS["demo"]], None)
    return dict(ready.entries) | {"payment.signed": [46174.0]}


def test_in_a_signed_job_an_option_is_in_no_sum_and_that_is_said(tmp_path: Path) -> None:
    keys = keys_of("us", ("payment.price", "signed.today", "draws.reckoned"))
    entries = signed_demo()
    figures = results("us", entries, keys)
    entries["signed.figure"] = [amount or None for amount in figures["signed.today"]]
    entries["draws.signed"] = [amount or None for amount in figures["draws.reckoned"]]
    build("us", entries, tmp_path / "job.xlsx")
    assert run("share", tmp_path / "job.xlsx")[0] == 0
    copy = typed(tmp_path / "job-proposal.xlsx", CHOSEN)
    code, told, wrong = run("returned", tmp_path / "job.xlsx", copy, "-o", tmp_path / "new.xlsx")
    assert code == 0
    assert "what was chosen is in no sum until it is a change order" in wrong
    after = read_workbook(tmp_path / "new.xlsx").entries
    assert after["options.chosen"][2] == "Yes"
    price = figures["payment.price"][0]
    assert results("us", after, keys)["payment.price"] == [price]
    assert f"in all {price:,.2f}" in told


def test_two_choices_that_clash_and_a_deposit_over_its_cap_are_passed_on(
    job: Path, tmp_path: Path
) -> None:
    entries = dict(read_workbook(job).entries) | {
        "payment.rule": ["Lesser of percent and amount"], "payment.percent": [0.1],
        "payment.amount": [980.0],
    }  # fmt: skip
    entries["options.finish"] = [*entries["options.finish"]]
    entries["options.finish"][3] = "Broomed"  # as everything stamped changes it too
    build("us", entries, job)
    assert run("share", job, "--replace")[0] == 0
    copy = typed(beside(job), {"L24": "Yes", "L25": "Yes"})
    code, _, wrong = run("returned", job, copy, "-o", tmp_path / "new.xlsx")
    assert code == 0
    assert "Proposal B30: Two you chose change the same part" in wrong
    assert "Proposal N11: At signing the law allows no more than $980.00." in wrong
    assert "with these choices: " in wrong  # the job's own stop
