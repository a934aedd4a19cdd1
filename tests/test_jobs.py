"""The job files that come with the templates.

Each loads, stops nothing, and has the areas and volumes its comments work out by hand.
"""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from pourtally.files import templates_folder
from pourtally.jobfile import job_entries, job_form, read_job
from shop import STOP, laid_out, results

JOBS = sorted((templates_folder() / "jobs").glob("*.toml"))
START = templates_folder() / "new-job.toml"

# Areas by line of the finishes (broomed, stamped, exposed aggregate) and as-drawn volumes of
# the first two mixes, worked out on paper; the arithmetic stands in each file's comments.
BY_HAND: dict[str, tuple[list[float], list[float]]] = {
    "demo": ([229.490, 156.875, 0], [229.490 * 4 / 324, 156.875 * 4 / 324]),
    "driveway": ([658, 224, 0], [532 * 5 / 324 + 126 * 6 / 324, 224 * 5 / 324]),
    "finished": ([357.25, 103.75, 0], [357.25 * 4 / 324, 103.75 * 4 / 324]),
    "walk": ([127.095, 39.096, 50.265], [177.360 * 4 / 324, 39.096 * 4 / 324]),
    "steps": ([501.75, 0, 0], [478 * 4 / 324 + 68 / 2 * 8 / 324 + 7 / 12 * 5 * 6 / 27, 0]),
    "courtyard-metric": ([11.469, 7.290, 36.0], [47.469 * 0.1, 7.290 * 0.1]),
}


@lru_cache
def worked_out(path: Path) -> tuple[list[str], dict[str, list[Any]]]:
    job, problems = read_job(path)
    units, size, more = job_form(job, None, None, path.name)
    assert (units, size) in (("us", "usual"), ("si", "usual"))
    assert units
    book, _ = laid_out(units)
    entries, wrong = job_entries(book, job, path.name)
    return problems + more + wrong, results(units, entries)


def test_every_job_file_is_worked_out_by_hand() -> None:
    assert sorted(BY_HAND) == [j.stem for j in JOBS]


@pytest.mark.parametrize("path", [*JOBS, START], ids=lambda p: p.stem)
def test_job_loads_and_nothing_stops_it(path: Path) -> None:
    problems, got = worked_out(path)
    assert problems == []
    stops = [
        s for s, now in zip(got["checks.say"], got["checks.state"], strict=True) if now == STOP
    ]
    assert stops == []
    assert got["headline.hours"] == got["hours.total"]
    assert got["hours.total"][0] > 0


@pytest.mark.parametrize("path", JOBS, ids=lambda p: p.stem)
def test_areas_and_volumes_come_out_as_worked_by_hand(path: Path) -> None:
    areas, volumes = BY_HAND[path.stem]
    _, got = worked_out(path)
    assert got["finish_area.total"][:3] == pytest.approx(areas, abs=0.0011)
    assert got["total.area"][0] == pytest.approx(sum(areas), abs=0.002)
    assert got["mix_volume.neat"][:2] == pytest.approx(volumes, abs=0.0011)


def test_starting_job_gives_a_full_list_after_twelve_cells() -> None:
    job = tomllib.loads(START.read_text(encoding="utf-8"))
    lines = [
        line
        for key, said in job.items()
        if key not in ("units", "size")
        for line in (said if isinstance(said, list) else [said])
    ]
    cells = [
        cell
        for line in lines
        for value in line.values()
        for cell in (value if isinstance(value, list) else [value])
    ]
    assert len(cells) <= 12
    _, got = worked_out(START)
    # bands 1 ft wide: panels (24.5 - 4) × (16.75 - 3) = 281.875, and 10 × 8 = 80 more broomed;
    # bands 24.5 × 16.75 - 281.875 = 128.5
    assert got["finish_area.total"][:2] == pytest.approx([361.875, 128.5])
    for key in ("concrete.order", "hours.total", "forms.boards", "base.stone", "mats.placements"):
        assert got[key][0] > 0, key


def test_every_line_of_the_starting_job_may_be_switched_on() -> None:
    """Lines that start with # and no space are entries to switch on: they must be right."""
    text = re.sub(r"^#(?=\S)", "", START.read_text(encoding="utf-8"), flags=re.MULTILINE)
    job = tomllib.loads(text)
    book, _ = laid_out("us")
    _, problems = job_entries(book, job, START.name)
    assert problems == []


def test_an_option_in_a_job_file_holds_what_it_says_and_nothing_of_its_place() -> None:
    book, _ = laid_out("us")
    lines = [{"name": "Lights", "extra": 90}, {}, {"line": 4, "name": "Gate", "hours": 2}]
    entries, problems = job_entries(book, {"options": lines}, "test")
    assert problems == []
    usual = {key: part.values for key, (_, _, part) in book.entries().items()}
    for key, column in entries.items():
        block, _, field = key.partition(".")
        if block == "options":
            for at, line in ((0, lines[0]), (3, lines[2])):
                assert column[at] == line.get(field), key
            for at in (1, 2):
                assert column[at] == (usual[key][at] if at < len(usual[key]) else None), key
