"""The commands that make workbooks and job files."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .telling import nothing_written, quiet_option, replace_option

if TYPE_CHECKING:
    from .model import Size, Units
    from .template import Templates


@click.command()
@replace_option
@quiet_option
@click.pass_context
def demo(ctx: click.Context, replace: bool, quiet: bool) -> None:
    """Build the demo into the folder output/: a job, its customer's copy, a finished job.

    \b
    Example:
      pourtally demo --replace
    """  # noqa: D301
    from .demo import demo_jobs, write_demo_copy
    from .output import FOLDER, free
    from .template import Templates

    copy = FOLDER / "demo-proposal.xlsx"
    free([copy], replace)
    templates = Templates()
    _build(templates, demo_jobs(), None, None, None, replace, quiet or ctx.obj)
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
@click.option(
    "--size",
    type=click.Choice(["small", "usual", "large"]),
    help="Room for a patio (12 slab pieces), the usual (40) or three times as much. "
    "Usual: as the job says.",
)
@replace_option
@quiet_option
@click.pass_context
def build(
    ctx: click.Context, jobs: tuple[Path, ...], out: str | None,
    units: Units | None, size: Size | None, replace: bool, quiet: bool,
) -> None:  # fmt: skip
    """Build one workbook for each job file; without one, a blank workbook to fill in.

    All job files are checked first: if any has a problem, all problems are shown and
    nothing is written.

    \b
    Examples:
      pourtally build
      pourtally build --units si -o blank.xlsx
      pourtally build patio.toml --size small
      pourtally build smith.toml jones.toml -o workbooks
    """  # noqa: D301
    from .template import Templates

    _build(Templates(), list(jobs), units, size, out, replace, quiet or ctx.obj)


def _build(
    templates: Templates, paths: list[Path], units: Units | None, size: Size | None,
    out: str | None, replace: bool, quiet: bool,
) -> None:  # fmt: skip
    from .build import Job, build, read_jobs
    from .output import targets

    jobs, problems = read_jobs(paths, units, size, templates)
    nothing_written(problems)
    work = list(zip(jobs, targets([j.name for j in jobs], out, replace), strict=True))

    def run(items: Any) -> None:
        job: Job
        for job, path in items:
            build(job.template, job.entries, path)

    if len(work) > 1 and not quiet:
        with click.progressbar(work, label="Building", file=sys.stderr) as bar:
            run(bar)
    else:
        run(work)
    if not quiet:
        for _, path in work:
            click.echo(f"Wrote {path}")


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
