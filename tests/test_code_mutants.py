"""A fixed few slips in the code that guards files: each is noticed by a test of its own room.

``python tests/code_mutants.py`` tries all that it can think of, and takes long.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import test_faults
import test_hostile
import test_learn
import test_share
from code_bench import digest, put, text_of
from code_mutants import EQUAL, TESTS, mutants
from pourtally import csvfile, output, share
from test_learn import lessons as lessons  # noqa: PLC0414  a fixture that tests here ask for

SLIPS: list[tuple[str, str, str, Callable[..., object]]] = [
    # A copy is made of a workbook whose bad cells were left out, or that is not fit otherwise.
    ("share", "problems = filled.problems + open_stops(", "problems = open_stops(",
     test_share.test_a_cell_that_was_left_out_or_an_open_stop_or_no_price_is_refused),
    ("share", "filled.problems + open_stops(filled.template.book, worked)", "filled.problems",
     test_share.test_a_cell_that_was_left_out_or_an_open_stop_or_no_price_is_refused),
    ("share", "raise RefusedError(problems)", "pass",
     test_share.test_a_cell_that_was_left_out_or_an_open_stop_or_no_price_is_refused),
    ("share", "if unless and worked[unless][0]", "if False",
     test_share.test_a_field_of_a_form_is_there_where_it_is_given_something),
    # Damaged jobs are pooled with sound ones.
    ("learn", "elif not filled.problems:", "else:",
     test_learn.test_a_job_that_cannot_be_trusted_teaches_nothing),
    ("learn", "school.problems += [f\"{path}: {p}\" for p in filled.problems]", "pass",
     test_learn.test_a_job_that_cannot_be_trusted_teaches_nothing),
    ("learn", "school.problems.append(f\"{path}: {error}\")", "pass",
     test_learn.test_a_job_that_cannot_be_trusted_teaches_nothing),
    ("learn", "if template.units != ours.units:", "if False:",
     test_learn.test_files_of_the_other_units_and_files_given_twice_are_named),
    # A file is written over, or read by who may not read what it is made of.
    ("output", "(p.exists() and not replace)", "False",
     test_faults.test_where_workbooks_go_is_a_folder_or_one_name_that_ends_so),
    ("output", "part.unlink(missing_ok=True)\n        if isinstance", "pass\n        if isinstance",
     test_faults.test_whatever_stops_a_write_no_part_of_it_is_left_and_the_error_names_the_file),
    # A damaged zip is opened, a part of another machine's letters read.
    ("bounds", "if letters and letters.lower() not in _LETTERS:", "if False:",
     test_hostile.test_letters_of_other_machines_and_broken_tags_are_damage),
]  # fmt: skip


NAMES = [f"{room}: {old} is not {new}" for room, old, new, _ in SLIPS]


@pytest.mark.parametrize(("room", "old", "new", "test"), SLIPS, ids=NAMES)
def test_a_slip_in_the_code_is_noticed_by_a_test(
    room: str, old: str, new: str, test: Callable[..., object], request: pytest.FixtureRequest
) -> None:
    sound = text_of(room)
    assert sound.count(old) == 1
    given = {name: request.getfixturevalue(name) for name in inspect.signature(test).parameters}
    put(room, sound.replace(old, new))
    try:
        with pytest.raises((AssertionError, KeyError, pytest.fail.Exception)):
            test(**given)
    finally:
        put(room, sound)


def test_what_is_not_changed_is_not_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put("share", text_of("share"))
    put("output", text_of("output"))
    test_share.test_a_cell_that_was_left_out_or_an_open_stop_or_no_price_is_refused(monkeypatch)
    test_faults.test_where_workbooks_go_is_a_folder_or_one_name_that_ends_so(tmp_path, monkeypatch)


def test_a_text_in_the_place_of_a_room_is_what_all_others_use() -> None:
    """Functions, methods and numbers are as it says, and all as before once that is put back."""
    sound = text_of("csvfile")
    names: dict[str, Any] = {"number": csvfile.number, "Sheet": csvfile.Sheet}
    other = sound.replace("_MONTHS = 12", "_MONTHS = 11")
    put("csvfile", other.replace("def number(words: str, commas: bool",
                                 "def number(words: str, commas: bool = True"))  # fmt: skip
    try:
        assert (csvfile._MONTHS, names["number"]("9,5")) == (11, 9.5)
        assert vars(csvfile)["Sheet"] is names["Sheet"]
    finally:
        put("csvfile", sound)
    assert csvfile._MONTHS == 12
    with pytest.raises(TypeError):
        names["number"]("9,5")
    assert vars(share)["Care"] is output.Care


def test_what_cannot_be_noticed_is_a_change_there_is_and_has_its_reason() -> None:
    rooms = {name.partition(",")[0] for name in EQUAL}
    there = {mutant.name for room in rooms for mutant in mutants(room)}
    assert EQUAL.keys() <= there
    assert all(EQUAL.values())
    assert rooms <= TESTS.keys()


def test_changes_of_a_room_have_each_a_name_of_its_own() -> None:
    found = mutants("opened")
    assert len({mutant.name for mutant in found}) == len({digest(m.text) for m in found}) > 5
    assert {m.name for m in found} >= {
        "opened, start: no return file.read(most + 1)", "opened, start: most + 1 with Sub",
        "opened, start: not there without not", "opened, start: 2 for 1",
    }  # fmt: skip
