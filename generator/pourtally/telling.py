"""What the commands share: their usual options, and how an error is told.

The rooms whose errors are known are imported where one came, so that ``--help`` answers
at once.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from .company import Company
    from .template import Templates

PROBLEMS = 1
BAD_USE = 2


class Commands(click.Group):
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
            complain([message])
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
    return 0, ""


def complain(problems: list[str]) -> None:
    """Print problems to the error stream, one a line."""
    for problem in problems:
        click.echo(problem, err=True)


def quiet_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the option ``--quiet``."""
    return click.option("-q", "--quiet", is_flag=True, help="Print problems only.")(command)


company_option = click.option(
    "--company",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="The company's own name, color and logo for its papers.",
)


def place_option(meaning: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Return what gives a command the option ``--place``; it says what the place is for."""
    return click.option("--place", metavar="PLACE", default="", help=meaning)


replace_option = click.option("--replace", is_flag=True, help="Write over files that exist.")


def owner_of(file: Path | None, templates: Templates) -> tuple[Company, list[str]]:
    """Return the company of a company file, nobody where none is given, and all its problems."""
    from .company import NOBODY

    if not file:
        return NOBODY, []
    from .companyfile import read_company

    return read_company(file, templates)


def nothing_written(problems: list[str]) -> None:
    """End the program where there are problems, and say that nothing came of it."""
    if problems:
        count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
        complain([*problems, f"{count} found; nothing was written"])
        sys.exit(PROBLEMS)
