"""Speed and size, as ratios inside one run: ``python tests/bench.py``.

Clocks differ from machine to machine and from minute to minute, so each figure is held
against something measured in the same run.  A program to run, not a test.
"""

from __future__ import annotations

import contextlib
import copy
import multiprocessing
import os
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import openpyxl
import xlsxwriter

from pourtally import files, load
from pourtally.build import build
from pourtally.demo import demo_jobs
from pourtally.grid import Cell, is_formula
from pourtally.jobfile import job_entries
from pourtally.many import Task, built
from pourtally.model import Entries
from pourtally.template import Template, Templates
from shop import laid_out, work_out

ROUNDS = 7
YEAR = 100
"""Jobs built in one go; memory is flat if it is so from the tenth to the last."""
GROWN = ("pieces", "thick", "steps", "products", "labor")


def best(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return the shortest of several runs, in seconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def bare(cells: list[Cell], sheets: list[str], path: Path) -> None:
    """Write the same cells with XlsxWriter alone: no values, no layout, few formats."""
    workbook = xlsxwriter.Workbook(path)
    pages = {name: workbook.add_worksheet(name) for name in sheets}
    formats: dict[tuple[str, str], object] = {}
    for cell in cells:
        look = formats.setdefault((cell.role, cell.format), workbook.add_format())
        page, where = pages[cell.sheet], (cell.row, cell.column)
        if is_formula(cell.content):
            page.write_formula(*where, cell.content, look)
        elif isinstance(cell.content, float):
            page.write_number(*where, cell.content, look)
        elif cell.content:
            page.write_string(*where, cell.content, look)
        else:
            page.write_blank(*where, None, look)
    workbook.close()


def by_openpyxl(cells: list[Cell], sheets: list[str], path: Path) -> None:
    """Write the same cells with openpyxl, which keeps no value beside a formula."""
    workbook = openpyxl.Workbook()
    pages = {name: workbook.create_sheet(name) for name in sheets}
    for cell in cells:
        pages[cell.sheet].cell(cell.row + 1, cell.column + 1, cell.content)
    workbook.save(path)


def demo_entries() -> tuple[Path, Entries]:
    """Return the demo's job file and its entries."""
    path = demo_jobs()[0]
    book, _ = laid_out("us")
    return path, job_entries(book, tomllib.loads(path.read_text(encoding="utf-8")), path.name)[0]


def grown(times: int) -> Callable[[], object]:
    """Return the work of building a template whose long tables have more lines."""
    folder = files.templates_folder()
    read = {p: tomllib.loads(p.read_text(encoding="utf-8")) for p in folder.rglob("*.toml")}
    own = folder / "items"
    items = {p.name: copy.deepcopy(t) for p, t in sorted(read.items()) if p.parent == own}
    for item in items.values():
        for block in item.get("block", []):
            if block.get("with", block["key"]) in GROWN and "lines" in block:
                usual = block["lines"]
                usual = usual["usual"] if isinstance(usual, dict) else usual
                block["lines"] = usual * times
    book = load.make_book("us", read[folder / "sheets.toml"], read[folder / "units.toml"], items)
    target = Path(tempfile.mkdtemp()) / "grown.xlsx"
    cells = Template(book).blank
    print(f"  × {times}: {sum(is_formula(c.content) for c in cells):,} formulas")

    def work() -> None:
        build(Template(book), {}, target)

    return work


def run_seconds(*command: str) -> float:
    """Return the shortest wall time of a command."""
    return best(lambda: subprocess.run(command, check=True, capture_output=True), 5)


def peak_megabytes(*command: str) -> float:
    """Return the largest memory a command held, in MB (GNU time is not needed)."""
    code = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, "
        "capture_output=True); print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    done = subprocess.run([sys.executable, "-c", code, *command], check=True, capture_output=True)
    return int(done.stdout) / 1024


def held(pid: int) -> float:
    """Return the memory that a process holds now, in MB."""
    pages = int(Path(f"/proc/{pid}/statm").read_text("utf-8").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def year(pourtally: str, folder: Path) -> None:
    """Build many jobs on one core and on all of them, and look at the memory meanwhile."""
    jobs = [folder / f"{number}.toml" for number in range(YEAR)]
    for job in jobs:
        shutil.copy(demo_jobs()[0], job)
    command = (pourtally, "build", *map(str, jobs), "-o", str(folder), "--replace", "--quiet")
    cores = os.sched_getaffinity(0)
    seconds = []
    for some in ({min(cores)}, cores):
        os.sched_setaffinity(0, some)
        seconds.append(best(lambda: subprocess.run(command, check=True), 1))
    one, every = seconds
    print(
        f"{YEAR} jobs on one core / on {len(cores)}: {one:.1f} / {every:.1f} s = {one / every:.2f}"
    )
    tasks = [Task(job, None, None, job.with_suffix(".xlsx")) for job in jobs]
    for number, _ in enumerate(built(tasks, Templates()), 1):
        if number in (10, YEAR):
            workers = [held(p.pid or 0) for p in multiprocessing.active_children()]
            told = ", ".join(f"{size:.0f}" for size in sorted(workers))
            print(f"  at job {number}: {held(os.getpid()):.0f} MB, each worker {told} MB")


def main() -> None:
    """Measure and print everything."""
    _, entries = demo_entries()
    book, _ = laid_out("us")
    cells, _ = work_out("us", entries)
    names = [s.name for s in book.sheets]
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "job.xlsx"

        # a fresh template: count the work of a first job, not of a second
        ours = best(lambda: build(Template(book), entries, target))
        size = target.stat().st_size
        alone = best(lambda: bare(cells, names, Path(folder) / "bare.xlsx"))
        print(f"cells {len(cells):,}, formulas {sum(is_formula(c.content) for c in cells):,}")
        print(f"file of the demo: {size / 1024:.0f} KB")
        print(
            f"build with true values / bare XlsxWriter: {ours:.3f} / {alone:.3f} s "
            f"= {ours / alone:.2f}"
        )
        other = best(lambda: by_openpyxl(cells, names, Path(folder) / "other.xlsx"), 3)
        print(f"build with true values / openpyxl: {ours / other:.2f}")
        small = Templates()["us", "small"].book
        light = Path(folder) / "small.xlsx"
        took = best(lambda: build(Template(small), entries, light))
        many = sum(is_formula(c.content) for c in Template(small).blank)
        print(
            f"small: {many:,} formulas, {light.stat().st_size / 1024:.0f} KB, "
            f"{took / ours:.2f} × the time of the usual"
        )
        one, ten = grown(1), grown(10)
        single, tenfold = best(one, 3), best(ten, 3)
        print(f"10 × the lines of {', '.join(GROWN)}: {tenfold / single:.1f} × the time")
        pourtally = str(Path(sys.executable).parent / "pourtally")
        demo = (pourtally, "demo", "--replace", "--quiet")
        with contextlib.chdir(folder):
            print(f"whole demo: {run_seconds(*demo):.2f} s, {peak_megabytes(*demo):.0f} MB")
        year(pourtally, Path(folder))
        empty = Path(folder) / "empty.py"
        empty.write_text(
            "import click\n@click.group()\ndef main():\n    'Nothing.'\nmain()\n", encoding="utf-8"
        )
        plain = run_seconds(sys.executable, str(empty), "--help")
        full = run_seconds(pourtally, "--help")
        print(f"--help / an empty click program: {full:.3f} / {plain:.3f} s = {full / plain:.2f}")


if __name__ == "__main__":
    main()
