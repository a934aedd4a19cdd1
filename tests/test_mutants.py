"""A fixed few slips in formulas: each is noticed by a hand-worked example of its own files.

``python tests/mutants.py`` tries all that it can think of, and takes long.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest

from conftest import JOBS
from mutants import EQUAL
from mutate import mutants
from noticed import Bench, Change, World, changes, slipped
from pourtally.jobfile import job_entries
from pourtally.load import load_examples
from pourtally.model import Part
from shop import FINE, STOP, read_jobs
from sweep import Looking, change_a_figure, noticed, trials
from test_bad_input import CROSS_FOOTED as NO_ENTRY_OPENS
from verdicts import Found, Verdicts, digest, examples_now

pytestmark = pytest.mark.xdist_group("mutants")  # the examples are worked out once

SLIPS = [
    # The larger where the lesser is meant: pay up to a base, a cap, what may be missing.
    ("75-wages", "burdens.one", "MIN(", "MAX("),
    ("75-wages", "burdens.six", "MIN(", "MAX("),
    ("75-wages", "burdens.percent.effect", "MIN(", "MAX("),
    ("75-wages", "overtime.overtime", "MAX(", "MIN("),
    ("87-payments", "payment.cap", "MIN({share}", "MAX({share}"),
    ("87-payments", "payment.cap", "MIN({price}", "MAX({price}"),
    # Up where half a cent decides.
    ("75-wages", "hour_cost.cost", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("76-hired", "hired.hire", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("77-costs", "costs.amount", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("77-costs", "costs.tax", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("78-price", "price.contingency", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("78-price", "price.before", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("78b-two-prices", "card_price.material", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("74b-card", "card.amount", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("87-payments", "draws.reached", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("87-payments", "billing.kept", "ROUND(ROUND", "ROUNDUP(ROUND"),
    ("48-surface-products", "product_order.packages.computed", "ROUNDUP(", "ROUND("),
    # Which faces a product's cost goes to.
    ("48-surface-products", "costs.face", "2*", "1*"),
    ("48-surface-products", "costs.face", "+2", "-2"),
    ("48-surface-products", "product_order.only_plain", "=0)", "<>0)"),
    ("78-price", "finish_price.like", "2-", "1-"),
    # Words that a customer or a supplier reads.
    ("87-payments", "draws.says", "Over what", "Under what"),
    ("87-payments", "draws.says", "Percent or amount", "Percent and amount"),
    ("87-payments", "draws.says", "Name, and", "Name and"),
    ("87-payments", "billing.named", "Retainage", "Retention"),
    ("87-payments", "schedule.missing", " short of", " less than"),
    ("46-color", "supply.name", '"mix 1"', '"1"'),
    ("74-prices", "costs.name", '"mix 1"', '"1"'),
    # An edge, a sign, a line, a constant.
    ("75-wages", "burdens.three", ".year[3]}>", ".year[2]}>"),
    ("75-wages", "classes.no_wage", "{people}>0", "{people}>1"),
    ("77-costs", "costs.used", "<>0", "=0"),
    ("78-price", "price.left", "-{profit_share}", "+{profit_share}"),
    ("82-supplies", "list.supplier", "Not set", "Set"),
    ("87-payments", "draws.over", ">0)", ">=0)"),
    ("87-payments", "cancel.past", "-", "+"),
]


@cache
def world() -> World:
    """Return the template with the examples of the files named here."""
    return World("us", frozenset(f"{file}.toml" for file, *_ in SLIPS))


NAMES = [f"{key}: {old} is not {new}" for _, key, old, new in SLIPS]


@pytest.mark.parametrize(("file", "key", "old", "new"), SLIPS, ids=NAMES)
def test_a_slip_is_noticed_by_an_example(file: str, key: str, old: str, new: str) -> None:
    change = slipped(world().book, f"{file}.toml", key, old, new)
    assert change in Bench(world(), key).noticed([change])


def test_what_is_not_changed_is_not_noticed() -> None:
    part = world().book.parts["burdens.one"][2]
    change = slipped(world().book, "75-wages.toml", part.key, "MIN(", "MIN(")
    assert change.part == part
    assert Bench(world(), part.key).noticed([change]) == {}


CROSS_FOOTED = {
    "30-bands band_check_off": "bands.band_area",
    "72-labor differs": "hours.total",
    "77-costs cost_crossfoot": "kind_cost.cost",
    "78-price price_differs": "price.margin",
    "85-proposal price_lines_differ": "price_lines.amount",
    "87-payments contract_crossfoot": "contract.billed",
    "89-outcome outcome_crossfoot": "by_kind.paid",
}
"""{check that holds one working against another: a part of one of the two}."""


def test_these_are_all_the_checks_that_no_entry_opens() -> None:
    assert CROSS_FOOTED.keys() == NO_ENTRY_OPENS


@pytest.mark.parametrize("check", CROSS_FOOTED)
def test_a_cross_foot_opens_where_one_of_its_two_workings_is_twice_the_true_one(check: str) -> None:
    every = World.of("us")
    *_, part = every.book.parts[CROSS_FOOTED[check]]
    doubled = tuple(f"2*({formula})" for formula in part.formulas)
    [trial] = trials(every, [Change(check, "twice", replace(part, formulas=doubled))]).values()
    line = every.book.parts["checks.state"][0].codes.index(check.split()[1])
    state = every.of_part["checks.state"][line]
    (job,), _ = read_jobs([JOBS["finished"]], None)
    looking = Looking(every, [state], [trial])
    looking.bed.work_out(job.entries)
    assert looking.bed.value(state) == FINE
    assert looking.shown(trial, [state]) == {state: STOP}


SMALL = ("24-thick-edges", "28-meeting", "44-concrete", "60-plastic-sheet", "63-ways")
"""Files whose examples look at little, so that many of them are worked out in a second."""


@cache
def narrow() -> World:
    """Return the template with the examples of small files alone."""
    return World("us", frozenset(f"{stem}.toml" for stem in SMALL))


def test_nine_of_ten_slips_that_change_a_figure_of_small_files_are_noticed() -> None:
    book = narrow().book
    every = changes(book, [f"{stem}.toml" for stem in SMALL])
    formulas = [change for change in every if change.kind not in ("words", "fixed")]
    tried = trials(narrow(), Random("1").sample(formulas, 60)).values()
    dead = {trial for trial, _ in noticed(narrow(), tried)}
    jobs = (job_entries(book, e.said.job, e.said.say)[0] for e in narrow().examples)
    alive = change_a_figure(narrow(), [t for t in tried if t not in dead], jobs)
    told = [" ".join(trial.change.named) for trial in alive]
    assert len(tried) > 50
    assert len(dead) >= 9 * len(alive), told


def test_what_cannot_be_noticed_is_a_change_there_is_and_has_its_reason() -> None:
    files = {file for file, _, _ in EQUAL}
    there = {change.named for change in changes(narrow().book, files)}
    assert EQUAL.keys() <= there
    assert all(EQUAL.values())


KNOWN = Change("10-job.toml", "[1 → 2]", Part("job.days", "Days", "formula", formulas=("{a}*2",)))
BEFORE = Part("job.days", "Days", "formula", formulas=("{a}*1",))


def kept(path: Path, found: Found, *, examples: Sequence[str] = ("a", "b")) -> Verdicts:
    """Return the verdicts of a run that begins where one with these examples ended."""
    first = Verdicts(path, 300, frozenset({"a", "b"}))
    first.put(BEFORE, KNOWN, found)
    first.save()
    return Verdicts(path, 300, frozenset(examples))


def test_a_later_run_begins_where_the_last_one_ended(tmp_path: Path) -> None:
    found = Found("noticed", "example of 10-job.toml: one", "a")
    known = kept(tmp_path / "found.json", found)
    assert known.of(BEFORE, KNOWN, suite=True) == found


def test_a_changed_formula_is_tried_again(tmp_path: Path) -> None:
    known = kept(tmp_path / "found.json", Found("noticed", "example of 10-job.toml: one", "a"))
    other = replace(BEFORE, formulas=("{a}*1+{b}",))
    assert known.of(other, KNOWN, suite=True) is None


def test_another_change_of_the_same_formula_is_tried(tmp_path: Path) -> None:
    known = kept(tmp_path / "found.json", Found("noticed", "example of 10-job.toml: one", "a"))
    other = replace(KNOWN, part=replace(KNOWN.part, formulas=("{a}*0",)))
    assert known.of(BEFORE, other, suite=True) is None


def test_what_an_example_noticed_is_tried_again_when_that_one_changes(tmp_path: Path) -> None:
    found = Found("noticed", "example of 10-job.toml: one", "a")
    assert kept(tmp_path / "1", found, examples="b").of(BEFORE, KNOWN, suite=True) is None
    assert kept(tmp_path / "2", found, examples="ac").of(BEFORE, KNOWN, suite=True) == found


def test_what_nothing_noticed_is_tried_again_when_an_example_is_added(tmp_path: Path) -> None:
    alive = Verdicts(tmp_path / "0", 300, frozenset("ab")).alive(suite=True)
    assert kept(tmp_path / "1", alive).of(BEFORE, KNOWN, suite=True) == alive
    assert kept(tmp_path / "2", alive, examples="abc").of(BEFORE, KNOWN, suite=True) is None


def test_what_no_example_noticed_is_tried_again_when_comparisons_are_asked(tmp_path: Path) -> None:
    alive = Verdicts(tmp_path / "0", 300, frozenset("ab")).alive(suite=False)
    known = kept(tmp_path / "1", alive)
    assert known.of(BEFORE, KNOWN, suite=False) == alive
    assert known.of(BEFORE, KNOWN, suite=True) is None


def test_what_changed_no_figure_is_tried_again_with_more_jobs(tmp_path: Path) -> None:
    equal = Verdicts(tmp_path / "0", 100, frozenset("ab")).equal()
    assert kept(tmp_path / "1", equal).of(BEFORE, KNOWN, suite=True) is None


def test_what_an_example_says_is_part_of_its_name() -> None:
    file, said = load_examples()[0]
    other = replace(said, expect={**said.expect, "total.area": 1.0})
    assert digest(file, said) in examples_now()
    assert digest(file, other) not in examples_now()


@pytest.mark.parametrize(("formula", "kind", "new"), [
    ("{a}+{b}", "sign", "{a}-{b}"),
    ("ROUND({a},2)", "rounding", "ROUNDUP({a},2)"),
    ("ROUND({a},2)", "digits", "ROUND({a},1)"),
    ("N({a}<{b})", "comparison", "N({a}<={b})"),
    ("MIN({a},{b})", "extreme", "MAX({a},{b})"),
    ("IF({a}>0,{b},{c})", "condition", "IF(1,{b},{c})"),
    ("IF({a}>0,{b},{c})", "order", "IF({a}>0,{c},{b})"),
    ("ATAN2({a},{b})", "order", "ATAN2({b},{a})"),
    ("OR({a}>0,{b}>0)", "condition", "OR({b}>0)"),
    ("OR({a}>0,{b}>0)", "logic", "AND({a}>0,{b}>0)"),
    ("SUM({a[]})", "range", "SUM({a[]}§first)"),
    ("{a}*{const.hundred}", "constant", "{a}*({const.hundred}+{const.hundred})"),
    ("{a[2]}*1", "line", "{a[1]}*1"),
    ("{a}+1", "reference", "{b}+1"),
])  # fmt: skip
def test_each_kind_of_slip_is_made(formula: str, kind: str, new: str) -> None:
    made = mutants(formula, lambda word: ("{b}",) if word == "{a}" else ())
    assert (new, kind) in {(mutant.formula, mutant.kind) for mutant in made}
