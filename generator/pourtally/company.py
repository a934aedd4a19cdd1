"""What a company brings to every job: entries of one form, and the look of its papers."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from .files import Table
from .model import Entries
from .style import PLAIN, Face


@dataclass(frozen=True)
class Company:
    """What a company brings to every job: entries of one block, and the look of its papers.

    ``says`` are tables as in a job file, ``entries`` the same by the keys of their cells;
    ``figures`` is the file of its prices, wages and rates; ``words`` are ours on the papers,
    each with what the company says in its place.
    """

    says: Table = field(default_factory=dict)
    entries: Entries = field(default_factory=dict)
    face: Face = PLAIN
    figures: Path | None = None
    words: dict[str, str] = field(default_factory=dict)

    def under(self, job: Table) -> Table:
        """Return the tables of a job, and in them what only the company says."""
        both = {k: {**said, **job[k]} for k, said in self.says.items() if type(job.get(k)) is dict}
        return self.says | job | both

    def fill(self, entries: Entries) -> Entries:
        """Return the entries of a job with the company's where the job has none."""
        lacking = {k: v for k, v in self.entries.items() if set(entries.get(k, v)) <= {None}}
        return entries | lacking


NOBODY = Company()
"""What there is where no company file is given."""
