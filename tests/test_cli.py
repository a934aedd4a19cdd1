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
from typing import Any

import pytest
from click.testing import CliRunner, Result

from pourtally import build as build_room
from pourtally import many
from pourtally import template as template_room
from pourtally.cli import main
from pourtally.files import templates_folder
from pourtally.jobfile import job_entries, job_form, job_place, read_job
from pourtally.load import load_book
from pourtally.model import Book, Entries, Scalar, Size, TemplateError, Units
from pourtally.template import Template
from shop import laid_out

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


# A job file, entry by entry ----------------------------------------------------------


def taken(said: dict[str, Any], units: Units = "us", **more: Any) -> tuple[Entries, list[str]]:
    return job_entries(laid_out(units, "small")[0], said, "a.toml", **more)


def changed(said: dict[str, Any], units: Units = "us") -> dict[str, Scalar]:
    """Return what a job changes: {block.figure[line, counted from 1]: its value}."""
    entries, problems = taken(said, units)
    usual, _ = taken({}, units)
    assert problems == []
    return {f"{key}[{n + 1}]": value for key, column in entries.items()
            for n, value in enumerate(column) if value != usual[key][n]}  # fmt: skip


CHANGES: list[tuple[dict[str, Any], dict[str, Scalar]]] = [
    ({"units": "us", "size": "small", "place": ""}, {}),
    ({"prices": [{"line": "boards", "price": 9}, {"price": 8}]},
     {"prices.price[36]": 9.0, "prices.price[37]": 8.0}),
    ({"pieces": [{"count": 2}, {"line": 12, "count": 3}]},
     {"pieces.count[1]": 2.0, "pieces.count[12]": 3.0}),
    ({"pieces": [{"line": 3, "count": 2}, {"line": 1, "count": 4}, {"count": 5}]},
     {"pieces.count[3]": 2.0, "pieces.count[1]": 4.0, "pieces.count[2]": 5.0}),
    ({"pieces": [{"a": [16, 4.5], "b": [3]}]},
     {"pieces.a.ft[1]": 16.0, "pieces.a.in[1]": 4.5, "pieces.b.ft[1]": 3.0}),
    ({"pieces": [{"a": 16, "b": "16' 4.5"}]},
     {"pieces.a.ft[1]": 16.0, "pieces.b.ft[1]": 16.0, "pieces.b.in[1]": 4.5}),
    ({"pieces": [{"a": "4 1/2 in"}]}, {"pieces.a.ft[1]": 0.0, "pieces.a.in[1]": 4.5}),
    ({"pieces": [{"a": "", "count": ""}]}, {}),
    ({"pricing": {"oldest": ""}}, {"pricing.oldest[1]": None}),
    ({"pours": [{"line": 2, "order": {"yours": 6.5}}]}, {"pours.order.yours[2]": 6.5}),
    ({"markups": {"profit": 12.5}}, {"markups.profit[1]": 0.125}),
    # other names of older files; what was counted in is taken off, what stood once is spread
    ({"bands": [{"across": 3, "band_left": "Yes", "band_right": "Yes"}]},
     {"bands.inside_across[1]": 1.0}),
    ({"usual_bands": {"panel_finish": ""}}, {}),
    # a line with anything in it begins empty where it is for one thing
    ({"equipment": [{"what": "Own"}]},
     {"equipment.what[1]": "Own", "equipment.task[1]": None, "equipment.people[1]": None}),
    ({"equipment": [{"line": 1}]}, {}),
]  # fmt: skip


@pytest.mark.parametrize(("said", "new"), CHANGES, ids=[str(said)[:40] for said, _ in CHANGES])
def test_a_job_file_changes_what_it_says_and_no_more(
    said: dict[str, Any], new: dict[str, Scalar]
) -> None:
    assert changed(said) == new


def test_lengths_in_meters_are_read_as_they_are_written_and_said() -> None:
    notes: list[str] = []
    said = {"pieces": [{"a": "4,99", "b": 3, "c": "4990 mm"}]}
    entries, problems = taken(said, "si", notes=notes)
    assert problems == []
    assert [entries[f"pieces.{k}.m"][0] for k in "abc"] == [4.99, 3, 4.99]
    assert [note.partition(" is read as")[0] for note in notes] == [
        "a.toml: pieces[1].a: 4,99", "a.toml: pieces[1].c: 4990 mm",
    ]  # fmt: skip


WRONG: list[tuple[dict[str, Any], list[str]]] = [
    ({"prices": [{"line": 0}]}, ["prices: line: came 0; expected 1 to 69, or a code such as "
                                 "'pigment_1'"]),
    ({"ways": [{"line": True}, {"line": "2"}, {"line": 1.0}]},
     ["ways: line: came true; expected 1 to 3", "ways: line: came '2'; expected 1 to 3",
      "ways: line: came 1; expected 1 to 3"]),
    ({"ways": [{"line": 2}, {"line": 1}, {}]},
     ["ways[2]: the line is given twice; keep one of them"]),
    ({"ways": [{}, {}, {}, {}]},
     ["ways: 4 lines, the largest workbook has 3; use a second job file"]),
    ({"ways": [{"line": 3}, {}, {"line": 9}, {}, {"line": 2}]},
     ["ways: 10 lines, the largest workbook has 3; use a second job file"]),
    ({"ways": [{"lien": 3}]},
     ["ways[1]: unknown key 'lien'; known here: typed, set_up, wash_up, people, "
      "hire_fixed, hire_hour, hire_volume, from, hired_on"]),
    ({"job": {"line": 1}},
     ["job: unknown key 'line'; known here: name, customer, address, phone, date, "
      "measured_by"]),
    ({"ways": {"set_up": 1}}, ["ways: came one table; expected lines, [[ways]] for each"]),
    ({"ways": [1]}, ["ways: came a list; expected lines, [[ways]] for each"]),
    ({"job": "Smith"}, ["job: came words; expected one table, [job]"]),
    ({"job": 1.5}, ["job: came a number; expected one table, [job]"]),
    ({"job": True}, ["job: came bool; expected one table, [job]"]),
    ({"pieces": [{"a": []}]}, ["pieces[1].a: came []; expected feet, or [feet, inches]"]),
    ({"pieces": [{"a": [1, 2, 3]}]},
     ["pieces[1].a: came [1, 2, 3]; expected feet, or [feet, inches]"]),
    ({"pieces": [{"a": [1, "2"]}]},
     ["pieces[1].a: came [1, '2']; expected feet, or [feet, inches]"]),
    ({"pieces": [{"a": "wide"}]},
     ["pieces[1].a: came 'wide'; expected feet and inches such as 24' 6 1/2\""]),
    ({"pours": [{"order": {"yours": 6, "more": 1}}]},
     ["pours[1].order: this figure is worked out; write order.yours = ... to replace it"]),
    ({"pours": [{"order": {"yours": "much"}}]},
     ["pours[1].order.yours: came 'much'; expected a number from 0 to 1e+06 yd³"]),
    ({"stamping": {"rate": 50}},
     ["stamping.rate: there is no such entry any more: the day goes by the hours for each mat of "
      "the task on Labor that stamps; take it out"]),
    ({"usual_bands": {"panel_finish": 7}}, ["usual_bands.panel_finish: came 7; expected words"]),
    ({"usual": {"finish": "Marble"}},
     ["usual.finish: came 'Marble'; expected one of Broomed, Stamped, "
      "Exposed aggregate, Troweled, Floated"]),
]  # fmt: skip


@pytest.mark.parametrize(("said", "told"), WRONG, ids=[str(said)[:40] for said, _ in WRONG])
def test_what_a_job_file_cannot_say_is_told_with_its_key(
    said: dict[str, Any], told: list[str]
) -> None:
    assert taken(said)[1] == [f"a.toml: {one}" for one in told]


def test_a_job_with_more_lines_is_told_the_size_that_takes_them() -> None:
    def larger() -> list[Book]:
        return [laid_out("us", size)[0] for size in ("usual",)]

    has = "a.toml: pieces: 13 lines, small has 12; "
    assert taken({"pieces": [{}] * 13}, larger=larger)[1] == [f'{has}size = "usual" takes 40']
    assert taken({"pieces": [{}] * 40}, larger=larger)[1][0].endswith('size = "usual" takes 40')
    assert taken({"pieces": [{}] * 41}, larger=larger)[1] == [
        "a.toml: pieces: 41 lines, the largest workbook has 40; use a second job file"
    ]


def test_what_a_job_does_not_say_is_as_in_the_entries_it_goes_over() -> None:
    before, _ = taken({"pricing": {"oldest": 77}, "job": {"name": "Smith"}})
    entries, _ = taken({"job": {"name": "Jones"}}, over=before)
    assert (entries["pricing.oldest"], entries["job.name"]) == ([77.0], ["Jones"])
    assert before["job.name"] == ["Smith"]


def test_after_fifty_problems_of_a_job_nobody_is_told_what_was_meant() -> None:
    said = [one.rpartition("; ")[2] for one in taken({f"piece{n}": 1 for n in range(60)})[1]]
    assert said[:51] == ["did you mean 'pieces'?"] * 51
    assert said[51] == "a.toml: unknown key 'piece51'"


def test_units_size_and_place_are_the_files_own_or_the_commands() -> None:
    assert job_form({}, None, None, "a") == ("us", "usual", [])
    assert job_form({"units": "si", "size": "large"}, None, None, "a") == ("si", "large", [])
    assert job_form({}, "si", "small", "a") == ("si", "small", [])
    assert job_form({"units": "si", "size": "small"}, "si", "small", "a") == ("si", "small", [])
    _, _, told = job_form({"units": "si", "size": "huge"}, "us", "small", "a")
    assert [one.partition(": ")[2] for one in told] == [
        "units: the file says 'si' and the command 'us': drop the option or correct the file",
        "size: came 'huge'; expected \"small\" or \"usual\" or \"large\"",
    ]  # fmt: skip
    assert job_place({}, "", "a") == ("", [])
    assert job_place({}, "canada", "a") == ("canada", [])
    assert job_place({"place": "canada"}, "", "a") == ("canada", [])
    assert job_place({"place": "canada"}, "canada", "a") == ("canada", [])
    assert job_place({"place": 3}, "", "a") == ("", ["a: place: came 3"])
    assert job_place({"place": "canada"}, "elsewhere", "a")[0] == ""
    assert "did you mean 'canada'" in job_place({"place": "canadda"}, "", "a")[1][0]


def test_a_text_that_is_no_job_is_told_with_the_line_that_is_wrong(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    for text, said in (
        (
            "a = 1\n" + ".".join("k" * 41) + " = 1\n",
            "over 40 words with dots between them (at line 2)",
        ),
        ("a = [\n" + "[" * 5000, "brackets in brackets, too deep to be read"),
        ("a = " + "9" * 5000, "a number with thousands of digits"),
        (
            "a = 1\nb = 7:30\n",
            "; write a time with its seconds, 07:30:00; compare with a file from",
        ),
        ("b = 7:30\na = [1\n", "; write a time with its seconds"),
    ):
        path.write_text(text, "utf-8")
        tables, (problem,) = read_job(path)
        assert tables == {}
        assert problem.startswith(f"{path}: not valid TOML: ")
        assert said in problem
    path.write_text("a = 1\nb = 'x'x\nc = 7:30\n", "utf-8")
    assert "write a time" not in read_job(path)[1][0]
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\n")
    assert read_job(path) == ({"a": 1}, [])
    path.write_text(".".join("k" * 40) + " = 1\n", "utf-8")
    assert read_job(path)[1] == []
    path.write_bytes(b"#" * 1_000_000)
    assert read_job(path) == ({}, [])
    path.write_bytes(b"#" * 1_000_001)
    assert read_job(path, "a list")[1] == [f"{path}: over 1,000,000 bytes; a list is a short text"]


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
