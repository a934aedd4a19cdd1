"""Every command as a person uses it: what it writes, prints and refuses."""

from __future__ import annotations

import errno
import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from pourtally import build as build_room
from pourtally import many
from pourtally import template as template_room
from pourtally.cli import main
from pourtally.files import templates_folder
from pourtally.load import load_book
from pourtally.model import Book, Size, TemplateError, Units
from pourtally.template import Template

PATIO = """
units = "us"
[job]
name = "Smith"
date = 2026-05-14
[[pieces]]
shape = "Rectangle"
a = [16, 6]
b = 20
"""
NAMED = '[[mixes]]\nname = "Plain, as ever"\n'
"""A name with a comma of its own, which a list must not make two of."""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str) -> Result:
    result = CliRunner().invoke(main, words)
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def job(name: str = "smith.toml", text: str = PATIO) -> str:
    Path(name).parent.mkdir(parents=True, exist_ok=True)
    Path(name).write_text(text, encoding="utf-8")
    return name


def files() -> list[str]:
    return sorted(p.as_posix() for p in Path().rglob("*") if p.is_file())


@pytest.fixture
def plain_files(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write the entries in place of a workbook, where only these, its name and place matter."""

    def write(template: Template, entries: object, path: Path, *_: object) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f"{template.units} {entries}", encoding="utf-8")

    monkeypatch.setattr(build_room, "build", write)


# Happy paths ------------------------------------------------------------------------


def test_demo_writes_a_workbook_into_output() -> None:
    result = run("demo")
    assert result.exit_code == 0
    assert files() == sorted(line.removeprefix("Wrote ") for line in result.stdout.splitlines())
    assert all(f.startswith("output/") and f.endswith(".xlsx") for f in files())


def test_the_installed_command_builds_a_job_and_reads_it_back() -> None:
    program = Path(sys.executable).parent / "pourtally"
    job()
    built = subprocess.run([program, "build", "smith.toml"], capture_output=True, check=False)
    assert (built.returncode, built.stderr) == (0, b"")
    read = subprocess.run(
        [program, "values", "output/smith.xlsx", "--json"], capture_output=True, check=False
    )
    assert (read.returncode, read.stderr) == (0, b"")
    found = json.loads(read.stdout)
    assert found["values"]["job.name"] == {"label": "Job", "unit": "", "value": "Smith"}
    assert found["values"]["pieces.area"]["value"][:2] == [330.0, 0.0]  # 16.5 × 20


def test_build_without_a_job_makes_a_blank_workbook() -> None:
    assert run("build").stdout == "Wrote output/flatwork.xlsx\n"
    assert run("build", "--units", "si", "-o", "si.xlsx").exit_code == 0
    found = json.loads(run("values", "si.xlsx", "--json").stdout)
    assert (found["units"], found["problems"]) == ("si", [])
    assert found["values"]["pieces.a"]["unit"] == "m"


@pytest.mark.usefixtures("plain_files")
@pytest.mark.parametrize(
    ("out", "written"),
    [
        ("shed/patio.xlsx", "shed/patio.xlsx"),
        ("shed", "shed/smith.xlsx"),
        ("shed.2026", "shed.2026/smith.xlsx"),
    ],
    ids=["a file", "a new folder", "a folder with a dot that is there"],
)
def test_output_is_a_file_or_a_folder(out: str, written: str) -> None:
    Path("shed.2026").mkdir()
    assert run("build", job(), "-o", out).exit_code == 0
    assert written in files()


@pytest.mark.usefixtures("plain_files")
def test_several_jobs_are_built_with_a_progress_bar_on_the_error_stream() -> None:
    result = run("build", job(), job("jones.toml"))
    assert result.stdout.splitlines() == ["Wrote output/smith.xlsx", "Wrote output/jones.xlsx"]
    assert "Building" in result.stderr


@pytest.mark.usefixtures("plain_files")
@pytest.mark.parametrize("place", ["before", "after"])
def test_quiet_prints_nothing_when_all_is_fine(place: str) -> None:
    words = ["build", job(), job("jones.toml")]
    result = run(*(["-q", *words] if place == "before" else [*words, "-q"]))
    assert (result.exit_code, result.output) == (0, "")
    assert len(files()) == 4


@pytest.mark.usefixtures("plain_files")
def test_new_writes_a_job_file_that_builds_as_it_is() -> None:
    assert run("new", "jobs/first.toml").stdout == f"Wrote {Path('jobs/first.toml')}\n"
    result = run("build", "jobs/first.toml")
    assert (result.exit_code, result.stderr) == (0, "")


def test_values_prints_key_label_unit_and_value() -> None:
    run("build", job())
    result = run("values", "output/smith.xlsx", "--all")
    assert result.exit_code == 0
    lines = {line.split()[0]: line.split()[1:] for line in result.stdout.splitlines() if line}
    assert lines["pieces.a"] == ["A", "ft", "16.5"]
    assert lines["pieces.a.in"] == ["A,", "in", "in", "6"]
    assert lines["total.area"] == ["Area", "of", "all", "finishes", "ft²", "330"]
    assert lines["job.date"][-1] == "2026-05-14"
    assert lines["pieces.c"] == ["C", "ft"]  # forty empty lines are not shown


def test_values_tell_a_job_on_one_page() -> None:
    run("build", job(text=PATIO + NAMED))
    result = run("values", "output/smith.xlsx")
    told = result.stdout.splitlines()
    assert (result.exit_code, len(told) < 45) == (0, True)
    rows = {re.sub(" {2,}", " | ", line.strip()) for line in told}
    # 330 ft² at 4 1/8 in are 4.2014 yd³, 5 % more 4.4115; the pump keeps 0.2763: 4.6878, so 4.75
    assert {
        "Job | Smith",
        "Date measured | 2026-05-14",
        "Area of all finishes | 330.0 ft²",
        "Concrete to order, all mixes | 4.75 yd³",
        "Price with chosen options | Not priced yet",
        "4.75 yd³ | Plain, as ever",
    } <= rows
    assert [row for row in rows if row.startswith("LOOK | A placement has no date")]
    assert [row for row in rows if row.endswith("| Form boards")]
    assert not [row for row in rows if row.startswith("OK |")]


def test_values_print_chosen_blocks_and_sheets_alone() -> None:
    run("build", job(text=PATIO + NAMED))
    result = run("values", "output/smith.xlsx", "pieces", "POURS", "concrete")
    keys = {line.split()[0].split(".")[0] for line in result.stdout.splitlines() if "." in line}
    pages = {b.key: b.sheet for b in load_book("us").blocks}
    assert keys - {"pieces", "concrete"} <= {k for k, sheet in pages.items() if sheet == "Pours"}
    assert keys >= {"pieces", "concrete", "weather", "drying", "setting"}
    (named,) = [line for line in result.stdout.splitlines() if line.startswith("  concrete.name ")]
    assert named.endswith('  "Plain, as ever", Colored')


def test_values_as_json_hold_chosen_blocks_and_the_codes_of_lines() -> None:
    run("build", job())
    values = json.loads(run("values", "output/smith.xlsx", "--json").stdout)["values"]
    assert "codes" not in values["pieces.area"]
    boards = values["supply.name"]["codes"].index("boards")
    assert values["supply.name"]["value"][boards] == "Form boards"
    coded = [figure for figure in values.values() if "codes" in figure]
    assert all(len(figure["codes"]) == len(figure["value"]) for figure in coded)
    result = run("values", "output/smith.xlsx", "supply", "--json")
    chosen = json.loads(result.stdout)["values"]
    assert chosen == {k: v for k, v in values.items() if k.startswith("supply.")}


def test_a_block_that_is_not_there_is_told_with_what_was_meant() -> None:
    run("build", job())
    result = run("values", "output/smith.xlsx", "piecess", "zzz", "total")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines() == [
        "'piecess' is no block and no sheet: did you mean 'pieces'?; --all prints every block",
        "'zzz' is no block and no sheet: no such name; --all prints every block",
    ]
    assert run("values", "output/smith.xlsx", "total", "--all").exit_code == 2


def test_values_tell_days_and_times_by_the_clock(tmp_path: Path) -> None:
    # 324 ft² at 4 in are 4 yd³ in one load at 20 yd³/h: placed from 6:45 to 6:57
    text = """
pieces = [{ shape = "Rectangle", a = 16.2, b = 20 }]
mixes = [{ placed = "Chute", allowance = 0, waste = 0 }]
placements = [{ date = 2026-06-09, start = 06:45:00 }]
"""
    job_file = tmp_path / "day.toml"
    job_file.write_text(text, "utf-8")
    run("build", str(job_file), "-o", str(tmp_path / "day.xlsx"))
    values = json.loads(run("values", str(tmp_path / "day.xlsx"), "--json").stdout)["values"]
    assert values["placements.date"]["value"][0] == "2026-06-09"
    assert values["placements.start"]["value"][0] == "06:45"
    assert values["loads.ends"]["value"][:2] == ["06:57", 0]
    assert values["after.placed"]["value"][:2] == ["2026-06-09 06:57", 0]


def test_values_of_a_blank_workbook_have_no_problem() -> None:
    run("build")
    result = run("values", "output/flatwork.xlsx", "--quiet")
    assert (result.exit_code, result.output) == (0, "")


def test_values_fit_a_console_that_knows_no_foreign_signs() -> None:
    run("build", job())
    program = Path(sys.executable).parent / "pourtally"
    found = subprocess.run(
        [program, "values", "output/smith.xlsx"],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert (found.returncode, found.stderr) == (0, b"")
    assert b"Area of all finishes" in found.stdout


# Help -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "command",
    ["demo", "build", "values", "new", "figures", "learn", "returned", "options", "books"],
)
def test_every_command_explains_itself_with_an_example(command: str) -> None:
    text = run(command, "--help").stdout
    assert f"  pourtally {command}" in text
    assert "--quiet" in text


def test_no_command_is_cut_short_where_all_are_listed() -> None:
    listed = run("--help").stdout.partition("Commands:")[2].splitlines()
    assert [line.split()[0] for line in listed if line] == sorted(
        n for n, c in main.commands.items() if not c.hidden
    )
    assert [line for line in listed if line.endswith("...") or len(line) > 80] == []


def test_a_shell_completes_commands_and_options() -> None:
    program = Path(sys.executable).parent / "pourtally"
    asked = {
        "_POURTALLY_COMPLETE": "bash_complete",
        "COMP_WORDS": "pourtally va",
        "COMP_CWORD": "1",
    }
    told = subprocess.run([program], capture_output=True, check=False, env={**os.environ, **asked})
    assert told.stdout.decode().split() == ["plain,values"]


def test_help_imports_no_heavy_room() -> None:
    script = "import sys, pourtally.cli; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True)
    heavy = {"xlsxwriter", "ironcalc", "openpyxl", "tomllib", "pourtally.load"}
    assert heavy & set(loaded.stdout.decode().split()) == set()


def test_version_is_printed() -> None:
    assert run("--version").stdout.startswith("pourtally ")


# Refusing ---------------------------------------------------------------------------


@pytest.mark.usefixtures("plain_files")
def test_a_file_is_written_over_only_when_told_so() -> None:
    run("build", job())
    before = Path("output/smith.xlsx").read_bytes()
    job(text=PATIO.replace("b = 20", "b = 30"))
    result = run("build", "smith.toml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "output/smith.xlsx" in Path(result.stderr.split(":")[0]).as_posix()
    assert "--replace" in result.stderr
    assert Path("output/smith.xlsx").read_bytes() == before
    assert run("build", "smith.toml", "--replace").exit_code == 0
    assert Path("output/smith.xlsx").read_bytes() != before


@pytest.mark.usefixtures("plain_files")
def test_twenty_jobs_load_each_template_once(monkeypatch: pytest.MonkeyPatch) -> None:
    loaded: list[str] = []

    def load(units: Units, size: Size) -> Book:
        loaded.append(f"{units} {size}")
        return load_book(units, size)

    monkeypatch.setattr(template_room, "load_book", load)
    monkeypatch.setattr(many, "_cores", lambda: 1)
    us = [job(f"{n}.toml") for n in range(19)]
    metric = job("metric.toml", 'units = "si"\n[job]\nname = "Metric"\n')
    result = run("build", *us, metric)
    assert (result.exit_code, loaded) == (0, ["us usual", "si usual"])


@pytest.mark.usefixtures("plain_files")
def test_one_file_there_already_stops_all_of_them() -> None:
    run("build", job())
    result = run("build", job("jones.toml"), "smith.toml")
    assert result.exit_code == 2
    assert "output/jones.xlsx" not in files()


@pytest.mark.usefixtures("plain_files")
def test_demo_and_new_refuse_to_write_over_a_file() -> None:
    run("demo")
    run("new", "a.toml")
    for words in (["demo"], ["new", "a.toml"]):
        assert run(*words).exit_code == 2
        assert run(*words, "--replace").exit_code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["build", "a/x.toml", "b/X.toml"], "two jobs would be written to it"),
        (["build", "a/x.toml", "b/y.toml", "-o", "both.xlsx"], "give a folder"),
        (["build", "a/x.toml", "-o", "x.xls"], "ends in .xlsx"),
        (["build", "--units", "feet"], "'feet' is not one of 'us', 'si'"),
        (["build", "a/x.toml", "-o", "a/x.toml/patio.xlsx"], "a/x.toml: "),
        (["new", "job.txt"], "ends in .toml"),
        (["bild"], "No such command 'bild'"),
    ],
    ids=lambda words: " ".join(words) if isinstance(words, list) else "",
)
def test_bad_use_is_one_message_and_exit_2(words: list[str], said: str) -> None:
    for name in ("a/x.toml", "b/X.toml", "b/y.toml"):
        job(name)
    before = files()
    result = run(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr
    assert files() == before


def test_a_mistake_in_the_templates_is_a_message(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(units: str, size: str) -> None:
        raise TemplateError("20-pieces.toml: block pieces: unknown key 'lable'")

    monkeypatch.setattr(template_room, "load_book", broken)
    result = run("build", job())
    assert result.exit_code == 1
    assert result.stderr == "templates: 20-pieces.toml: block pieces: unknown key 'lable'\n"


# Problems of job files --------------------------------------------------------------

BAD_JOB = """
[usual]
thicknes = 5
slope = "steep"
[job]
date = "May 14"
name = 12
colour = "red"
[[pieces]]
shape = "Rectangel"
a = [16, 4, 3]
b = -2
count = true
[[pieces]]
line = 41
[piecez]
a = 1
[[outlines]]
what = "1"
[[outlines]]
[[outlines]]
[[outlines]]
[[plant]]
step = 1
[mixes]
waste = 5
[[pours]]
order = 6
[[pours]]
line = 1
order.yours = "much"
"""

EXPECTED = [
    "bad.toml: usual: unknown key 'thicknes'; did you mean 'thickness'?",
    "bad.toml: usual.slope: came 'steep'; expected a number from 0 to 2 in/ft",
    "bad.toml: job.date: came 'May 14'; expected a date",
    "bad.toml: job.name: came 12; expected words",
    "bad.toml: job: unknown key 'colour'; known here: name, customer, address, phone, date, me",
    "bad.toml: pieces[1].a: came [16, 4, 3]; expected feet, or [feet, inches]",
    "bad.toml: pieces[1].b: came -2; expected a number from 0 to 1000 ft",
    "bad.toml: pieces[1].count: came true; expected a whole number from 0 to 500",
    "bad.toml: pieces: 41 lines, usual has 40",
    "bad.toml: unknown key 'piecez'; did you mean 'pieces'?",
    "bad.toml: outlines: 4 lines, usual has 3",
    "bad.toml: plant: came a list; expected one table, [plant]",
    "bad.toml: mixes: came one table; expected lines, [[mixes]] for each",
    "bad.toml: pours[1].order: this figure is worked out; write order.yours = ...",
    "bad.toml: pours[1]: the line is given twice; keep one of them",
    "bad.toml: pours[1].order.yours: came 'much'; expected a number from 0 to",
    "bad.toml: pieces[1].shape: came 'Rectangel'; did you mean 'Rectangle'?",
    "other.toml: there is no such file",
]


def test_all_problems_of_all_job_files_are_shown_at_once_and_nothing_is_written() -> None:
    job("bad.toml", BAD_JOB)
    result = run("build", job(), "bad.toml", "other.toml")
    assert (result.exit_code, result.stdout) == (1, "")
    shown = result.stderr.splitlines()
    for line, expected in zip(shown, EXPECTED, strict=False):
        assert line.startswith(expected)
    assert shown[len(EXPECTED) :] == ["18 problems found; nothing was written"]
    assert files() == ["bad.toml", "smith.toml"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[job\n", "not valid TOML"),
        ("a = 1\na = 2\n", "not valid TOML"),
        ("a = " + "[" * 5000, "not valid TOML"),
        ("a = " + "9" * 5000, "not valid TOML"),
        ("# " + "x" * 1_000_001, "a job file is a short text"),
        ('units = "feet"', 'units: came \'feet\'; expected "us" or "si"'),
        ("units = 3", "units: came 3; expected"),
        ("[usual]\nthickness = 1" + "0" * 400, "usual.thickness: came 1000"),
        ("[usual]\nthickness = inf", "usual.thickness: came inf; expected"),
        ("[usual]\nthickness = nan", "usual.thickness: came nan; expected"),
        ("[job]\ndate = 1999-12-31", "job.date: came 1999-12-31; expected a date from 2000"),
        ('[job]\nname = "=1+1"', "job.name: came '=1+1'; expected words that do not start with ="),
        ("[job]\nname = '" + "x" * 251 + "'", "job.name: came 251 characters; expected at most"),
    ],
    ids=lambda text: text[:24].replace("\n", " "),
)
def test_a_bad_job_file_is_one_clear_message(text: str, said: str) -> None:
    result = run("build", job("bad.toml", text))
    assert result.exit_code == 1
    assert result.stderr.count("\n") == 2
    assert result.stderr.startswith("bad.toml: ")
    assert said in result.stderr
    assert files() == ["bad.toml"]


def test_a_job_file_that_is_no_text_is_a_message() -> None:
    Path("bad.toml").write_bytes(b"\xff\xfe\x00")
    Path("folder.toml").mkdir()
    result = run("build", "bad.toml", "folder.toml")
    assert result.exit_code == 1
    assert "bad.toml: not a text in UTF-8" in result.stderr
    assert "folder.toml: not a file but a folder" in result.stderr


@pytest.mark.usefixtures("plain_files")
def test_units_asked_for_must_agree_with_the_job_file() -> None:
    result = run("build", job(), "--units", "si")
    assert result.exit_code == 1
    assert "the file says 'us' and the command 'si'" in result.stderr
    assert run("build", job(text=PATIO.replace('units = "us"', "")), "--units", "us").exit_code == 0


@pytest.mark.usefixtures("plain_files")
def test_a_choice_may_stand_before_the_list_that_names_it() -> None:
    text = '[usual]\nfinish = "sandblasted"\n[[finishes]]\nline = 6\nname = "Sandblasted"\n'
    assert run("build", job(text=text)).exit_code == 0


@pytest.mark.usefixtures("plain_files")
def test_a_text_from_another_system_is_read_alike() -> None:
    Path("dos.toml").write_bytes(b"\xef\xbb\xbf" + PATIO.replace("\n", "\r\n").encode())
    run("build", job(), "dos.toml")
    assert Path("output/dos.xlsx").read_bytes() == Path("output/smith.xlsx").read_bytes()


# Whole or not at all ----------------------------------------------------------------


def test_the_same_job_twice_gives_the_same_bytes() -> None:
    run("build", job(), "-o", "one.xlsx")
    run("build", "smith.toml", "-o", "two.xlsx")
    assert Path("one.xlsx").read_bytes() == Path("two.xlsx").read_bytes()


@pytest.mark.parametrize("command", ["build", "new"])
def test_a_full_disk_leaves_the_old_file_whole(
    command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = {"build": "output/flatwork.xlsx", "new": "a.toml"}[command]
    words = [command] if command == "build" else [command, target]
    assert run(*words).exit_code == 0
    before = Path(target).read_bytes()

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "replace", full)
    result = run(*words, "--replace")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == f"{Path(target)}: No space left on device\n"
    assert (Path(target).read_bytes(), files()) == (before, [target])


def test_an_interrupted_write_leaves_the_old_file_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    run("build", job())
    before = Path("output/smith.xlsx").read_bytes()

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", stopped)
    assert run("build", "smith.toml", "--replace").exit_code == 130
    assert Path("output/smith.xlsx").read_bytes() == before
    assert files() == ["output/smith.xlsx", "smith.toml"]


def test_a_killed_write_leaves_the_old_file_whole() -> None:
    run("build", job())
    before = Path("output/smith.xlsx").read_bytes()
    script = (
        "import os, signal; os.replace = lambda *_: os.kill(os.getpid(), signal.SIGKILL);"
        "from pourtally.cli import main; main(['build', 'smith.toml', '--replace'])"
    )
    done = subprocess.run([sys.executable, "-c", script], check=False)
    assert done.returncode == -signal.SIGKILL
    assert Path("output/smith.xlsx").read_bytes() == before


def test_the_templates_hold_a_demo_job() -> None:
    assert list((templates_folder() / "jobs").glob("demo*.toml"))
