"""Which changes of formulas the comparisons of the suite notice, where no example does.

The tests are run once as they are, and what each works out is written down: the job, and what
it asks of it.  Of each change it is then found, all of them at a time, in which of these jobs
it moves anything asked.  Only these tests are run with the change in the template of a process
of its own, a copy of this one: a test notices it when it fails.
"""

from __future__ import annotations

import io
import os
import pickle
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol

from noticed import Change, World
from pourtally.cause import inputs
from pourtally.grid import Cell, Place, is_formula
from pourtally.model import Entries, Scalar, Size, Units
from pourtally.recalc import Calculator
from pourtally.template import Template
from shop import TEMPLATES
from sweep import Looking, Told, Trial, silent, trials

COMPARISONS = (
    "test_reference_yard", "test_reference", "test_reference_orders", "test_reference_steel",
    "test_reference_mats", "test_reference_walks", "test_reference_pieces",
    "test_reference_heights", "test_reference_ground", "test_reference_forms",
    "test_reference_calendar", "test_reference_day", "test_reference_one", "test_tables",
    "test_sweeps", "test_weather", "test_day", "test_loads", "test_whole_job", "test_whole_price",
    "test_card", "test_payments", "test_outcome", "test_taxes", "test_promises",
)  # fmt: skip
"""The files of tests that hold figures against something else."""
PATIENCE = 120
"""Seconds that a test is given with a change: one that has not failed by then has not noticed."""
KINDS: tuple[tuple[Units, Size], ...] = (("us", "usual"), ("si", "usual"), ("us", "small"))
"""The templates that these tests ask."""
CASES = 4
"""How many cases of one test are asked: what outlives them will hardly die by the others."""
NOTICED, UNNOTICED, LATE = 10, 11, 12

Kind = tuple[Units, Size]
Engines = dict[frozenset[str], tuple[list[Cell], Calculator]]
Seen = Callable[[Trial, str], None]
"""What is told of a change, and of the test that notices it."""


@dataclass(frozen=True)
class Asked:
    """A job that a test works out, and the parts that it asks for, all where none is named."""

    kind: Kind
    keys: frozenset[str]
    entries: Entries


@dataclass
class Ran:
    """A test: how long it takes, and what it asks."""

    test: str
    seconds: float = 0.0
    asked: list[Asked] = field(default_factory=list)


class Judge:
    """Runs the tests of a session once for each change, in place of the session itself."""

    def __init__(self, tried: Iterable[Trial], say: Told, seen: Seen) -> None:
        """Take what is tried, and what is told of each that a test notices."""
        self._say, self._seen = say, seen
        self._left = list(tried)
        self._in: dict[Kind, dict[Trial, Trial]] = {("us", "usual"): {t: t for t in self._left}}
        self._beds: dict[tuple[Kind, frozenset[str]], Looking] = {}

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Find what each test asks for, then try all changes."""
        for kind in KINDS:
            self._of(kind)
        asked = _few(session.items)
        found = self._as_it_is(asked)
        self._say(f"{len(found)} tests in {sum(r.seconds for r in found):.0f} s, "
                  f"{sum(len(r.asked) for r in found)} jobs")  # fmt: skip
        items = {item.nodeid: item for item in asked}
        for number, ran in enumerate(sorted(found, key=_turn), 1):
            moved = self._moved(ran)
            if moved:  # loaded once, not in each copy
                for kind, keys in {(asked.kind, asked.keys) for asked in ran.asked}:
                    TEMPLATES[kind]._engine(keys)
            for trial in moved:
                if _fails(trial.change, items[ran.test]):
                    self._left.remove(trial)
                    self._seen(trial, ran.test)
            self._say(f"{number} of {len(found)}, {ran.test}: {len(moved)} tried, "
                      f"{len(self._left)} left")  # fmt: skip
        return True

    def _of(self, kind: Kind) -> dict[Trial, Trial]:
        """Return {a change of one template: the first, as it stands in this template}."""
        if kind not in self._in:
            by_change = {t.change: t for t in self._left}
            here = trials(World.of(*kind), by_change)
            self._in[kind] = {trial: by_change[change] for change, trial in here.items()}
        return self._in[kind]

    def _as_it_is(self, items: list[pytest.Item]) -> list[Ran]:
        """Run tests in a copy of this process, and return what each of them asks."""
        out, into = os.pipe()
        if not (child := os.fork()):
            os.close(out)
            ran = []
            for item in items:
                one, begun = Ran(item.nodeid), time.time()
                _write_down(one)
                reports = runtestprotocol(item, log=False)
                one.seconds = time.time() - begun
                if all(report.passed for report in reports) and one.asked:
                    ran.append(one)
            with os.fdopen(into, "wb") as pipe:
                pickle.dump(ran, pipe)
            os._exit(0)
        os.close(into)
        with os.fdopen(out, "rb") as pipe:
            found: list[Ran] = pickle.load(pipe)
        os.waitpid(child, 0)
        return found

    def _moved(self, ran: Ran) -> list[Trial]:
        """Return what moves anything that a test asks for in one of its jobs."""
        out: dict[Trial, None] = {}
        for asked in ran.asked:
            firsts, looking = self._of(asked.kind), self._looking(asked)
            left = [t for t in looking.tried if firsts[t] in self._left and firsts[t] not in out]
            if not left:
                continue
            looking.bed.work_out(asked.entries)
            for trial in left:
                if looking.moved(trial):
                    out[firsts[trial]] = None
        return list(out)

    def _looking(self, asked: Asked) -> Looking:
        if (asked.kind, asked.keys) not in self._beds:
            world, firsts = World.of(*asked.kind), self._of(asked.kind)
            keys = asked.keys or world.of_part.keys()
            wanted = {place for key in keys for place in world.of_part.get(key, ())}
            here = [trial for trial, first in firsts.items() if first in self._left]
            self._beds[asked.kind, asked.keys] = Looking(world, wanted, here)
        return self._beds[asked.kind, asked.keys]


def _few(items: list[pytest.Item]) -> list[pytest.Item]:
    """Return the first few cases of each test."""
    seen: Counter[str] = Counter()
    out = []
    for item in items:
        test = item.nodeid.partition("[")[0]
        seen[test] += 1
        if seen[test] <= CASES:
            out.append(item)
    return out


def _turn(ran: Ran) -> tuple[int, float]:
    """Return when a test is asked: those against the model of the trade first, quick ones first."""
    return COMPARISONS.index(Path(ran.test.partition("::")[0]).stem), ran.seconds


def _write_down(ran: Ran) -> None:
    """Write down each job that the templates work out from now on."""
    kinds = {id(TEMPLATES[kind]): kind for kind in KINDS}

    def work_out(self: Template, entries: Entries, keys: frozenset[str] = frozenset()) -> object:
        if id(self) in kinds:
            ran.asked.append(Asked(kinds[id(self)], keys, {k: list(v) for k, v in entries.items()}))
        return _TRUE(self, entries, keys)

    Template.work_out = work_out  # type: ignore[method-assign, assignment]


_TRUE = Template.work_out


def _fails(change: Change, item: pytest.Item) -> bool:
    """Tell whether a test fails, in a copy of this process, where a change is made."""
    if not (child := os.fork()):
        signal.signal(signal.SIGALRM, lambda *_: os._exit(LATE))
        signal.alarm(PATIENCE)
        sys.stdout = sys.stderr = io.StringIO()
        put_in(change)
        failed = any(report.failed for report in runtestprotocol(item, log=False))
        os._exit(NOTICED if failed else UNNOTICED)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status) == NOTICED


def put_in(change: Change) -> None:
    """Put a change into the templates of this process, which then holds nothing made before."""
    for units, size in KINDS:
        found = trials(World.of(units, size), [change])
        for trial in found.values():
            _put(TEMPLATES[units, size], trial.contents)


def _put(template: Template, contents: Mapping[Place, Scalar]) -> None:
    blank: list[Cell] = template.blank
    changed: list[Cell] = []
    for at, cell in enumerate(blank):
        if cell.place in contents:
            blank[at] = replace(cell, content=contents[cell.place])
            changed.append(blank[at])
    known = {cell.place for cell in blank}
    vars(template).pop("_upstream", None)
    engines: Engines = vars(template).get("_engines", {})
    for keys, (cells, calculator) in list(engines.items()):
        held = {cell.place for cell in cells}
        here = [cell for cell in changed if cell.place in held]
        if any(not is_formula(c.content) or known.intersection(inputs(c)) - held for c in here):
            del engines[keys]
        else:  # much quicker than to load all others again
            for cell in here:
                calculator._model.update_cell_with_formula(*calculator._at(cell), str(cell.content))


def judged(tried: Iterable[Trial], seen: Seen, say: Told = silent,
           files: Iterable[str] = COMPARISONS) -> None:  # fmt: skip
    """Tell which changes in US customary units the comparisons of the suite notice."""
    here = Path(__file__).parent
    loud = ("pytest.PytestWarning", "hypothesis.errors.HypothesisSideeffectWarning")
    pytest.main([
        *("-p", "no:cacheprovider"), *("-o", "addopts="), *("-p", "no:terminal"),
        *(word for one in loud for word in ("-W", f"ignore::{one}")),
        *(str(here / f"{file}.py") for file in files),
    ], plugins=[Judge(tried, say, seen)])  # fmt: skip
