"""Which changes of formulas the comparisons of the suite notice, where no example does.

The tests are collected once.  Each change is then put into the template of a process of its
own, a copy of this one, which runs the tests that ask for anything that follows from it,
the quick ones first, until one fails.
"""

from __future__ import annotations

import io
import json
import os
import signal
import sys
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol

from noticed import Change, World, walked
from pourtally.grid import Place
from pourtally.model import Scalar, Size, Units
from pourtally.template import Template
from shop import TEMPLATES
from sweep import Told, Trial, silent, trials

COMPARISONS = (
    "test_reference", "test_reference_orders", "test_reference_steel", "test_reference_mats",
    "test_reference_walks", "test_reference_pieces", "test_reference_heights",
    "test_reference_ground", "test_reference_forms", "test_reference_calendar",
    "test_reference_day", "test_reference_one", "test_reference_yard", "test_tables", "test_sweeps",
    "test_weather", "test_day", "test_loads", "test_whole_job", "test_whole_price", "test_card",
    "test_payments", "test_outcome", "test_taxes", "test_promises",
)  # fmt: skip
"""The files of tests that hold figures against something else."""
PATIENCE = 90
"""Seconds that a change is given: who has not noticed it by then has not."""
KINDS: tuple[tuple[Units, Size], ...] = (("us", "usual"), ("si", "usual"), ("us", "small"))
"""The templates that these tests ask."""
NOTICED, UNNOTICED, LATE = 10, 11, 12


@dataclass(frozen=True)
class Asked:
    """What a test asks for, all where it is nothing, and how long it takes."""

    test: str
    seconds: float
    keys: frozenset[str]


class Judge:
    """Runs the tests of a session once for each change, in place of the session itself."""

    def __init__(self, world: World, tried: Iterable[Trial], say: Told = silent) -> None:
        """Take what is tried."""
        self._world, self._say = world, say
        self._tried = list(tried)
        self.noticed: dict[Trial, str] = {}
        self.late: list[Trial] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Find what each test asks for, then try all changes."""
        for kind in KINDS:
            World.of(*kind)
        found = self._as_it_is(session)
        self._say(f"{len(found)} tests in {sum(a.seconds for a in found.values()):.0f} s")
        items = {item.nodeid: item for item in session.items}
        for number, trial in enumerate(self._tried, 1):
            follows = self._follows(trial)
            asked = [a for a in found.values() if not a.keys or not a.keys.isdisjoint(follows)]
            chosen = [items[a.test] for a in sorted(asked, key=lambda a: a.seconds)]
            if by := self._run(trial, chosen):
                self.noticed[trial] = by
            self._say(f"{number} of {len(self._tried)}: {trial.change.part.key} "
                      f"{trial.change.what}: {by or 'alive'} ({len(chosen)} tests)")  # fmt: skip
        return True

    def _as_it_is(self, session: pytest.Session) -> dict[str, Asked]:
        """Run all tests in a copy of this process, and return what each asks for."""
        out, into = os.pipe()
        if not (child := os.fork()):
            os.close(out)
            told = []
            for item in session.items:
                keys, begun = _recorded(), time.time()
                reports = runtestprotocol(item, log=False)
                if all(report.passed for report in reports):
                    told.append([item.nodeid, time.time() - begun, sorted(keys), "" in keys])
            with os.fdopen(into, "w") as pipe:
                json.dump(told, pipe)
            os._exit(0)
        os.close(into)
        with os.fdopen(out) as pipe:
            told = json.load(pipe)
        os.waitpid(child, 0)
        return {test: Asked(test, seconds, frozenset() if whole else frozenset(keys))
                for test, seconds, keys, whole in told if keys}  # fmt: skip

    def _follows(self, trial: Trial) -> set[str]:
        world = self._world
        own = set(trial.contents)
        return {world.cells[p].part for p in own | walked(own, world.all_readers)}

    def _run(self, trial: Trial, chosen: list[pytest.Item]) -> str:
        """Return which test fails where the change is made; nothing where none does."""
        out, into = os.pipe()
        if not (child := os.fork()):
            os.close(out)
            signal.signal(signal.SIGALRM, lambda *_: os._exit(LATE))
            signal.alarm(PATIENCE)
            sys.stdout = sys.stderr = io.StringIO()
            put_in(trial.change)
            for item in chosen:
                if any(report.failed for report in runtestprotocol(item, log=False)):
                    os.write(into, item.nodeid.encode())
                    os._exit(NOTICED)
            os._exit(UNNOTICED)
        os.close(into)
        with os.fdopen(out) as pipe:
            by = pipe.read()
        _, status = os.waitpid(child, 0)
        if os.waitstatus_to_exitcode(status) == LATE:
            self.late.append(trial)
        return by


def _recorded() -> set[str]:
    """Return a set that takes in each key that is asked for from now on, "" for all of them."""
    keys: set[str] = set()
    true = _TRUE

    def engine(self: Template, asked: frozenset[str]) -> object:
        keys.update(asked or {""})
        return true(self, asked)

    Template._engine = engine  # type: ignore[method-assign, assignment]
    return keys


_TRUE = Template._engine


def put_in(change: Change) -> None:
    """Put a change into the templates of this process, which then holds nothing made before."""
    for units, size in KINDS:
        found = trials(World.of(units, size), [change])
        for trial in found.values():
            _put(TEMPLATES[units, size], trial.contents)


def _put(template: Template, contents: Mapping[Place, Scalar]) -> None:
    blank = template.blank
    for at, cell in enumerate(blank):
        if cell.place in contents:
            blank[at] = replace(cell, content=contents[cell.place])
    for made in ("_engines", "_upstream"):
        vars(template).pop(made, None)


def judged(world: World, tried: Iterable[Trial], say: Told = silent,
           files: Iterable[str] = COMPARISONS) -> Judge:  # fmt: skip
    """Return what the comparisons of the suite notice of some changes."""
    judge = Judge(world, tried, say)
    here = Path(__file__).parent
    loud = ("pytest.PytestWarning", "hypothesis.errors.HypothesisSideeffectWarning")
    pytest.main([
        *("-p", "no:cacheprovider"), *("-o", "addopts="), *("-p", "no:terminal"),
        *(word for one in loud for word in ("-W", f"ignore::{one}")),
        *(str(here / f"{file}.py") for file in files),
    ], plugins=[judge])  # fmt: skip
    return judge
