"""Every hand-worked example beside an item, run through the actual formulas."""

from __future__ import annotations

import re
from typing import Any

import pytest

from pourtally.files import templates_folder
from pourtally.jobfile import job_entries
from pourtally.load import load_examples
from pourtally.percent import told
from shop import laid_out, results

EXAMPLES = load_examples()


@pytest.mark.parametrize(
    ("file", "example"), EXAMPLES, ids=[f"{f}: {e['say']}" for f, e in EXAMPLES]
)
def test_example_comes_out_as_worked_by_hand(file: str, example: dict[str, Any]) -> None:
    units = example.get("units", "us")
    book, _ = laid_out(units)
    entries, problems = job_entries(book, example["job"], file)
    assert problems == []
    got = {
        key: [told(book.parts[key][2], value) for value in column]
        for key, column in results(units, entries).items()
    }
    for key, value in example["expect"].items():
        expected = value if isinstance(value, list) else [value]
        actual = got[key][: len(expected)]
        for number, (want, have) in enumerate(zip(expected, actual, strict=True), 1):
            if isinstance(want, str):
                assert have == want, f"{key}[{number}]"
            else:
                places = example["places"]
                assert have == pytest.approx(want, abs=0.5000001 * 10**-places), f"{key}[{number}]"


def test_examples_stand_last_in_their_file() -> None:
    for path in sorted((templates_folder() / "items").glob("*.toml")):
        last = path.read_text(encoding="utf-8").partition("\n[[example]]")[2]
        kinds = set(re.findall(r"^\[\[(\w+)", last, re.MULTILINE))
        assert kinds <= {"example"}, f"{path.name}: the loader stops at the first example"


def test_every_example_names_its_source_and_its_arithmetic() -> None:
    for file, example in EXAMPLES:
        assert example["source"] and example["working"], f"{file}: {example['say']}"
