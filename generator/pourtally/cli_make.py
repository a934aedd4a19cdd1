"""The commands that make workbooks and job files."""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, closing, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .telling import (
    PROBLEMS,
    company_option,
    complain,
    nothing_written,
    owner_of,
    place_option,
    quiet_option,
    replace_option,
)

if TYPE_CHECKING:
    from .company import Company
    from .many import Task
    from .model import Size, Units
    from .template import Templates


@click.command()
@replace_option
@quiet_option
@click.pass_context
def demo(ctx: click.Context, replace: bool, quiet: bool) -> None:
    """Build the demo into output/: a job, its copy, a finished job.

    \b
    Example:
      pourtally demo --replace
    """  # noqa: D301
    from .demo import demo_tasks, write_demo_copy
    from .output import FOLDER, free
    from .template import Templates

    copy = FOLDER / "demo-proposal.xlsx"
    templates = Templates()
    tasks = [dataclasses.replace(t, replace=replace) for t in demo_tasks(FOLDER, templates)]
    free([*(task.target for task in tasks), copy], replace)
    _carry_out(tasks, templates, quiet or ctx.obj)
    write_demo_copy(copy, templates)
    if not (quiet or ctx.obj):
        click.echo(f"Wrote {copy}")


@click.command()
@click.argument("jobs", nargs=-1, metavar="[JOB.toml]...", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "out",
    metavar="FILE-or-folder",
    help="The workbook to write, or the folder for it. Usual: the folder output/.",
)
@click.option(
    "--units",
    type=click.Choice(["us", "si"]),
    help="us: feet, inches, cubic yards; si: meters. Usual: as the job says, else us.",
)
@place_option("Whose money, taxes and rules it speaks of, such as canada. Usual: as the job says.")
@click.option(
    "--size",
    type=click.Choice(["small", "usual", "large"]),
    help="How many lines its tables have. Usual: as the job says, else usual.",
)
@company_option
@click.option(
    "--figures",
    metavar="OURS.csv",
    type=click.Path(path_type=Path),
    help="The company's prices, wages, rates and terms, as 'pourtally figures' saved them.",
)
@click.option("--skip-bad", is_flag=True, help="Leave out job files with problems, build the rest.")
@replace_option
@quiet_option
@click.pass_context
def build(
    ctx: click.Context, jobs: tuple[Path, ...], out: str | None,
    units: Units | None, place: str, size: Size | None, company: Path | None,
    figures: Path | None, skip_bad: bool, replace: bool, quiet: bool,
) -> None:  # fmt: skip
    """Build a workbook for each job file, or a blank one to fill in.

    All job files are checked first: if any has a problem, all problems are shown and
    nothing is written, unless --skip-bad says so. Many are built on all cores.

    \b
    Examples:
      pourtally build
      pourtally build --units si -o blank.xlsx
      pourtally build --place canada -o blank.xlsx
      pourtally build patio.toml --size small
      pourtally build patio.toml --company ours.toml --figures ours.csv
      pourtally build smith.toml jones.toml -o workbooks
      pourtally build 2026/*.toml -o workbooks --skip-bad
    """  # noqa: D301
    from .template import Templates

    templates = Templates()
    owner, wrong = owner_of(company, templates)
    owner = dataclasses.replace(owner, figures=figures)
    templates = templates.saying(owner.words)
    told = quiet or ctx.obj
    asked = (units, size, place)
    _build(templates, list(jobs), asked, out, replace, told, skip_bad, owner, wrong)


def _build(
    templates: Templates, paths: list[Path], asked: tuple[Units | None, Size | None, str],
    out: str | None, replace: bool, quiet: bool, skip_bad: bool,
    owner: Company, wrong: list[str],
) -> None:  # fmt: skip
    from .many import Task, sound
    from .output import targets

    units, size, place = asked
    jobs, names, problems, notes = sound(paths, units, size, templates, owner, place)
    if wrong:
        nothing_written(wrong + problems)
    complain(notes)
    if not (skip_bad and jobs):
        nothing_written(problems)
    complain(problems)
    where = targets(names, out, replace)
    each = zip(jobs, where, strict=True)
    tasks = [Task(job, units, size, at, owner, place, replace) for job, at in each]
    _carry_out(tasks, templates, quiet)
    if problems:
        bad = len(paths) - len(jobs)
        complain([f"{bad} of {len(paths)} job files left out; the others were built"])
        sys.exit(PROBLEMS)


def _carry_out(tasks: list[Task], templates: Templates, quiet: bool) -> None:
    """Build all workbooks and tell which are there, however it ends."""
    from .many import built

    written: set[Path] = set()
    try:
        with closing(built(tasks, templates)) as each, _progress(each, len(tasks), quiet) as steps:
            for path in steps:
                written.add(path)
    finally:
        for task in tasks:
            if task.target in written and not quiet:
                click.echo(f"Wrote {task.target}")


def _progress(
    each: Iterator[Path], count: int, quiet: bool
) -> AbstractContextManager[Iterable[Path]]:
    if quiet or count == 1:
        return nullcontext(each)
    return click.progressbar(each, count, "Building", file=sys.stderr)


@click.command()
@click.argument("job", metavar="JOB.toml", type=click.Path(path_type=Path))
@replace_option
@quiet_option
@click.pass_context
def new(ctx: click.Context, job: Path, replace: bool, quiet: bool) -> None:
    """Write a commented job file to start from.

    \b
    Example:
      pourtally new smith.toml
    """  # noqa: D301
    from .new import start_job

    start_job(job, replace)
    if not (quiet or ctx.obj):
        click.echo(f"Wrote {job}")
