"""Every hand-worked example beside an item, run through the actual formulas."""

from __future__ import annotations

import re

import pytest

from pourtally.declared import ExampleSaid
from pourtally.files import templates_folder
from pourtally.hint import near
from pourtally.jobfile import job_entries
from pourtally.load import load_examples
from pourtally.model import Book, Entries
from pourtally.percent import told
from shop import laid_out, results

EXAMPLES = load_examples()


@pytest.mark.parametrize(("file", "example"), EXAMPLES, ids=[f"{f}: {e.say}" for f, e in EXAMPLES])
def test_example_comes_out_as_worked_by_hand(file: str, example: ExampleSaid) -> None:
    book, _ = laid_out(example.units)
    entries, problems = job_entries(book, example.job, file)
    assert problems == []
    got = {
        key: [told(book.parts[key][2], value) for value in column]
        for key, column in results(example.units, entries).items()
    }
    assert bool(strangers(book, entries, got)) == example.wrong
    for key, value in example.expect.items():
        assert key in got, f"{key} is no figure; {near(key, got)}"
        expected = value if isinstance(value, list) else [value]
        actual = got[key][: len(expected)]
        for number, (want, have) in enumerate(zip(expected, actual, strict=True), 1):
            if isinstance(want, str):
                assert have == want, f"{key}[{number}]"
            else:
                off = 0.5000001 * 10**-example.places
                assert have == pytest.approx(want, abs=off), f"{key}[{number}]"


def strangers(book: Book, entries: Entries, got: Entries) -> list[str]:
    """Return the words chosen that stand in no list, where lists are worked out too."""
    return [
        f"{key}[{line + 1}]: {word!r}"
        for key, column in entries.items()
        if f"{key}.no" in book.parts
        for line, word in enumerate(column)
        if word and not got[f"{key}.no"][line]
    ]


def test_an_example_that_chooses_what_is_in_no_list_is_told() -> None:
    book, _ = laid_out("us")
    job = {"labor": [{"line": 41, "task": "Wash", "driver": "Area of the moon", "rate": 1}]}
    entries, _ = job_entries(book, job, "test")
    found = strangers(book, entries, results("us", entries))
    assert found == ["labor.driver[41]: 'Area of the moon'"]


def test_examples_stand_last_in_their_file() -> None:
    for path in sorted((templates_folder() / "items").glob("*.toml")):
        last = path.read_text(encoding="utf-8").partition("\n[[example]]")[2]
        kinds = set(re.findall(r"^\[\[(\w+)", last, re.MULTILINE))
        assert kinds <= {"example"}, f"{path.name}: the loader stops at the first example"


def test_every_example_names_its_source_and_its_arithmetic() -> None:
    for file, example in EXAMPLES:
        assert example.source and example.working, f"{file}: {example.say}"
