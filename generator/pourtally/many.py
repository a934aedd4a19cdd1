"""Many job files to workbooks, on all cores of the machine.

All files are checked before the first workbook is written, and read again when theirs is:
so what is held in memory does not grow with their number.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Generator, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from multiprocessing import active_children, get_context
from pathlib import Path

from . import build
from .company import NOBODY, Company
from .model import Size, Units
from .output import Care, UseError
from .recalc import RecalcError
from .template import Templates
from .trial import tried

_FEW = 4  # jobs that are built sooner than a second process has its template ready
_MOST = 61  # processes that Windows lets one wait for
_TEMPLATES = Templates()  # of a process that builds for another


@dataclass(frozen=True)
class Task:
    """One workbook to build: its job file, none for a blank one, where it goes, whose it is."""

    job: Path | None
    asked: Units | None
    size: Size | None
    target: Path
    company: Company = NOBODY
    place: str = ""
    replace: bool = True

    @property
    def care(self) -> Care:
        """Return how it is written: nobody may read it who may not read what it is made of."""
        sources = filter(None, (self.job, self.company.figures))
        return Care(self.replace, tuple(sources))


def sound(
    paths: list[Path],
    asked: Units | None,
    size: Size | None,
    templates: Templates,
    company: Company = NOBODY,
    place: str = "",
) -> tuple[list[Path | None], list[str], list[str], list[str]]:
    """Return the job files without a problem, the names of their workbooks, problems and notes."""
    several: list[Path] | list[None] = paths or [None]
    good: list[Path | None] = []
    names: list[str] = []
    problems: list[str] = []
    notes: list[str] = []
    for path in several:
        job, wrong = build.read_file(path, asked, size, templates, company, place)
        problems += wrong
        notes += job.notes if job else ()
        if job and not wrong:
            good.append(path)
            names.append(job.name)
    return good, names, problems, notes


def built(tasks: list[Task], templates: Templates) -> Generator[Path]:
    """Build each workbook, whole or not at all, and yield where it is as soon as it is there.

    Raises what stands in the way of the first that cannot be built, with its name; those
    that are there stay.
    """
    workers = min(_cores(), _MOST, len(tasks) // 2)
    if len(tasks) >= _FEW and workers > 1:
        yield from _shared(tasks, workers)
        return
    for number, task in enumerate(tasks):
        if number:
            gc.collect()
        yield _build(task, templates)


def _shared(tasks: list[Task], workers: int) -> Iterator[Path]:
    """Build on several processes, each with one task at a time: so an end comes soon."""
    pool = ProcessPoolExecutor(workers, get_context("spawn"), _deaf)
    ahead = iter(tasks)
    try:
        with _silent():
            running = _submit(pool, islice(ahead, workers))
        while running:
            ended, running = wait(running, return_when=FIRST_COMPLETED)
            running |= _submit(pool, islice(ahead, len(ended)))
            for one in ended:
                yield one.result()
    except BrokenProcessPool:
        for process in active_children():
            process.kill()  # one that started while another died waits for work for ever
        raise UseError("a process that built workbooks was ended from outside, perhaps for want "
                       "of memory: build those that lack once more") from None  # fmt: skip
    finally:
        with _silent():
            pool.shutdown()


def _submit(pool: ProcessPoolExecutor, tasks: Iterator[Task]) -> set[Future[Path]]:
    try:
        return {pool.submit(_build_one, task) for task in tasks}
    except OSError as error:  # a process could not start, or another died while it did
        raise BrokenProcessPool from error


def _build_one(task: Task) -> Path:
    """Build one workbook in a process that builds one after the other.

    The sheets of a workbook point at one another, 80,000 objects a job, which stay until the
    collector looks through all there is. What the template holds it need not look through.
    """
    path = _build(task, _TEMPLATES)
    gc.collect()
    gc.freeze()
    return path


def _build(task: Task, templates: Templates) -> Path:
    own = templates.saying(task.company.words)
    job, problems = build.read_file(task.job, task.asked, task.size, own, task.company, task.place)
    if problems or not job:
        raise UseError("\n".join(problems))  # it was changed since it was checked
    try:
        entries = tried(job.template, job.entries, missing_only=True).entries
        build.build(job.template, entries, task.target, task.company.face, task.care)
    except RecalcError as error:
        raise RecalcError(f"{task.job or job.name}: {error}") from None
    return task.target


def _deaf() -> None:
    """Leave Ctrl-C to the process that gave the work, and telling what is wrong with it too.

    This one writes its file to the end. What fails in its work is handed over; a process that
    starts while another dies finds its queue closed, and would print where.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - to its end
    gc.disable()


@contextmanager
def _silent() -> Iterator[None]:
    """Let Ctrl-C wait: processes that start meanwhile do not hear it while they get ready."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
