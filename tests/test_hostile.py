"""Files made to break the program are refused in one sentence, within a bound of memory.

Seconds are not asked for here, since a busy machine has others: ``tests/hostile.py`` prints them.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from hostile import FILES, Answer, made, sound, wrong
from pourtally import accept, bounds, unpack
from pourtally.cli import main
from pourtally.hint import near

BOUND = 700_000_000  # bytes of addresses; the libraries take 350 million before any file is read
SOON = [n for n, file in FILES.items() if file.soon and file.command[0] == "values"]
"""Workbooks that are refused before anything of the trade is loaded."""
LATER = ("a number of 5,000 digits", "a version of 5,000 digits")
PLAIN = [n for n, file in FILES.items() if file.command[0] != "values"]
ONE_BY_ONE = """
import json, resource, sys
from click.testing import CliRunner
import openpyxl, pourtally.read, pourtally.values, pourtally.build, pourtally.priceload
from pourtally.cli import main
bound = int(sys.argv[1])
resource.setrlimit(resource.RLIMIT_AS, (bound, bound))
def told(words):
    done = CliRunner().invoke(main, words)
    return done.exit_code, done.stderr + repr(done.exception) * (done.exit_code not in (0, 1, 2))
print(json.dumps([told(words) for words in json.loads(sys.argv[2])]))
"""


def answers(names: list[str], folder: Path) -> dict[str, Answer]:
    """Give some files to one small process, one after the other."""
    words = [[w.format(made(name, folder), sound=sound(folder)) for w in FILES[name].command]
             for name in names]  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", ONE_BY_ONE, str(BOUND), json.dumps(words)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = zip(names, json.loads(done.stdout), strict=True)
    return {name: Answer(code, 0, 0, said) for name, (code, said) in found}


@pytest.mark.parametrize("names", [[n for n in SOON if n not in LATER], [*LATER, *PLAIN]],
                         ids=["workbooks", "texts"])  # fmt: skip
def test_every_hostile_file_is_refused_and_told_why(names: list[str], tmp_path: Path) -> None:
    lacks = {name: wrong(name, answer) for name, answer in answers(names, tmp_path).items()}
    assert {name: lack for name, lack in lacks.items() if lack} == {}


def test_a_bound_is_noticed_where_it_is_passed_and_not_before(tmp_path: Path) -> None:
    rows = bounds._MOST_TOGETHER
    sheet = b"<worksheet><sheetData>%b</sheetData></worksheet>"
    bounds.check("xl/worksheets/sheet1.xml", sheet % (b"<row/>" * rows))
    with pytest.raises(bounds.BoundsError):
        bounds.check("xl/worksheets/sheet1.xml", sheet % (b"<row/>" * (rows + 1)))
    cells = bounds._MOST_IN_LINE
    bounds.check("a.xml", sheet % (b"<row>" + b"<c/>" * cells + b"</row>"))
    with pytest.raises(bounds.BoundsError):
        bounds.check("a.xml", sheet % (b"<row>" + b"<c/>" * (cells + 1) + b"</row>"))
    shared = b'<row><c><f t="shared" si="0">%b</f></c>%b</row>'
    more = b'<c><f t="shared" si="0"/></c>'
    bounds.check("a.xml", sheet % (shared % (b"1" * 100_000, more * 10)))
    with pytest.raises(bounds.BoundsError):
        bounds.check("a.xml", sheet % (shared % (b"1" * 100_000, more * 11)))


def test_letters_of_other_machines_and_broken_tags_are_damage() -> None:
    for part in (
        b'<?xml version="1.0" encoding="koi8-r"?><a/>',
        b"<a><b></a>",
        b"<!DOCTYPE a><a/>",
    ):
        with pytest.raises(bounds.BrokenError):
            bounds.check("a.xml", part)
    bounds.check("a.xml", '<?xml version="1.0" encoding="UTF-16"?><a b="é"/>'.encode("utf-16"))


def test_a_zip_of_the_same_name_twice_is_not_opened() -> None:
    raw = (b"PK\x03\x04" + bytes(26)) * 2
    with pytest.raises(unpack.UnpackError, match="damaged or only partly copied"):
        unpack.opened(raw)


PIPED = {
    "a workbook": ["values", "pipe.xlsx"],
    "a job": ["build", "pipe.toml"],
    "a company": ["build", "--company", "pipe.toml"],
    "figures": ["build", "--figures", "pipe.csv"],
}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes are files of Unix")
@pytest.mark.parametrize("what", PIPED)
def test_a_pipe_is_said_to_be_no_file(
    what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for ending in ("xlsx", "toml", "csv"):
        os.mkfifo(f"pipe.{ending}")
    result = CliRunner().invoke(main, PIPED[what])
    assert (result.exit_code, result.stdout) == (1, "")
    assert "not a file but a pipe or a device" in result.stderr.splitlines()[0]


def test_the_first_twenty_problems_of_each_file_are_told_and_the_rest_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("a.toml").write_text("".join(f"k{n} = 1\n" for n in range(50)), "utf-8")
    Path("b.toml").write_text("".join(f"k{n} = 1\n" for n in range(20)), "utf-8")
    lines = CliRunner().invoke(main, ["build", "a.toml", "b.toml"]).stderr.splitlines()
    assert [line[:6] for line in lines[:-1]] == ["a.toml"] * 21 + ["b.toml"] * 20
    assert lines[20] == "a.toml: and 30 more like these"
    assert lines[-1] == "70 problems found; nothing was written"


def test_what_a_job_file_takes_for_a_time_and_a_day_is_said_as_it_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("a.toml").write_text('[[placements]]\nstart = "07:30"\ndate = "5/4/2026"\n', "utf-8")
    result = CliRunner().invoke(main, ["build", "a.toml"])
    told = [line for line in result.stderr.splitlines() if "came" in line]
    assert told == [
        "a.toml: placements[1].start: came '07:30'; expected a time of the day with hours, minutes "
        "and seconds and without quotation marks, such as 07:30:00",
        "a.toml: placements[1].date: came '5/4/2026'; expected a date without quotation marks, "
        "such as 2026-05-14",
    ]
    Path("a.toml").write_text("[[placements]]\nstart = 07:30  # early\n", "utf-8")
    told = CliRunner().invoke(main, ["build", "a.toml"]).stderr.splitlines()
    assert "; write a time with its seconds, 07:30:00; compare" in told[0]
    Path("a.toml").write_text("[[placements]]\nstart = 07:30:00\ndate = 2026-05-14\n", "utf-8")
    read = CliRunner().invoke(main, ["build", "a.toml", "-o", "/dev/null"])
    assert "came" not in read.stderr


def test_long_words_and_deep_tables_are_shown_short() -> None:
    deep: dict[str, object] = {}
    for _ in range(5000):
        deep = {"a": deep}
    for value in (deep, [deep], "a" * 10**6, list(range(10**5)), 10**3000, {"a": "b" * 10**6}):
        assert len(accept.shown(value)) <= 60
    assert near("a" * 10**7, ["a", "b"]) == "no such name"
