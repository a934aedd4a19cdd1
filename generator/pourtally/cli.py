"""The command line: with its commands and ``telling`` the only rooms that print and exit.

The rooms that load a library are imported by the command that needs them, so that
``pourtally --help`` answers at once.
"""

from __future__ import annotations

import gc
import sys

import click

from .cli_carry import books, figures, learn, options, prices, returned
from .cli_make import build, demo, new
from .cli_show import plan, share, values
from .telling import Commands, quiet_option

_SELDOM = 100_000  # objects between two sweeps for garbage: a fifth faster than the usual 700


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="pourtally", message="pourtally %(version)s")
@quiet_option
@click.pass_context
def main(ctx: click.Context, quiet: bool) -> None:
    """Workbooks for decorative flatwork: from the tape measure to quantities and hours.

    \b
    pourtally demo                 a filled-in workbook to look at, in output/
    pourtally build                a blank workbook, ready to fill in
    pourtally values patio.xlsx    what a workbook comes to that someone filled in
    pourtally options patio.xlsx -o offer.xlsx
                                   what each option comes to, as a whole job
    pourtally share patio.xlsx     the customer's copy, with options to choose from
    pourtally returned patio.xlsx patio-proposal.xlsx -o chosen.xlsx
                                   what the customer chose in it, put into the job
    pourtally figures patio.xlsx   its prices, rates and terms to a CSV file, or others into it
    pourtally learn *.xlsx         the rates that finished jobs really took
    pourtally books *.xlsx -o b/   what was billed, paid and spent, for the bookkeeper

    Exit codes: 0 fine, 1 problems found in a file, 2 bad use, 130 stopped by Ctrl-C.
    """  # noqa: D301
    gc.set_threshold(_SELDOM)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console that lacks a sign shows ?
    ctx.obj = quiet


for _command in (
    demo, build, values, plan, options, share, returned, figures, prices, learn, books, new,
):  # fmt: skip
    main.add_command(_command)
