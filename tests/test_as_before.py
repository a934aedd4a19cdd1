"""Whole jobs come to what they came to in the last release, or the reason is kept beside them.

``as_before.py`` says what moved, and keeps the reason.
"""

from __future__ import annotations

from functools import cache

import pytest

from as_before import KEPT, LETTERS, NO_PART, SIZE, Before, mark, marks
from noticed import homes
from pourtally.files import release
from shop import TEMPLATES

pytestmark = pytest.mark.xdist_group("as_before")  # what is kept is read once
JOBS = list(Before.read().jobs)
MEANT = 'is it meant? python tests/as_before.py "why it is"'


@cache
def before() -> Before:
    return Before.read()


@pytest.mark.parametrize("job", JOBS)
def test_a_job_comes_to_what_it_came_to_before(job: str) -> None:
    assert before().differing(job) == [], MEANT


def test_every_entry_of_the_jobs_is_one_still() -> None:
    for job, (units, entries) in before().jobs.items():
        known = TEMPLATES[units, SIZE].book.entries()
        assert [key for key in entries if key not in known] == [], job


def test_every_formula_is_marked_and_most_come_to_something() -> None:
    parts = TEMPLATES["us", SIZE].book.parts
    declared = [k for k, (b, _, p) in parts.items() if p.kind == "formula" and b.key in homes()]
    assert [key for key in declared if key not in before().marks] == [], MEANT
    blank = [key for key in declared if len({before().mark(key, job) for job in JOBS}) == 1]
    assert len(blank) < len(declared) / 10


def test_the_release_has_its_own() -> None:
    assert before().version == release(), "python tests/as_before.py --anew"


def test_one_figure_of_one_line_makes_another_mark() -> None:
    assert mark([1.0, 2.0]) == mark([1.0 + 1e-12, 2.0])
    assert len({mark([1.0, 2.0]), mark([1.0, 2.0 + 1e-6]), mark([2.0, 1.0]), mark(["1", 2.0])}) == 4
    assert len(mark([])) == LETTERS == len(NO_PART)


def test_a_length_typed_anew_moves_what_follows_from_it_and_nothing_else() -> None:
    units, entries = before().jobs["demo"]
    first, *others = entries["bands.length.ft"]
    assert isinstance(first, float)
    now = marks(units, entries | {"bands.length.ft": [first + 1, *others]})
    moved = {part for part in now if now[part] != before().mark(part, "demo")}
    assert {"slabs.area", "total.area", "price.price"} <= moved
    still = {key for key in now if key.startswith("burdens.")}
    assert still and not still & moved  # what a wage costs does not go by lengths
    assert KEPT.stat().st_size < 1_000_000
