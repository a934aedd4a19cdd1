"""The command line: the only room that prints and exits.

The rooms that load a library are imported by the command that needs them, so that
``pourtally --help`` answers at once.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import click

PROBLEMS = 1
BAD_USE = 2
_SELDOM = 100_000  # objects between two sweeps for garbage: a fifth faster than the usual 700


class _Commands(click.Group):
    """A group that turns a known error into one message instead of a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command asked for."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except Exception as error:
            code, message = _message(error)
            if not message:
                raise
            _complain([message])
            raise click.exceptions.Exit(code) from error


def _message(error: Exception) -> tuple[int, str]:
    from .model import TemplateError
    from .output import UseError

    if isinstance(error, UseError):
        return BAD_USE, str(error)
    if isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        return BAD_USE, f"{where}{error.strerror or error}"
    if isinstance(error, TemplateError):
        return PROBLEMS, f"templates: {error}"
    from .recalc import RecalcError

    if isinstance(error, RecalcError):
        return PROBLEMS, f"templates: {error}"
    return 0, ""


def _complain(problems: list[str]) -> None:
    for problem in problems:
        click.echo(problem, err=True)


def _quiet_option(command: Callable[..., Any]) -> Callable[..., Any]:
    return click.option("-q", "--quiet", is_flag=True, help="Print problems only.")(command)


_replace_option = click.option("--replace", is_flag=True, help="Write over files that exist.")


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="pourtally", message="pourtally %(version)s")
@_quiet_option
@click.pass_context
def main(ctx: click.Context, quiet: bool) -> None:
    """Workbooks for decorative flatwork: from the tape measure to quantities and hours.

    \b
    pourtally demo                 a filled-in workbook to look at, in output/
    pourtally build                a blank workbook, ready to fill in
    pourtally values patio.xlsx    every figure of a workbook someone filled in
    pourtally prices patio.xlsx    its prices to a CSV file, or new ones into it
    pourtally learn *.xlsx         the rates that finished jobs really took

    Exit codes: 0 fine, 1 problems found in a file, 2 bad use.
    """  # noqa: D301
    gc.set_threshold(_SELDOM)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console that lacks a sign shows ?
    ctx.obj = quiet


@main.command()
@_replace_option
@_quiet_option
@click.pass_context
def demo(ctx: click.Context, replace: bool, quiet: bool) -> None:
    """Build the demo into the folder output/: a job, its customer's copy, a finished job.

    \b
    Example:
      pourtally demo --replace
    """  # noqa: D301
    from .demo import demo_jobs, write_demo_copy
    from .output import FOLDER, free

    copy = FOLDER / "demo-proposal.xlsx"
    free([copy], replace)
    _build(demo_jobs(), None, None, replace, quiet or ctx.obj)
    write_demo_copy(copy)
    if not (quiet or ctx.obj):
        click.echo(f"Wrote {copy}")


@main.command()
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
@_replace_option
@_quiet_option
@click.pass_context
def build(
    ctx: click.Context, jobs: tuple[Path, ...], out: str | None,
    units: Literal["us", "si"] | None, replace: bool, quiet: bool,
) -> None:  # fmt: skip
    """Build one workbook for each job file; without one, a blank workbook to fill in.

    All job files are checked first: if any has a problem, all problems are shown and
    nothing is written.

    \b
    Examples:
      pourtally build
      pourtally build --units si -o blank.xlsx
      pourtally build smith.toml jones.toml -o workbooks
    """  # noqa: D301
    _build(list(jobs), units, out, replace, quiet or ctx.obj)


def _build(
    paths: list[Path], units: Literal["us", "si"] | None, out: str | None, replace: bool,
    quiet: bool,
) -> None:  # fmt: skip
    from .build import Job, build, read_jobs
    from .output import targets

    jobs, problems = read_jobs(paths, units)
    _nothing_written(problems)
    work = list(zip(jobs, targets([j.name for j in jobs], out, replace), strict=True))

    def run(items: Any) -> None:
        job: Job
        for job, path in items:
            build(job.units, job.entries, path)

    if len(work) > 1 and not quiet:
        with click.progressbar(work, label="Building", file=sys.stderr) as bar:
            run(bar)
    else:
        run(work)
    if not quiet:
        for _, path in work:
            click.echo(f"Wrote {path}")


@main.command()
@click.argument("workbook", metavar="FILE.xlsx", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")
@_quiet_option
@click.pass_context
def values(ctx: click.Context, workbook: Path, as_json: bool, quiet: bool) -> None:
    """Print every entry and result of a filled-in workbook, worked out afresh.

    Only what was typed is taken from the file; every result comes from a fresh copy of
    the template. Problems go to the error stream, and into the JSON object. With --quiet
    the text is left out and the problems stay.

    \b
    Examples:
      pourtally values smith.xlsx
      pourtally values smith.xlsx --json > smith.json
    """  # noqa: D301
    from .guard import UnusableError
    from .values import json_text, plain_text, report

    try:
        found = report(workbook)
    except UnusableError as error:
        _complain([f"{workbook}: {error}"])
        sys.exit(PROBLEMS)
    if as_json:
        click.echo(json_text(found))
    elif not (quiet or ctx.obj):
        click.echo(plain_text(found))
    _complain([f"{workbook}: {p}" for p in found.problems])
    sys.exit(PROBLEMS if found.problems else 0)


@main.command()
@click.argument("workbook", metavar="FILE.xlsx", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "copy",
    metavar="COPY.xlsx",
    type=click.Path(path_type=Path),
    help="The copy to write. Usual: FILE-proposal.xlsx, beside FILE.",
)
@click.option("--pdf", is_flag=True, help="Write its printed pages too; needs LibreOffice.")
@_replace_option
@_quiet_option
@click.pass_context
def share(
    ctx: click.Context, workbook: Path, copy: Path | None, pdf: bool, replace: bool, quiet: bool
) -> None:
    """Write a copy for the customer: prices and options, and nothing behind them.

    The copy is a workbook of its own. It holds no cost, wage, margin, supplier or note of
    yours. A file with an open stop check is refused.

    \b
    Examples:
      pourtally share smith.xlsx
      pourtally share smith.xlsx -o "Smith patio.xlsx" --pdf
    """  # noqa: D301
    from .guard import UnusableError
    from .output import UseError, free, with_suffix
    from .pdf import office, write_pdf
    from .share import RefusedError
    from .share import share as write_share

    target = with_suffix(copy, ".xlsx") if copy else workbook.with_name(
        f"{workbook.stem}-proposal.xlsx")  # fmt: skip
    targets = [target, target.with_suffix(".pdf")] if pdf else [target]
    if target.resolve() == workbook.resolve():
        raise UseError(f"{target}: the copy would take the place of the workbook itself; "
                       "give it another name")  # fmt: skip
    free(targets, replace)
    if pdf:
        office()
    try:
        write_share(workbook, target)
    except UnusableError as error:
        _complain([f"{workbook}: {error}"])
        sys.exit(PROBLEMS)
    except RefusedError as error:
        _complain([*(f"{workbook}: {p}" for p in error.problems), "No copy was written"])
        sys.exit(PROBLEMS)
    if pdf:
        write_pdf(*targets)
    if not (quiet or ctx.obj):
        for path in targets:
            click.echo(f"Wrote {path}")


@main.command()
@click.argument("workbook", metavar="FILE.xlsx", type=click.Path(path_type=Path))
@click.option(
    "--save",
    metavar="PRICES.csv",
    type=click.Path(path_type=Path),
    help="Write the prices of FILE to a CSV file.",
)
@click.option(
    "--load",
    metavar="PRICES.csv",
    type=click.Path(path_type=Path),
    help="Put the prices of a CSV file into FILE, or into a new workbook.",
)
@click.option(
    "-o",
    "--output",
    "out",
    metavar="NEW.xlsx",
    type=click.Path(path_type=Path),
    help="With --load: the workbook to write in place of FILE.",
)
@_replace_option
@_quiet_option
@click.pass_context
def prices(
    ctx: click.Context,
    workbook: Path,
    save: Path | None,
    load: Path | None,
    out: Path | None,
    replace: bool,
    quiet: bool,
) -> None:
    """Carry prices, wages and rates from one workbook to another.

    The CSV file opens in any spreadsheet, a row for each figure. Loading takes rates of
    'pourtally learn' too. With a bad line nothing is written.

    \b
    Examples:
      pourtally prices smith.xlsx --save prices.csv
      pourtally prices jones.xlsx --load prices.csv -o jones-priced.xlsx
      pourtally prices jones.xlsx --load prices.csv --replace
    """  # noqa: D301
    from .guard import UnusableError
    from .output import UseError

    if (save is None) == (load is None) or (save and out):
        raise UseError("write either --save PRICES.csv, or --load PRICES.csv with -o NEW.xlsx")
    try:
        if save:
            said = _save_prices(workbook, save, replace)
        else:
            assert load
            said = _load_prices(workbook, load, out, replace)
    except UnusableError as error:
        _complain([f"{workbook}: {error}"])
        sys.exit(PROBLEMS)
    if not (quiet or ctx.obj):
        click.echo(said)


def _save_prices(workbook: Path, save: Path, replace: bool) -> str:
    from .output import free, with_suffix, write_text
    from .pricelist import saved

    free([with_suffix(save, ".csv")], replace)
    text, problems = saved(workbook)
    _nothing_written(problems)
    write_text(save, text)
    return f"Wrote {save}"


def _load_prices(workbook: Path, load: Path, out: Path | None, replace: bool) -> str:
    from .build import build
    from .output import UseError, free, with_suffix
    from .pricelist import loaded

    if not (out or replace):
        raise UseError(f"give -o NEW.xlsx, or --replace to write over {workbook}")
    target = with_suffix(out or workbook, ".xlsx")
    free([target], replace)
    found = loaded(workbook, load)
    if found.added:
        lost = f"{workbook}: {', '.join(found.added)} would not be carried over"
        if target.resolve() == workbook.resolve():
            found.problems.append(f"{lost}, since the workbook is built anew: "
                                  "give another name with -o, or take them out")  # fmt: skip
        found.notes.append(lost.replace("would not be", "are not"))
    _nothing_written(found.problems)
    _complain(found.notes)
    build(found.units, found.entries, target)
    return f"Wrote {target}: {found.taken} figures of {load}"


def _nothing_written(problems: list[str]) -> None:
    """End the program where there are problems, and say that nothing came of it."""
    if problems:
        count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
        _complain([*problems, f"{count} found; nothing was written"])
        sys.exit(PROBLEMS)


@main.command()
@click.argument(
    "workbooks", nargs=-1, required=True, metavar="FILE.xlsx...", type=click.Path(path_type=Path)
)
@click.option(
    "-o",
    "--output",
    "out",
    metavar="RATES.csv",
    type=click.Path(path_type=Path),
    help="A file of the rates, for 'pourtally prices NEXT.xlsx --load RATES.csv'.",
)
@_replace_option
@_quiet_option
@click.pass_context
def learn(
    ctx: click.Context, workbooks: tuple[Path, ...], out: Path | None, replace: bool, quiet: bool
) -> None:
    """Tell what finished jobs teach: hours, coverage, waste as they really were.

    Rates are pooled by quantity over all files, each shown beside the one in use. The
    files are only read.

    \b
    Examples:
      pourtally learn smith.xlsx jones.xlsx
      pourtally learn finished/*.xlsx -o rates.csv
    """  # noqa: D301
    from .learn import csv_text, plain_text
    from .learn import learn as learn_from
    from .output import free, with_suffix, write_text

    if out:
        free([with_suffix(out, ".csv")], replace)
    school = learn_from(workbooks)
    if not (quiet or ctx.obj):
        click.echo(plain_text(school.learned) if school.learned else "Nothing was logged.")
    _complain(school.notes)
    if out:
        _nothing_written(school.problems)
        write_text(out, csv_text(school.learned))
        if not (quiet or ctx.obj):
            click.echo(f"Wrote {out}")
    _complain(school.problems)
    sys.exit(PROBLEMS if school.problems else 0)


@main.command()
@click.argument("job", metavar="JOB.toml", type=click.Path(path_type=Path))
@_replace_option
@_quiet_option
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
