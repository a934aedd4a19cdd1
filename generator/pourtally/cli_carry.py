"""The commands that carry prices and rates from job to job."""

from __future__ import annotations

import sys
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


@click.command()
@click.argument("workbook", metavar="FILE.xlsx", type=click.Path(path_type=Path))
@click.option(
    "--save",
    metavar="OURS.csv",
    type=click.Path(path_type=Path),
    help="Write the company's figures in FILE to a CSV file.",
)
@click.option(
    "--load",
    metavar="OURS.csv",
    type=click.Path(path_type=Path),
    help="Put the figures of a CSV file into FILE, or into a new workbook.",
)
@click.option(
    "-o",
    "--output",
    "out",
    metavar="NEW.xlsx",
    type=click.Path(path_type=Path),
    help="With --load: the workbook to write in place of FILE.",
)
@place_option(
    "With --load: whose order days such as 04/05/2026 are in. Usual: as the workbook says."
)
@company_option
@replace_option
@quiet_option
@click.pass_context
def figures(
    ctx: click.Context,
    workbook: Path,
    save: Path | None,
    load: Path | None,
    out: Path | None,
    place: str,
    company: Path | None,
    replace: bool,
    quiet: bool,
) -> None:
    """Carry prices, wages, rates and terms from job to job.

    All that is the company's goes, and nothing of one job: no measure, date or customer. The
    CSV file opens in any spreadsheet, a row for each figure. A mix, a product or a task goes
    by its name. Loading takes rates of 'pourtally learn' too. With a bad line nothing is
    written.

    \b
    Examples:
      pourtally figures smith.xlsx --save ours.csv
      pourtally figures jones.xlsx --load ours.csv -o jones-priced.xlsx
      pourtally figures jones.xlsx --load ours.csv --replace
      pourtally build jones.toml --figures ours.csv
    """  # noqa: D301
    from . import local
    from .guard import UnusableError
    from .output import UseError

    if (save is None) == (load is None) or (save and (out or company or place)):
        raise UseError("write either --save OURS.csv, or --load OURS.csv with -o NEW.xlsx")
    if place and (wrong := local.problem(place)):
        raise UseError(f"--place: {wrong}")
    try:
        if save:
            said = _save_prices(workbook, save, replace)
        else:
            assert load
            said = _load_prices(workbook, load, out, company, replace, place)
    except UnusableError as error:
        complain([f"{workbook}: {error}"])
        sys.exit(PROBLEMS)
    if not (quiet or ctx.obj):
        click.echo(said)


prices = click.Command(
    "prices", params=figures.params, callback=figures.callback, help=figures.help, hidden=True
)
"""The name it had before it carried more than prices."""


def _save_prices(workbook: Path, save: Path, replace: bool) -> str:
    from .output import Care, free, with_suffix, write_text
    from .pricesave import saved
    from .template import Templates

    free([with_suffix(save, ".csv")], replace)
    text, problems, notes = saved(workbook, Templates())
    complain([f"{workbook}: {n}" for n in notes])
    nothing_written([f"{workbook}: {p}" for p in problems])
    write_text(save, text, Care(replace, (workbook,)))
    return f"Wrote {save}"


def _load_prices(
    workbook: Path, load: Path, out: Path | None, company: Path | None, replace: bool, place: str
) -> str:
    from .build import build
    from .output import Care
    from .priceload import loaded
    from .template import Templates

    target = _target(workbook, out, replace)
    templates = Templates()
    owner, wrong = owner_of(company, templates)
    found = loaded(workbook, load, templates.saying(owner.words), place)
    found.problems += wrong
    if found.kept:
        found.notes.append(f"{workbook}: {found.kept}")
    lost, note = _lost(workbook, target, found.added, owner)
    nothing_written(found.problems + lost)
    complain(found.notes + note)
    care = Care(replace, (workbook, load))
    build(found.template, owner.fill(found.entries), target, owner.face, care)
    return f"Wrote {target}: {found.taken} figures of {load}"


def _target(workbook: Path, out: Path | None, replace: bool) -> Path:
    """Return the workbook to write, or raise ``UseError`` where it may not be written."""
    from .output import UseError, free, with_suffix

    if not (out or replace):
        raise UseError(f"give -o NEW.xlsx, or --replace to write over {workbook}")
    target = with_suffix(out or workbook, ".xlsx")
    free([target], replace)
    return target


def _lost(
    workbook: Path, target: Path, added: list[str], owner: Company
) -> tuple[list[str], list[str]]:
    """Return, as a problem or a note, what a workbook built anew does not carry over."""
    from .sheets import LOGO

    if not (gone := [what for what in added if what != LOGO or not owner.face.logo]):
        return [], []
    brought = " (--company FILE brings it)" if LOGO in gone else ""
    lost = f"{workbook}: {', '.join(gone)}{brought} would not be carried over"
    if target.resolve() == workbook.resolve():
        return [f"{lost}, since the workbook is built anew: give another name with -o, or take "
                "them out"], []  # fmt: skip
    return [], [lost.replace("would not be", "are not")]


_new_workbook = click.option(
    "-o",
    "--output",
    "out",
    metavar="NEW.xlsx",
    type=click.Path(path_type=Path),
    help="The workbook to write in place of JOB.",
)


@click.command()
@click.argument("workbook", metavar="JOB.xlsx", type=click.Path(path_type=Path))
@_new_workbook
@company_option
@replace_option
@quiet_option
@click.pass_context
def options(
    ctx: click.Context, workbook: Path, out: Path | None, company: Path | None,
    replace: bool, quiet: bool,
) -> None:  # fmt: skip
    """Price every option of JOB, as the whole job with it.

    Two options that come to something else together than one by one get a price of both.
    An option that needs what has no price is told and left without one.

    \b
    Examples:
      pourtally options smith.xlsx -o smith-options.xlsx
      pourtally options smith.xlsx --replace
    """  # noqa: D301
    from .build import build
    from .guard import UnusableError
    from .output import Care
    from .read import read_workbook
    from .template import Templates
    from .trial import tried

    target = _target(workbook, out, replace)
    templates = Templates()
    owner, wrong = owner_of(company, templates)
    try:
        filled = read_workbook(workbook, templates.saying(owner.words))
    except UnusableError as error:
        complain([f"{workbook}: {error}"])
        sys.exit(PROBLEMS)
    lost, note = _lost(workbook, target, filled.added, owner)
    nothing_written(wrong + [f"{workbook}: {p}" for p in filled.problems] + lost)
    done = tried(filled.template, owner.fill(filled.entries))
    complain([*note, *(f"{workbook}: {n}" for n in (*filled.notes, *done.notes))])
    build(filled.template, done.entries, target, owner.face, Care(replace, (workbook,)))
    if not (quiet or ctx.obj):
        click.echo(f"Wrote {target}: {done.options} options priced, {done.pairs} pairs of them")


@click.command()
@click.argument("workbook", metavar="JOB.xlsx", type=click.Path(path_type=Path))
@click.argument("copy", metavar="COPY.xlsx", type=click.Path(path_type=Path))
@_new_workbook
@company_option
@replace_option
@quiet_option
@click.pass_context
def returned(
    ctx: click.Context, workbook: Path, copy: Path, out: Path | None, company: Path | None,
    replace: bool, quiet: bool,
) -> None:  # fmt: skip
    """Take the choices of a customer's copy that came back.

    They go into the job. COPY is held against what was sent: where a price or word differs,
    that is told and nothing is written. In a signed job an option is in no sum.

    \b
    Examples:
      pourtally returned smith.xlsx smith-proposal.xlsx -o smith-chosen.xlsx
      pourtally returned smith.xlsx smith-proposal.xlsx --replace
    """  # noqa: D301
    from .guard import UnusableError

    file = workbook
    try:
        from .build import build
        from .output import Care
        from .read import read_workbook
        from .returned import returned as take
        from .template import Templates

        target = _target(workbook, out, replace)
        templates = Templates()
        owner, wrong = owner_of(company, templates)
        filled = read_workbook(workbook, templates.saying(owner.words))
        file = copy
        found = take(filled, copy, owner)
    except UnusableError as error:
        complain([f"{file}: {error}"])
        sys.exit(PROBLEMS)
    lost, note = _lost(workbook, target, filled.added, owner)
    nothing_written(wrong + found.problems + lost)
    complain(found.notes + note)
    care = Care(replace, (workbook, copy))
    build(filled.template, owner.fill(found.entries), target, owner.face, care)
    if not (quiet or ctx.obj):
        click.echo(f"Wrote {target}: {found.said}")


@click.command()
@click.argument(
    "workbooks", nargs=-1, required=True, metavar="FILE.xlsx...", type=click.Path(path_type=Path)
)
@click.option(
    "-o",
    "--output",
    "out",
    metavar="RATES.csv",
    type=click.Path(path_type=Path),
    help="A file of the rates, for 'pourtally figures NEXT.xlsx --load RATES.csv'.",
)
@replace_option
@quiet_option
@click.pass_context
def learn(
    ctx: click.Context, workbooks: tuple[Path, ...], out: Path | None, replace: bool, quiet: bool
) -> None:
    """Tell what finished jobs teach: hours, coverage, waste.

    Rates are pooled by quantity over all files, each shown beside the one in use. The
    files are only read.

    \b
    Examples:
      pourtally learn smith.xlsx jones.xlsx
      pourtally learn finished/*.xlsx -o rates.csv
    """  # noqa: D301
    from .learn import csv_text, plain_text
    from .learn import learn as learn_from
    from .output import Care, free, with_suffix, write_text
    from .template import Templates

    if out:
        free([with_suffix(out, ".csv")], replace)
    school = learn_from(workbooks, Templates())
    if not (quiet or ctx.obj):
        click.echo(plain_text(school.learned) if school.learned else "Nothing was logged.")
    complain(school.notes)
    if out:
        nothing_written(school.problems)
        write_text(out, csv_text(school.learned), Care(replace, workbooks))
        if not (quiet or ctx.obj):
            click.echo(f"Wrote {out}")
    complain(school.problems)
    sys.exit(PROBLEMS if school.problems else 0)


@click.command()
@click.argument(
    "workbooks", nargs=-1, required=True, metavar="FILE.xlsx...", type=click.Path(path_type=Path)
)
@click.option(
    "-o",
    "--output",
    "out",
    metavar="FOLDER",
    required=True,
    type=click.Path(path_type=Path),
    help="The folder for the files.",
)
@replace_option
@quiet_option
@click.pass_context
def books(
    ctx: click.Context, workbooks: tuple[Path, ...], out: Path, replace: bool, quiet: bool
) -> None:
    """Write what was billed, paid and spent for the bookkeeper.

    Customers, bills, payments and receipts of all workbooks, a CSV file each, for any
    accounting program. A workbook with a problem or an open stop check is named and left
    out. The workbooks are only read.

    \b
    Examples:
      pourtally books smith.xlsx jones.xlsx -o books
      pourtally books 2026/*.xlsx -o books --replace
    """  # noqa: D301
    from .books import keep_books, text
    from .output import Care, UseError, free, write_text
    from .template import Templates

    if out.exists() and not out.is_dir():
        raise UseError(f"{out}: is a file; expected the name of a folder")
    templates = Templates()
    names = [ledger.file for ledger in templates["us", "usual"].book.ledgers]
    free([out / f"{name}.csv" for name in names], replace)
    found = keep_books(workbooks, templates)
    complain(found.notes)
    if not found.taken:
        nothing_written(found.problems)
    for name, table in found.tables.items():
        write_text(out / f"{name}.csv", text(table), Care(replace, workbooks))
        if not (quiet or ctx.obj):
            click.echo(f"Wrote {out / name}.csv: {len(table[1])} rows")
    complain(found.problems)
    sys.exit(PROBLEMS if found.problems else 0)
