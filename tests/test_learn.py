"""What finished jobs teach: pooled by hand, the odd ones named, no workbook touched."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from pourtally import learn as room
from pourtally.cli import main
from pourtally.guard import UnusableError
from pourtally.jobfile import job_entries
from pourtally.learn import Learned, Lesson, csv_text, plain_text
from pourtally.model import Book, Entries, Units
from pourtally.pricetable import COLUMNS, LEARNED, Table
from pourtally.read import Filled
from shop import Told, build, keys_of, laid_out, learn, loaded, read_workbook, results

ROW = dict.fromkeys((*COLUMNS, *LEARNED), "")


def one(*rates_and_weights: tuple[float, float]) -> Learned:
    """Return what is learned of the hours of a task from the rates of several jobs."""
    table = Table(laid_out("us")[0].parts["labor.rate"][0])
    lessons = [Lesson(f"{n}.xlsx", None, r, w, 0.1) for n, (r, w) in enumerate(rates_and_weights)]
    return Learned(table, "rate", 0, dict(ROW, what="Stamp", unit="ft²"), lessons)


def run(*words: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(w) for w in words])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


# Pooling ------------------------------------------------------------------------------


def test_rates_are_pooled_by_quantity() -> None:
    # 12 h on 100 ft², 15 h on 300 ft²: 27 h / 400 ft² = 0.0675, where the mean of rates is 0.085
    learned = one((0.12, 100), (0.05, 300))
    assert learned.pooled == 0.0675
    assert learned.spread == pytest.approx(0.035)  # each is 0.035 from the middle, 0.085
    assert learned.source() == "2 own jobs"
    assert learned.odd() == []


@settings(deadline=None)  # the first case loads what others find loaded
@given(st.lists(st.tuples(st.floats(0.001, 10), st.floats(1, 1e4)), min_size=1, max_size=9))
def test_a_pooled_rate_lies_between_the_least_and_the_most(jobs: list[tuple[float, float]]) -> None:
    learned = one(*jobs)
    rates = [rate for rate, _ in jobs]
    amount, quantity = sum(r * w for r, w in jobs), sum(w for _, w in jobs)
    assert learned.pooled == pytest.approx(amount / quantity, rel=1e-5)
    assert min(rates) * 0.99999 <= learned.pooled <= max(rates) * 1.00001


@pytest.mark.parametrize(
    ("jobs", "odd", "rate", "pooled"),
    [
        # middle 0.1, twice is 0.2; with all (0.1 + 0.8 + 0.31) / 10
        (
            [(0.1, 1), (0.1, 8), (0.31, 1)],
            ["2.xlsx 0.31 (more than twice the middle rate, 0.1)"], 0.1, 0.121,
        ),
        # middle 0.15, and a little more than twice of it on 50 ft²:
        # (13 + 15) / 200 without it; (13 + 15 + 15.001) / 250 with it
        (
            [(0.13, 100), (0.15, 100), (0.30002, 50)],
            ["2.xlsx 0.3 (more than twice the middle rate, 0.15)"], 0.14, 0.172004,
        ),
        # less than half of 0.1: with all (0.004 + 0.1 + 0.19) / 3; and a rate of 0: 0.3 / 4
        ([(0.04, 0.1), (0.1, 1), (0.1, 1.9)],
         ["0.xlsx 0.04 (less than half the middle rate, 0.1)"], 0.1, 0.098),
        ([(0, 1), (0.1, 1), (0.1, 2)],
         ["0.xlsx 0 (less than half the middle rate, 0.1)"], 0.1, 0.075),
        # nothing is twice a middle rate of 0
        ([(0, 1), (0, 1), (0.3, 1)], [], 0.1, 0.1),
        # twice exactly, or half
        ([(0.2, 1), (0.1, 2), (0.05, 1)], [], 0.1125, 0.1125),
        # of two nobody can tell
        ([(0.04, 1), (0.1, 9)], [], 0.094, 0.094),
        # middle 0.105, distances 0.005, 0.005, 0.005, 0.055: middle one 0.005, 2.5 × = 0.0125;
        # without it 0.31 / 3
        (
            [(0.1, 1), (0.11, 1), (0.1, 1), (0.16, 1)],
            ["3.xlsx 0.16 (more than 2.5 times the spread from the middle rate, 0.105)"],
            0.103333, 0.1175,
        ),
        # three are too few to say so
        ([(0.1, 1), (0.11, 1), (0.16, 1)], [], 0.123333, 0.123333),
        # all alike but one, which is within twice: there is no spread to hold it against
        ([(0.1, 1), (0.1, 1), (0.1, 1), (0.11, 1)], [], 0.1025, 0.1025),
        # two of four, less than half of 0.55: as likely the others are odd, so all count
        (
            [(0.1, 1), (0.1, 1), (1, 1), (1, 1)],
            [f"{n}.xlsx 0.1 (less than half the middle rate, 0.55)" for n in (0, 1)], 0.55, 0.55,
        ),
        # three of five are far from the middle one
        (
            [(0.02, 1), (0.1, 1), (0.11, 1), (0.3, 1), (0.4, 1)],
            ["0.xlsx 0.02 (less than half the middle rate, 0.11)",
             "3.xlsx 0.3 (more than twice the middle rate, 0.11)",
             "4.xlsx 0.4 (more than twice the middle rate, 0.11)"], 0.186, 0.186,
        ),
        # two of four, though the others did most of the work: (0.1 + 0.1 + 10 + 10) / 22
        (
            [(0.1, 1), (0.1, 1), (1, 10), (1, 10)],
            [f"{n}.xlsx 0.1 (less than half the middle rate, 0.55)" for n in (0, 1)],
            0.918182, 0.918182,
        ),
        # one of three, and three fifths of the work: (0.1 + 0.1 + 0.93) / 5
        (
            [(0.1, 1), (0.1, 1), (0.31, 3)],
            ["2.xlsx 0.31 (more than twice the middle rate, 0.1)"], 0.226, 0.226,
        ),
        # middle 10, distances 2, 0, 2, 5, 5: 2.5 times the middle one, 2, is 5, and no more
        ([(8, 1), (10, 1), (12, 1), (5, 1), (15, 1)], [], 10, 10),
        # one job of three, and most of the work: (0.1 + 0.1 + 3.1) / 12
        (
            [(0.1, 1), (0.1, 1), (0.31, 10)],
            ["2.xlsx 0.31 (more than twice the middle rate, 0.1)"], 0.275, 0.275,
        ),
        # all four odd around a middle of 1: waste may be below zero
        (
            [(-1, 1), (-1, 1), (3, 1), (3, 1)],
            [f"{n}.xlsx -1 (less than half the middle rate, 1)" for n in (0, 1)]
            + [f"{n}.xlsx 3 (more than twice the middle rate, 1)" for n in (2, 3)], 1, 1,
        ),
    ],
)  # fmt: skip
def test_an_odd_job_is_named_and_left_out(
    jobs: list[tuple[float, float]], odd: list[str], rate: float, pooled: float
) -> None:
    learned = one(*jobs)
    assert learned.odd() == odd
    assert (learned.rate, learned.pooled) == (rate, pooled)
    (row,) = rows(csv_text([learned]))
    assert (float(row["value"]), float(row["with all"])) == (rate, pooled)
    assert row["odd ones"] == "; ".join(odd)


@pytest.mark.parametrize(
    ("jobs", "said", "source"),
    [
        (
            [(0.13, 1), (0.15, 1), (0.14, 1), (0.5, 1)],
            ["3.xlsx 0.5 (more than twice the middle rate, 0.145)",
             "0.14 without it, which the rates file holds; 0.23 with all"],
            "3 of 4 own jobs",
        ),
        (
            [(0.1, 1), (0.1, 1), (0.1, 3), (0.01, 1), (0.5, 1)],
            ["3.xlsx 0.01 (less than half the middle rate, 0.1)",
             "4.xlsx 0.5 (more than twice the middle rate, 0.1)",
             "0.1 without them, which the rates file holds; 0.1443 with all"],
            "3 of 5 own jobs",
        ),
        (
            [(0.04, 1), (0.1, 9)],
            ["0.04 and 0.1 are far apart, and of two jobs nobody can tell which is odd: both "
             "count, 0.094"],
            "2 own jobs",
        ),
        (
            [(0.1, 1), (0.1, 1), (0.31, 10)],
            ["2.xlsx 0.31 (more than twice the middle rate, 0.1)",
             "these are half of the jobs, or of the work, or more: who is odd is not known, and "
             "all count, 0.275"],
            "3 own jobs",
        ),
        ([(0.1, 1), (0.12, 1)], [], "2 own jobs"),
        ([(0.1, 1)], [], "1 own job"),
    ],
)  # fmt: skip
def test_what_counts_is_said_with_and_without(
    jobs: list[tuple[float, float]], said: list[str], source: str
) -> None:
    learned = one(*jobs)
    shown = plain_text([learned]).splitlines()
    assert [line for line in shown if line.startswith("Odd: ")] == [
        f"Odd: Stamp: {s}" for s in said
    ]
    assert learned.source() == source


@given(
    st.lists(st.floats(0.9, 1.1), min_size=3, max_size=9),
    st.floats(0.01, 100).filter(lambda r: not 0.45 < r < 2.3),
)
def test_one_odd_job_among_like_ones_moves_nothing(likes: list[float], far: float) -> None:
    learned = one(*((rate, 1) for rate in likes), (far, 1))
    assert all(lesson.rate != far for lesson in learned.counted)
    assert min(likes) * 0.99999 <= learned.rate <= max(likes) * 1.00001


def test_the_spread_is_the_middle_distance() -> None:
    # middle rate 0.11; distances 0.01, 0.02, 0.02, 0.09 and 0
    assert one((0.1, 5), (0.13, 1), (0.09, 2), (0.2, 7), (0.11, 3)).spread == 0.02


# Several jobs -------------------------------------------------------------------------


TEACHING = {
    "labor.hours": ("labor.rate", "labor.quantity"),
    "finish_hours.total": ("crew.productive", "finish_hours.area"),
}


def taught(units: Units) -> Book:
    """Return the template with hours that teach rates, and finishes the crew's share."""
    book, _ = laid_out(units)
    blocks = []
    for block in book.blocks:
        told = (TEACHING.get(f.key, ("", "")) for f in block.fields)
        fields = [replace(f, teaches=t, weight=w)
                  for f, (t, w) in zip(block.fields, told, strict=True)]  # fmt: skip
        blocks.append(replace(block, fields=tuple(fields)))
    return replace(book, blocks=tuple(blocks))


@pytest.fixture
def lessons(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[Path]]:
    """Return what makes finished jobs of figures by key, without a workbook."""
    made: dict[Path, Filled] = {}

    def make(*several: dict[str, Any]) -> list[Path]:
        for n, job in enumerate(several):
            book = taught(job.pop("units", "us"))
            worked: Entries = {k: [0.0] * b.lines for k, (b, _, _) in book.parts.items()}
            worked["job.date"] = [None]
            for key, values in job.items():
                told = [float(v) if isinstance(v, int) else v for v in values]
                worked[key][: len(values)] = told
            made[Path(f"{n}.xlsx")] = Filled(Told(book, worked), {}, [], [])
        return list(made)

    monkeypatch.setattr(room, "read_workbook", lambda path, _: made[path])
    return make


def stamp(rate: float, quantity: float, **more: Any) -> dict[str, Any]:
    """Return a job that teaches the hours of stamping, in the third line of labor."""
    return {
        "labor.task": ["Place", "Edge", "Stamp"],
        "labor.unit": ["yd³", "ft", "ft²"],
        "labor.rate": [0.32, 0.008, 0.1],
        "labor.hours": [0, 0, rate],
        "labor.quantity": [0, 200, quantity],
        **more,
    }


def test_jobs_are_pooled_by_the_name_of_the_task(lessons: Callable[..., list[Path]]) -> None:
    other = {
        "labor.task": ["stamp ", "", ""],  # in another line, and written otherwise
        "labor.unit": ["ft²"],
        "labor.rate": [0.15],
        "labor.hours": [0.05, 9],
        "labor.quantity": [300, 9],  # the second line has no name
        "job.date": [46156.0],  # 2026-05-14
    }
    school = learn(lessons(stamp(0.12, 100, **{"job.date": [45700.0]}), other))
    assert (school.problems, school.notes) == ([], [])
    edge, found = school.learned
    assert (edge.row["what"], edge.pooled) == ("Edge", 0)  # measured, and it took no time
    assert (found.pooled, found.used()) == (0.0675, "0.1 to 0.15")
    (_, row) = rows(csv_text(school.learned))
    assert {k: row[k] for k in ("table", "line", "what", "figure", "value", "unit", "date")} == {
        "table": "labor", "line": "", "what": "Stamp", "figure": "rate", "value": "0.0675",
        "unit": "ft²", "date": "2026-05-14",
    }  # fmt: skip
    assert row["source"] == "2 own jobs, 2025-2026"
    assert (row["jobs"], row["least"], row["most"], row["spread"]) == ("2", "0.05", "0.12", "0.035")
    shown = plain_text(school.learned).splitlines()
    assert shown[0].split() == [
        "learned", "with", "all", "in", "use", "unit", "jobs", "least", "most", "spread",
    ]  # fmt: skip
    assert shown[1] == "Tasks: Hours for each"
    assert [line[:8] for line in shown[2:4]] == ["  Edge  ", "  Stamp "]
    assert shown[3].split() == [
        "Stamp", "0.0675", "0.0675", "0.1", "to", "0.15", "ft²", "2", "0.05", "0.12", "0.035",
    ]  # fmt: skip


def test_lines_of_one_job_that_teach_one_entry_are_one_lesson(
    lessons: Callable[..., list[Path]],
) -> None:
    # (90 × 100 + 60 × 200) / 300 = 70 %; with 80 % on 300: 75 %; cells hold shares
    one_job = {"finish_hours.total": [0.9, 0.6], "finish_hours.area": [100, 200]}
    other = {"finish_hours.total": [0.8], "finish_hours.area": [300]}
    (found,) = learn(lessons(one_job, other)).learned
    assert (found.part.key, found.rates, found.pooled) == ("crew.productive", [70, 80], 75)


def test_a_task_that_goes_by_other_units_is_not_pooled(lessons: Callable[..., list[Path]]) -> None:
    other = stamp(0.5, 10, **{"labor.unit": ["yd³", "ft", "placements"]})
    (problem,) = learn(lessons(stamp(0.12, 100), other)).problems
    assert problem.startswith("1.xlsx: Stamp goes by placements, and in 0.xlsx by ft²")


def test_files_of_the_other_units_and_files_given_twice_are_named(
    lessons: Callable[..., list[Path]],
) -> None:
    paths = lessons(stamp(0.12, 100), stamp(1.3, 9, units="si"), stamp(0.1, 5))
    school = learn([*paths, paths[0]])
    assert school.problems == [
        "1.xlsx: has meters, and the files before it has feet: pool them apart",
        "0.xlsx: given twice, and would count twice; name it once",
    ]
    assert [o.job for o in school.learned[-1].lessons] == ["0.xlsx", "2.xlsx"]


def test_a_rate_that_no_entry_takes_is_told_and_not_written(
    lessons: Callable[..., list[Path]],
) -> None:
    school = learn(lessons(stamp(250, 100)))  # labor takes at most 100 hours for each
    (note,) = school.notes
    assert note.startswith("Stamp, Tasks: Hours for each: came 250; expected a number from 0 to")
    assert [r["what"] for r in rows(csv_text(school.learned))] == ["Edge"]


def test_learned_rates_are_loaded_into_the_next_workbook(
    lessons: Callable[..., list[Path]], tmp_path: Path
) -> None:
    task = {"labor.task": ["Place", "Edge", "Detail by hand"]}
    several = [stamp(0.12, 100, **task), stamp(0.08, 300, **task), stamp(0.3, 1, **task)]
    school = learn(lessons(*several))
    assert school.learned[-1].odd() == ["2.xlsx 0.3 (more than twice the middle rate, 0.12)"]
    rates, following = tmp_path / "rates.csv", tmp_path / "next.xlsx"
    rates.write_text(csv_text(school.learned[-1:]), "utf-8", newline="")
    build("us", typed({"labor": [{"line": 28, "rate": 0.2}]}), following)
    found = loaded(following, rates)
    assert (found.problems, found.notes, found.taken) == ([], [], 1)
    assert found.entries["labor.task"][27] == "Detail by hand"
    # without the odd one (12 + 24) / 400 = 0.09; with it (12 + 24 + 0.3) / 401 = 0.0905237
    assert found.entries["labor.rate"][27] == 0.09
    assert found.entries["labor.source"][27] == "2 of 3 own jobs"
    rates.write_text(rates.read_text("utf-8").replace("Detail by hand", "Stamp"), "utf-8")
    (problem,) = loaded(following, rates).problems  # that one goes by placements of a mat
    assert "unit: came 'ft²'; its unit in the workbook is 'placements'" in problem


def test_the_window_is_pooled_from_logs_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    day = {
        "pieces": [{"shape": "Rectangle", "a": 20, "b": 16.2, "finish": "Stamped"}],
        "setting_rates": {"method": "Your own hours", "own": 5},
    }
    signs = ("batched", "sheen", "opened", "closed", "hard")
    logs = (
        # 120, 150, 240 of 400 min: 30, 37.5, 60 %
        (0, (time(7), time(9), time(9, 30), time(11), time(13, 40))),
        # 2 h of retarder: 96, 126, 192 of 300 min forecast: 32, 42, 64 %
        (2, (time(6), time(9, 36), time(10, 6), time(11, 12), None)),
        # closed before it opened
        (0, (time(7), time(9), time(11), time(10), time(13))),
    )
    jobs = {
        Path(f"{n}.xlsx"): {
            **day,
            "weather": [{"later": later}],
            "window_log": [{s: t for s, t in zip(signs, log, strict=True) if t}],
        }
        for n, (later, log) in enumerate(logs)
    }
    monkeypatch.setattr(
        room,
        "read_workbook",
        lambda path, templates: Filled(templates["us", "usual"], typed(jobs[path]), [], []),
    )
    school = learn(list(jobs))
    found = {o.part.key: o for o in school.learned if o.part.key.startswith("stamping.")}
    assert {key: one.pooled for key, one in found.items()} == {
        "stamping.edges": 31, "stamping.opens": 39.75, "stamping.closes": 62,
    }  # fmt: skip
    assert {len(one.lessons) for one in found.values()} == {2}


def test_a_log_that_is_not_all_in_is_said(lessons: Callable[..., list[Path]]) -> None:
    said = [stamp(0.1, 100, **{"made.state": [state]}) for state in (0, 1, 2)]
    (note,) = learn(lessons(*said)).notes
    assert note.startswith("2.xlsx: not everything is in by its Outcome")


def test_an_open_stop_is_said(lessons: Callable[..., list[Path]]) -> None:
    school = learn(lessons(stamp(0.1, 100, **{"status.stops": [1]})))
    assert school.problems == []
    assert school.notes[0].startswith("0.xlsx: a STOP is open on its Checks")


def test_a_job_that_cannot_be_trusted_teaches_nothing(
    lessons: Callable[..., list[Path]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is named, and the rate is that of the others: 0.12 on 100 and 0.08 on 300."""
    paths = lessons(stamp(0.12, 100), stamp(0.11, 5000), stamp(0.08, 300), stamp(0.1, 7000))
    sound: Callable[..., Filled] = vars(room)["read_workbook"]

    def read(path: Path, templates: Any) -> Filled:
        if path == paths[1]:
            raise UnusableError("damaged: the file is cut off")
        found = sound(path, templates)
        return replace(found, problems=["Labor!C9: came #REF!"]) if path == paths[3] else found

    monkeypatch.setattr(room, "read_workbook", read)
    school = learn(paths)
    assert school.problems == [
        "1.xlsx: damaged: the file is cut off", "3.xlsx: Labor!C9: came #REF!",
    ]  # fmt: skip
    found = school.learned[-1]
    assert [lesson.job for lesson in found.lessons] == ["0.xlsx", "2.xlsx"]
    assert (found.rate, found.pooled) == (0.09, 0.09)


# The command --------------------------------------------------------------------------


def typed(job: dict[str, Any]) -> Entries:
    entries, problems = job_entries(laid_out("us")[0], job, "test")
    assert problems == []
    return entries


def test_a_file_that_cannot_be_read_is_named_and_the_others_are_told(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    bad, rates = tmp_path / "bad.xlsx", tmp_path / "rates.csv"
    good = Path(shutil.copy(shelf("blank-us"), tmp_path / "good.xlsx"))
    bad.write_bytes(b"PK\x03\x04 half a file")
    before = {p: p.read_bytes() for p in (good, bad)}
    result = run("learn", bad, good, tmp_path / "none.xlsx", "-o", rates)
    assert result.exit_code == 1
    assert f"{bad}: damaged" in result.stderr
    assert f"{tmp_path / 'none.xlsx'}: there is no such file" in result.stderr
    assert result.stderr.endswith("2 problems found; nothing was written\n")
    assert result.stdout == "Nothing was logged.\n"
    assert {p: p.read_bytes() for p in before} == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.xlsx", "good.xlsx"]


def test_bad_use_of_learn_is_told(tmp_path: Path) -> None:
    there = tmp_path / "rates.csv"
    there.write_text("mine")
    assert run("learn").exit_code == 2
    assert "ends in .csv" in run("learn", "a.xlsx", "-o", "a.xlsx").stderr
    result = run("learn", "a.xlsx", "-o", there)
    assert (result.exit_code, there.read_text()) == (2, "mine")


def test_a_finished_job_teaches_and_the_next_takes_it(
    shelf: Callable[[str], Path], tmp_path: Path
) -> None:
    """From workbook to workbook: what was logged stands in the next job's rates."""
    for name in ("finished", "demo"):
        shutil.copy(shelf(name), tmp_path)
    before = (tmp_path / "finished.xlsx").read_bytes()
    taught = run("learn", tmp_path / "finished.xlsx", "-o", tmp_path / "rates.csv")
    assert taught.exit_code == 0, taught.output
    assert (tmp_path / "finished.xlsx").read_bytes() == before
    done = run("prices", tmp_path / "demo.xlsx", "--load", tmp_path / "rates.csv",
               "-o", tmp_path / "next.xlsx")  # fmt: skip
    assert done.exit_code == 0, done.output
    finished = read_workbook(tmp_path / "finished.xlsx").entries
    log = (finished[f"hour_log.{column}"] for column in ("task", "hours", "people"))
    logged = sum(
        float(hours or 0) * float(people or 1)
        for task, hours, people in zip(*log, strict=True)
        if task == "Move in and set up"
    )
    rates = read_workbook(tmp_path / "next.xlsx").entries
    line = rates["labor.task"].index("Move in and set up")
    worked = results("us", finished, keys_of("us", ("calendar.counted",)))
    (visits,) = (v for v in worked["calendar.counted"] if isinstance(v, float))
    assert rates["labor.rate"][line] == pytest.approx(logged / visits, abs=1e-6)
