"""What jobs came to before a formula was changed, and which parts come to something else now.

    python tests/as_before.py                          the parts that come to something else
    python tests/as_before.py "Steel is lapped twice"  they are meant to, and why
    python tests/as_before.py --anew                   a release: new jobs, and no reasons

A few whole jobs are kept as they were typed, with a mark for all that each formula came to.
That is no proof that a figure is right: examples and comparisons are.  It shows what a change
moved that nobody meant to move, and why all that has moved since the release was moved.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path

from conftest import JOBS, MADE, content
from noticed import homes
from pourtally.files import release
from pourtally.model import Entries, Scalar, Size, Units
from shop import TEMPLATES, results
from sweep import random_jobs

KEPT = Path(__file__).parent / "older" / "as_before.json"
SIZE: Size = "small"
RANDOM_JOBS = 8
LETTERS = 3
"""Of a mark: of four thousand changes of a part in one job, all but one are seen."""
NO_PART = "-" * LETTERS
DIGITS = 9
"""Figures that differ in a later digit show the same."""


@dataclass
class Before:
    """Jobs as they were typed, what they came to, and what was meant to come to something else."""

    version: str
    jobs: dict[str, tuple[Units, Entries]]
    marks: dict[str, str]
    moved: dict[str, list[str]]

    @classmethod
    def read(cls) -> Before:
        """Return what is kept."""
        return cls(**json.loads(KEPT.read_text("utf-8")))

    def write(self) -> None:
        """Keep it, a job or a part on each line."""
        tables = (f"{json.dumps(name)}: {_by_line(said)}" for name, said in asdict(self).items())
        KEPT.write_text("{" + ",\n".join(tables) + "}\n", "utf-8")

    def mark(self, part: str, job: str) -> str:
        """Return the mark of a part in a job."""
        at = list(self.jobs).index(job) * LETTERS
        return self.marks[part][at : at + LETTERS]

    def differing(self, job: str) -> list[str]:
        """Return the parts that come to something else in a job now, or are gone."""
        now = marks(*self.jobs[job])
        return [part for part in self.marks if now.get(part, NO_PART) != self.mark(part, job)]


def _by_line(said: object) -> str:
    if not isinstance(said, dict):
        return json.dumps(said)
    lines = (f"{json.dumps(key)}: {json.dumps(value, separators=(',', ':'))}"
             for key, value in said.items())  # fmt: skip
    return "{\n" + ",\n".join(lines) + "\n}"


def marks(units: Units, entries: Entries) -> dict[str, str]:
    """Return {part with formulas: the mark of all that its lines come to}."""
    worked = results(units, entries, size=SIZE)
    parts = TEMPLATES[units, SIZE].book.parts
    return {key: mark(worked[key]) for key, (_, _, part) in parts.items()
            if part.kind == "formula" and key in worked}  # fmt: skip


def mark(column: Iterable[Scalar]) -> str:
    """Return a few letters that another column has as good as never."""
    shown = (f"{value:.{DIGITS}g}" if isinstance(value, float) else repr(value) for value in column)
    return sha256("\n".join(shown).encode()).hexdigest()[:LETTERS]


def made() -> Iterator[tuple[str, Units, Entries]]:
    """Yield the jobs of the shelf and some random ones, each with its name and its units."""
    for name in (*MADE, *JOBS):
        yield name, *content(name, SIZE)
    for number, entries in enumerate(random_jobs("us", RANDOM_JOBS), 1):
        yield f"random {number}", "us", entries


def typed(units: Units, entries: Entries) -> Entries:
    """Return the columns that differ from those of a blank workbook, without their empty ends."""
    out: Entries = {}
    for key, (block, _, part) in TEMPLATES[units, SIZE].book.entries().items():
        usual = [part.value(line) for line in range(block.lines)]
        column = [*entries.get(key, usual), *[None] * block.lines][: block.lines]
        if column != usual:
            while column and column[-1] is None:
                column.pop()
            out[key] = column
    return out


def joined(found: Iterable[dict[str, str]]) -> dict[str, str]:
    """Return the marks of all jobs, one after the other, of each part."""
    every = list(found)
    parts = dict.fromkeys(part for one in every for part in one)
    return {part: "".join(one.get(part, NO_PART) for one in every) for part in parts}


def anew() -> Before:
    """Return the jobs of today and what they come to."""
    jobs = {name: (units, typed(units, entries)) for name, units, entries in made()}
    return Before(release(), jobs, joined(marks(*job) for job in jobs.values()), {})


def by_file(moved: Iterable[str]) -> Iterator[str]:
    """Yield the parts of each file that come to something else, or are gone."""
    parts = TEMPLATES["us", SIZE].book.parts
    files: dict[str, list[str]] = {}
    for part in moved:
        home = homes().get(parts[part][0].key) if part in parts else None
        files.setdefault(home[0] if home else "no file any more", []).append(part)
    for file, mine in sorted(files.items()):
        yield f"{file}: {', '.join(mine)}"


def main() -> int:
    """Say which parts come to something else, and do what the command line asks for."""
    line = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    line.add_argument("why", nargs="?", default="")
    line.add_argument("--anew", action="store_true")
    said = line.parse_args()
    if said.anew:
        anew().write()
        return 0
    before = Before.read()
    moved: Counter[str] = Counter()
    for job in before.jobs:
        moved.update(before.differing(job))
    print(*by_file(moved), f"{len(moved)} parts come to something else in a job", sep="\n")
    if said.why:
        before.marks = joined(marks(*job) for job in before.jobs.values())
        before.moved[said.why] = sorted({*before.moved.get(said.why, []), *moved})
        before.write()
    return int(bool(moved) and not said.why)


if __name__ == "__main__":
    sys.exit(main())
