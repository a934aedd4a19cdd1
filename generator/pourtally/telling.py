"""What the commands share: their usual options, and how an error is told.

The rooms whose errors are known are imported where one came, so that ``--help`` answers
at once.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from .company import Company
    from .template import Templates

PROBLEMS = 1
BAD_USE = 2
STOPPED = 130  # what shells give a program that Ctrl-C ended
CLOSED = 141  # and one whose reader has left
_MOST = 20  # problems of one file that are told
_LONGEST = 2_000  # letters of one
_FULL = (errno.ENOSPC, errno.EFBIG, errno.EIO)  # files that are written have a name
_FILE = re.compile(r"(.*?)(: |, line )")


class Commands(click.Group):
    """A group that turns a known error into one message instead of a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command asked for."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:  # head -1 has seen enough
            _say_no_more()
            raise click.exceptions.Exit(CLOSED) from None
        except KeyboardInterrupt:
            complain(["Stopped by Ctrl-C: files named above are whole, and no other was written"])
            raise click.exceptions.Exit(STOPPED) from None
        except Exception as error:
            code, message = _message(error)
            if not message:
                raise
            _say_no_more()
            complain([message])
            raise click.exceptions.Exit(code) from error


def _message(error: Exception) -> tuple[int, str]:
    from .model import TemplateError
    from .output import UseError

    if isinstance(error, UseError):
        return BAD_USE, str(error)
    if isinstance(error, OSError):
        printed = "what was to be printed: " if error.errno in _FULL else ""
        where = f"{error.filename}: " if error.filename else printed
        return BAD_USE, f"{where}{error.strerror or error}"
    if isinstance(error, TemplateError):
        return PROBLEMS, f"templates: {error}"
    return 0, ""


def _say_no_more() -> None:
    """Let nothing more be written to what nobody reads, nor said about it at the end."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            with contextlib.suppress(OSError, ValueError):
                os.dup2(nowhere, stream.fileno())


def complain(problems: list[str]) -> None:
    """Print problems to the error stream, one a line: of each file the first, and a count."""
    for problem in _few(problems):
        click.echo(problem, err=True)


def _few(problems: list[str]) -> Iterator[str]:
    """Yield what is told: the first problems of each file, and after its last how many more."""
    files = [found[1] if (found := _FILE.match(problem)) else "" for problem in problems]
    counts, told = Counter(files), Counter[str]()
    for file, problem in zip(files, problems, strict=True):
        told[file] += 1
        if told[file] <= _MOST:
            yield problem if len(problem) <= _LONGEST else problem[: _LONGEST - 3] + "..."
        elif told[file] == counts[file]:
            yield f"{file}{': ' if file else ''}and {counts[file] - _MOST:,} more like these"


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
