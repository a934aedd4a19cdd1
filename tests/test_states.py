"""A state is a number: whatever its word is, a job that must stop is stopped."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from pourtally import files
from pourtally.cli import main
from pourtally.jobfile import job_entries
from pourtally.load import make_book
from pourtally.model import Book, Size, Units
from shop import build, laid_out, results, tables
from test_bad_input import TRIGGERS

pytestmark = pytest.mark.xdist_group("states")  # its workbooks are made once

WORDS = '["OK", "LOOK", "STOP"]'


def renamed(units: Units, size: Size, place: str = "") -> Book:
    """Return the whole template with other words for its states."""
    sheets, measures, items = tables()
    states = next(b for b in items["05-lists.toml"]["block"] if b["key"] == "states")
    assert states["field"][0]["text"] == json.loads(WORDS)
    states["field"][0]["text"] = ["FINE", "READ", "HALT"]
    return make_book(units, sheets, measures, items, size=size, place=place)


def test_another_word_for_stop_stops_a_job_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job.xlsx"
    entries, _ = job_entries(laid_out("us")[0], TRIGGERS["20-pieces pieces_no_size"], "test")
    build("us", entries, path)
    monkeypatch.setattr("pourtally.template.load_book", renamed)
    told = CliRunner().invoke(main, ["values", str(path)])
    assert told.exit_code == 1 and "A slab piece has no area" in told.stderr
    assert "HALT: fix 1 on Checks" in told.stdout and "STOP" not in told.stdout
    shared = CliRunner().invoke(main, ["share", str(path)])
    assert shared.exit_code == 1 and "A slab piece has no area" in shared.stderr
    assert not (tmp_path / "job-proposal.xlsx").exists()


def test_the_words_of_states_stand_in_one_place() -> None:
    for path in files.items(files.templates_folder()):
        text = path.read_text("utf-8").partition("\n[[example]]")[0]
        formulas = [line for line in text.splitlines() if line.startswith(("formula", "count"))]
        assert [f for f in formulas if '"STOP' in f or '"LOOK' in f or '"OK' in f] == [], path.name


def test_a_state_is_a_number_and_its_word_beside_it() -> None:
    worked = results("us", {})
    assert set(worked["checks.state"]) <= {0.0, 1.0, 2.0}
    words = ("OK", "LOOK", "STOP")
    for state, says in zip(worked["checks.state"], worked["checks.says"], strict=True):
        assert isinstance(state, float) and says == words[int(state)]
