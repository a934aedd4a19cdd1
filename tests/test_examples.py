"""Every hand-worked example beside an item, run through the actual formulas."""

from __future__ import annotations

import re
from functools import cache
from itertools import chain

import pytest

from noticed import looked_at
from pourtally.declared import ExampleSaid
from pourtally.files import Table, templates_folder
from pourtally.jobfile import job_entries
from pourtally.load import load_examples
from pourtally.model import Book, Entries, Units
from pourtally.percent import told
from shop import TEMPLATES, clock, laid_out, results

EXAMPLES = load_examples()
CLOCK = re.compile(r"|1?\d:\d\d [AP]M")
"""A time of the day as its cell shows it, nothing where there is none."""


@pytest.mark.parametrize(("file", "example"), EXAMPLES, ids=[f"{f}: {e.say}" for f, e in EXAMPLES])
def test_example_comes_out_as_worked_by_hand(file: str, example: ExampleSaid) -> None:
    template = TEMPLATES[example.units, "usual", example.place]
    book, entries = template.book, typed(example)
    got = {
        key: [told(book.parts[key][2], value) for value in column]
        for key, column in template.results(
            entries, asked(file, example.units, example.place)
        ).items()
    }
    assert bool(strangers(book, example.job, entries, got)) == example.wrong
    for key, line, want in looked_at(book, example):
        have = got[key][line]
        if isinstance(want, str):
            shown = clock(have) if CLOCK.fullmatch(want) and isinstance(have, float) else have
            assert shown == want, f"{key}[{line + 1}]"
        else:
            off = 0.5000001 * 10**-example.places
            assert have == pytest.approx(want, abs=off), f"{key}[{line + 1}]"


def typed(example: ExampleSaid) -> Entries:
    book = TEMPLATES[example.units, "usual", example.place].book
    entries, problems = job_entries(book, example.job, example.say)
    assert problems == []
    return entries


@cache
def asked(file: str, units: Units, place: str) -> frozenset[str]:
    """Return what the examples of a file look at, so that they share one engine."""
    book = TEMPLATES[units, "usual", place].book
    kind = (file, units, place)
    own = [example for name, example in EXAMPLES if (name, example.units, example.place) == kind]
    chosen = [numbered(book, e.job, typed(e)).values() for e in own]
    return frozenset(chain(*chosen, *(e.expect for e in own)))


def numbered(book: Book, job: Table, entries: Entries) -> dict[str, str]:
    """Return {choice: the key of its place in its list} where a job can leave a word in none.

    That is where it chooses itself and, if it changes a list of names, everywhere.
    """
    choices = {k: t for k, t in book.entries().items() if f"{k}.no" in book.parts}
    lists = {part.limits.choices for _, _, part in choices.values()} & entries.keys()
    changed = any(
        value != book.parts[key][2].value(line)
        for key in lists
        for line, value in enumerate(entries[key])
    )
    return {k: f"{k}.no" for k, (block, _, _) in choices.items() if changed or block.key in job}


def strangers(book: Book, job: Table, entries: Entries, got: Entries) -> list[str]:
    """Return the words chosen that stand in no list, where lists are worked out too."""
    return [
        f"{key}[{line + 1}]: {word!r}"
        for key, place in numbered(book, job, entries).items()
        for line, word in enumerate(entries[key])
        if word and not got[place][line]
    ]


def test_an_example_that_chooses_what_is_in_no_list_is_told() -> None:
    book, _ = laid_out("us")
    job = {"labor": [{"line": 41, "task": "Wash", "driver": "Area of the moon", "rate": 1}]}
    entries, _ = job_entries(book, job, "test")
    got = results("us", entries, frozenset(numbered(book, job, entries).values()))
    assert strangers(book, job, entries, got) == ["labor.driver[41]: 'Area of the moon'"]


def test_examples_stand_last_in_their_file() -> None:
    for path in sorted((templates_folder() / "items").glob("*.toml")):
        last = path.read_text(encoding="utf-8").partition("\n[[example]]")[2]
        kinds = set(re.findall(r"^\[\[(\w+)", last, re.MULTILINE))
        assert kinds <= {"example"}, f"{path.name}: the loader stops at the first example"


def test_every_example_names_its_source_and_its_arithmetic() -> None:
    for file, example in EXAMPLES:
        assert example.source and example.working, f"{file}: {example.say}"
