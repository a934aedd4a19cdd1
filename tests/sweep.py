"""Many changes at a time: which of them change a figure, and which an example notices.

All changed formulas stand beside the true ones, on the same row of the same sheet, where
nobody reads them.  So one working out of a job tells for each whether it comes to another
figure.  Only for those is the change put in its place, and what follows from it worked out,
as far as an example looks.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from hypothesis import HealthCheck, Phase, given, settings

from conftest import JOBS, MADE
from noticed import Change, Example, Sheets, World, as_input, same, turned, walked
from pourtally.grid import Cell, Place, enter
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Scalar, TemplateError, Units
from reference.jobs import jobs
from reference.workbook import entries as typed_entries
from shop import read_jobs

Told = Callable[[str], None]
"""What says how far it is."""


def silent(_: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Trial:
    """A change, and the cells that hold something else than before."""

    change: Change
    contents: dict[Place, Scalar]


def trials(world: World, changed: Iterable[Change]) -> dict[Change, Trial]:
    """Return the changes that mean something, each with the cells that it changes."""
    out = {}
    for change in changed:
        part = change.part
        if change.kind != "fixed":  # its words may differ by system or size; its formulas do not
            part = replace(world.book.parts[part.key][2], formulas=part.formulas)
        try:
            contents = world.contents(part)
        except (TemplateError, IndexError, ValueError):
            continue
        other = {p: text for p, text in contents.items() if world.cells[p].content != text}
        if other:
            out[change] = Trial(change, other)
    return out


def read_by(world: World, trial: Trial) -> set[Place]:
    """Return the cells that changed cells read."""
    return {one for p, text in trial.contents.items() for one in world.reads(p, text)}


def upstream(world: World, begin: Iterable[Place]) -> dict[Place, tuple[Place, ...]]:
    """Return some cells and all that these are worked out from, each with what it reads."""
    ahead = list(begin)
    out: dict[Place, tuple[Place, ...]] = {}
    while ahead:
        place = ahead.pop()
        if place not in out:
            out[place] = world.read_by(place)
            ahead += out[place]
    return out


class Bed:
    """Cells of a workbook in an engine, and changed ones beside them."""

    def __init__(self, world: World, cells: list[Cell], tried: Iterable[Trial]) -> None:
        """Put in the cells and what is tried."""
        self._world, self._cells = world, cells
        self._engine = world.sheets()
        self._beside: dict[Trial, list[tuple[Place, Place]]] = {}
        right = 10 + max(place[2] for place in world.cells)
        used: Counter[tuple[str, int]] = Counter()
        for trial in tried:
            self._beside[trial] = []
            for place, content in trial.contents.items():
                row = place[:2]
                there = (*row, right + used[row])
                used[row] += 1
                self._beside[trial].append((place, there))
                self._engine.put(there, content)

    def work_out(self, entries: Entries) -> None:
        """Work out a job."""
        for cell in enter(self._world.book, self._cells, entries):
            self._engine.put(cell.place, cell.content if cell.content != "" else None)
        self._engine.work_out()

    def value(self, place: Place) -> Scalar:
        """Return what a cell shows."""
        return self._engine.value(place)

    def differing(self, trial: Trial) -> list[Place]:
        """Return the changed cells that come to another figure, all else as it is."""
        value = self._engine.value
        return [here for here, there in self._beside[trial] if not same(value(here), value(there))]

    def drop(self, trial: Trial) -> None:
        """Take out what need not be tried any more."""
        for _, there in self._beside.pop(trial):
            self._engine.put(there, None)


def shelf(units: Units) -> Iterator[Entries]:
    """Yield the entries of each kind of workbook that stands on the shelf of the tests."""
    yield from (make(units) for of, make in MADE.values() if of == units)
    for path in JOBS.values():
        (job,), _ = read_jobs([path], None)
        if job.template.units == units and job.template is world_template(units):
            yield job.entries


def world_template(units: Units) -> object:
    """Return the template that jobs of these units have where they name no place."""
    return World.of(units).template


def random_jobs(units: Units, many: int) -> list[Entries]:
    """Return random whole jobs of the reference model, the same ones each time."""
    out: list[Entries] = []

    @settings(max_examples=many, derandomize=True, deadline=None, database=None,
              suppress_health_check=list(HealthCheck), phases=[Phase.generate])  # fmt: skip
    @given(job=jobs(units))
    def draw(job: object) -> None:
        out.append(typed_entries(units, job.typed))  # type: ignore[attr-defined]

    draw()
    return out


def change_a_figure(world: World, tried: Iterable[Trial], made: Iterable[Entries],
                    say: Told = silent) -> set[Trial]:  # fmt: skip
    """Return what changes a figure of one of some jobs."""
    left = list(tried)
    read_ones = {p for t in left for p in (*t.contents, *read_by(world, t))}
    needs = upstream(world, read_ones)
    bed = Bed(world, [cell for place, cell in world.cells.items() if place in needs], left)
    out: set[Trial] = set()
    for number, entries in enumerate(made, 1):
        bed.work_out(entries)
        for trial in [t for t in left if bed.differing(t)]:
            out.add(trial)
            left.remove(trial)
            bed.drop(trial)
        say(f"job {number}: {len(left)} changed no figure so far")
        if not left:
            break
    return out


class Looking:
    """Some cells that somebody looks at, and all that they are worked out from."""

    def __init__(self, world: World, wanted: Iterable[Place], tried: Iterable[Trial]) -> None:
        """Take what is looked at, and of what is tried what could be seen there."""
        self._world, self.wanted = world, set(wanted)
        self._needs = upstream(world, self.wanted)
        self.tried = [t for t in tried if not self._needs.keys().isdisjoint(t.contents)]
        self._reads = {t: read_by(world, t) for t in self.tried}
        more = upstream(world, {one for found in self._reads.values() for one in found})
        every = self._needs.keys() | more.keys()
        self.bed = Bed(world, [c for p, c in world.cells.items() if p in every], self.tried)
        self._cones: dict[str, tuple[Sheets, set[Place], set[Place]]] = {}

    @cached_property
    def _readers(self) -> dict[Place, list[Place]]:
        return turned(self._needs)

    def shown(self, trial: Trial, wanted: Iterable[Place]) -> dict[Place, Scalar]:
        """Return what follows from a change in the job worked out last, where it is looked at."""
        engine, cone, outside = self._cone(trial)
        looked = cone.intersection(wanted)
        if not looked:
            return {}
        worked = self.bed.value
        for place in outside | (self._reads[trial] - cone):
            engine.put(place, as_input(worked(place)))
        for place, content in trial.contents.items():
            if place in cone:
                engine.put(place, content)
        engine.work_out()
        out = {place: engine.value(place) for place in looked}
        for place in trial.contents.keys() & cone:
            engine.put(place, self._world.cells[place].content)
        return out

    def moved(self, trial: Trial) -> bool:
        """Tell whether a change moves anything looked at in the job worked out last."""
        differing = self.bed.differing(trial)
        if not differing or not self.wanted.isdisjoint(differing):
            return bool(differing)
        shown = self.shown(trial, self.wanted)
        return any(not same(value, self.bed.value(place)) for place, value in shown.items())

    def _cone(self, trial: Trial) -> tuple[Sheets, set[Place], set[Place]]:
        """Return an engine with what follows from a part, what stands in it, what that reads."""
        key = trial.change.part.key
        if key not in self._cones:
            world = self._world
            own = {p for p in world.of_part[key] if p in self._needs}
            cone = own | walked(own, self._readers)
            engine = world.sheets()
            for place in cone:
                engine.put(place, world.cells[place].content)
            outside = {one for p in cone for one in self._needs[p]} - cone
            self._cones[key] = engine, cone, outside
        return self._cones[key]


def noticed(
    world: World, tried: Iterable[Trial], say: Told = silent
) -> Iterator[tuple[Trial, Example]]:
    """Yield what an example notices, each with the first that does.

    The examples of a change's own file come first: they know it best.  Those of other files
    follow, the ones that look at little before those that look at all.
    """
    left = set(tried)
    by_file: dict[str, list[Example]] = defaultdict(list)
    for example in world.examples:
        by_file[example.file].append(example)
    size = {file: len(upstream(world, {p for e in mine for p in e.wanted}))
            for file, mine in by_file.items()}  # fmt: skip
    for own in (True, False):
        for file in sorted(by_file, key=lambda name: size[name]):
            mine = [t for t in left if (t.change.file == file) == own]
            for trial, example in _noticed_by(world, file, mine):
                yield trial, example
                left.discard(trial)
            say(f"{file}: {len(left)} left")


def _noticed_by(world: World, file: str, tried: list[Trial]) -> Iterator[tuple[Trial, Example]]:
    """Yield what the examples of one file notice."""
    if not tried:
        return
    examples = [e for e in world.examples if e.file == file]
    looking = Looking(world, {place for e in examples for place in e.wanted}, tried)
    here = list(looking.tried)
    for example in examples:
        if not here:
            return
        entries, _ = job_entries(world.book, example.said.job, example.said.say)
        looking.bed.work_out(entries)
        for trial in [t for t in here if looking.bed.differing(t)]:
            shown = looking.shown(trial, example.wanted)
            if any(example.misses(place, value) for place, value in shown.items()):
                yield trial, example
                here.remove(trial)
                looking.bed.drop(trial)
