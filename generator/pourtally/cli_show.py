"""The commands that show one filled-in workbook, to its maker or to the customer."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from .telling import (
    PROBLEMS,
    company_option,
    complain,
    nothing_written,
    owner_of,
    quiet_option,
    replace_option,
)


@click.command()
@click.argument("workbook", metavar="FILE.xlsx", type=click.Path(path_type=Path))
@click.argument("blocks", nargs=-1, metavar="[BLOCK]...")
@click.option("--all", "everything", is_flag=True, help="Print every entry and every result.")
@click.option("--json", "as_json", is_flag=True, help="Print all of it as one JSON object.")
@quiet_option
@click.pass_context
def values(
    ctx: click.Context, workbook: Path, blocks: tuple[str, ...], everything: bool,
    as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Print a filled-in workbook: a page that tells the job, or more.

    A BLOCK is a table or form by its key, or a whole sheet by its name: all of it is
    printed, and nothing else. --json prints everything, or the blocks named.

    Only what was typed is taken from the file; every result comes from a fresh copy of
    the template. Problems and notes go to the error stream, and into the JSON object. With
    --quiet the text is left out and they stay.

    \b
    Examples:
      pourtally values smith.xlsx
      pourtally values smith.xlsx pieces Order
      pourtally values smith.xlsx --json > smith.json
    """  # noqa: D301
    from .guard import UnusableError
    from .output import UseError
    from .summary import summary
    from .template import Templates
    from .values import chosen, json_text, plain_text, report

    if blocks and everything:
        raise UseError("name some blocks, or write --all for every one, not both")
    try:
        found = report(workbook, Templates())
    except UnusableError as error:
        complain([f"{workbook}: {error}"])
        sys.exit(PROBLEMS)
    shown = chosen(found, blocks) if blocks else found
    if as_json:
        click.echo(json_text(shown))
    elif not (quiet or ctx.obj):
        click.echo(plain_text(shown) if blocks or everything else summary(found))
    complain([f"{workbook}: {p}" for p in found.notes + found.problems])
    sys.exit(PROBLEMS if found.problems else 0)


@click.command()
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
@company_option
@replace_option
@quiet_option
@click.pass_context
def share(
    ctx: click.Context, workbook: Path, copy: Path | None, pdf: bool, company: Path | None,
    replace: bool, quiet: bool,
) -> None:  # fmt: skip
    """Write the customer's copy: prices and options, nothing else.

    The copy is a workbook of its own. It holds no cost, wage, margin, supplier or note of
    yours. A file with an open stop check is refused.

    \b
    Examples:
      pourtally share smith.xlsx
      pourtally share smith.xlsx --company ours.toml
      pourtally share smith.xlsx -o "Smith patio.xlsx" --pdf
    """  # noqa: D301
    from .guard import UnusableError
    from .output import UseError, free, with_suffix
    from .pdf import office, write_pdf
    from .share import RefusedError
    from .share import share as write_share
    from .template import Templates

    target = with_suffix(copy, ".xlsx") if copy else workbook.with_name(
        f"{workbook.stem}-proposal.xlsx")  # fmt: skip
    targets = [target, target.with_suffix(".pdf")] if pdf else [target]
    if target.resolve() == workbook.resolve():
        raise UseError(f"{target}: the copy would take the place of the workbook itself; "
                       "give it another name")  # fmt: skip
    free(targets, replace)
    if pdf:
        office()
    templates = Templates()
    owner, wrong = owner_of(company, templates)
    nothing_written(wrong)
    try:
        saying = templates.saying(owner.words)
        notes = write_share(workbook, target, saying, owner, replace)
    except UnusableError as error:
        complain([f"{workbook}: {error}"])
        sys.exit(PROBLEMS)
    except RefusedError as error:
        complain([*(f"{workbook}: {p}" for p in error.problems), "No copy was written"])
        sys.exit(PROBLEMS)
    complain([f"{workbook}: {n}" for n in notes])
    if pdf:
        write_pdf(target, targets[1], replace)
    if not (quiet or ctx.obj):
        for path in targets:
            click.echo(f"Wrote {path}")


@click.command()
@click.argument("job", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "out",
    metavar="PLAN.svg|pdf|dxf|png",
    required=True,
    type=click.Path(path_type=Path),
    help="The drawing to write; its ending says what kind.",
)
@replace_option
@quiet_option
@click.pass_context
def plan(ctx: click.Context, job: Path, out: Path, replace: bool, quiet: bool) -> None:
    """Draw the yard to scale: SVG, PDF, PNG on a page, DXF.

    FILE is a job file or a filled-in workbook. A DXF file is in feet, or in meters, with a
    layer for each finish; the others are a page with a scale that is on the ruler. A job with
    an open stop check is drawn, and the drawing says so.

    \b
    Examples:
      pourtally plan smith.xlsx -o smith.pdf
      pourtally plan smith.toml -o smith.dxf
    """  # noqa: D301
    from .guard import UnusableError
    from .output import Care, UseError, free, write_bytes
    from .template import Templates

    try:
        from .plan import made
        from .sketch import UnreadError, drawing_file, sketch
    except ModuleNotFoundError as error:
        raise UseError(
            f"drawing needs {error.name}, which is not installed: pip install '.[plan]'"
        ) from error
    free([drawing_file(out)], replace)
    try:
        found = sketch(job, Templates())
    except UnusableError as error:
        complain([f"{job}: {error}"])
        sys.exit(PROBLEMS)
    except UnreadError as error:
        nothing_written(error.problems)
        raise
    drawn = made(out.suffix, found.drawing, found.book.units, found.foot)
    write_bytes(out, drawn, Care(replace, (job,)))
    if not (quiet or ctx.obj):
        click.echo(f"Wrote {out}")
    complain([f"{job}: {p}" for p in found.notes + found.problems])
    sys.exit(PROBLEMS if found.problems else 0)
