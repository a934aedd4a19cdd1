"""A company file to what is the company's own: its name and address, its color, its logo.

All keys may be left out::

    logo = "logo.png"     # beside the file
    color = "#8A4B2A"     # of the heads of papers
    [company]             # as in a job file; what the job says itself goes first
    name = "Tolliver Flatwork"
    [warranty]            # and so all that a company keeps on the same sheet: notes, notices ...
    says = "We mend faults of our work free for a year."
    [words]               # ours on the papers for the customer, and the company's in their place
    "forms taken off" = "forms stripped"
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import floor
from pathlib import Path
from typing import Any

from .accept import shown
from .company import NOBODY, Company
from .files import Table
from .hint import near
from .jobfile import job_entries, read_job
from .load import load_copy
from .logo import LogoError, read_logo
from .model import Book
from .style import ACCENT, PAPER, Face, Logo
from .template import Templates
from .wording import word_problems

_READABLE = 4.5  # to 1: contrast of text by WCAG 2.2, 1.4.3
_HEX = re.compile("#[0-9A-Fa-f]{6}")


def read_company(path: Path, templates: Templates) -> tuple[Company, list[str]]:
    """Return the company of a file and all its problems; it is nobody where there are any.

    The blocks it fills in are the same in each system of units and each size.
    """
    book = templates["us", "usual"].book
    form = book.parts[book.keys["company"]][0].key
    forms = _forms(book, form)
    said, problems = read_job(path, "a company file", "templates/company/demo.toml")
    known = ("logo", "color", "words", *forms)
    problems += [f"{path}: {told}" for told in _unknown(said, known)]
    words = said.get("words", {})
    books = (book, load_copy(book.units))
    problems += [f"{path}: words: {told}" for told in word_problems(words, books)]
    logo, wrong = _logo(said.get("logo"), path)
    problems += [f"{path}: logo: {told}" for told in wrong]
    color = said.get("color", ACCENT)
    problems += [f"{path}: color: {told}" for told in color_problems(color)]
    says = {key: said[key] for key in forms if key in said}
    problems += [f"{path}: {told}" for told in _of_one_job(book, says)]
    entries, wrong = job_entries(book, says, str(path))
    problems += wrong
    typed = {k: v for k, v in entries.items() if book.parts[k][0].key == form and v != [None]}
    return (NOBODY if problems else Company(says, typed, Face(color, logo), words=words)), problems


def _forms(book: Book, form: str) -> tuple[str, ...]:
    """Return the blocks that hold what is the company's on the sheet of a form, and that one."""
    sheet = next(block.sheet for block in book.blocks if block.key == form)
    kept = (b.key for b in book.blocks if b.sheet == sheet and b.carried and b.key != form)
    return form, *kept


def _of_one_job(book: Book, says: Table) -> Iterator[str]:
    """Yield the entries that no company has: those of one job, such as its number and date."""
    for key, said in says.items():
        for line in said if isinstance(said, list) else [said]:
            for name in line if isinstance(line, dict) else ():
                field = book.fields.get(f"{key}.{str(name).split('.')[0]}")
                if field and field.once:
                    yield f"{key}: {name}: is of one job; it belongs into the job file"


def _unknown(said: Table, known: tuple[str, ...]) -> list[str]:
    return [f"unknown key '{k}'; {near(k, known, 'known here:')}" for k in said if k not in known]


def _logo(said: Any, path: Path) -> tuple[Logo | None, list[str]]:
    if said is None:
        return None, []
    if not isinstance(said, str) or not said.strip() or "\0" in said:
        return None, [f"came {shown(said)}; expected the name of a PNG or JPEG file beside this "
                      'one, such as "logo.png"']  # fmt: skip
    try:
        return read_logo(path.parent / said), []
    except LogoError as error:
        return None, [f"{said}: {error}"]


def color_problems(color: Any) -> list[str]:
    """Return why a color cannot be that of words on white paper, and a darker shade of it."""
    if not isinstance(color, str) or not _HEX.fullmatch(color):
        return [
            f'came {shown(color)}; expected six digits of 0 to 9 and A to F, such as "{ACCENT}"'
        ]
    if (has := contrast(color, PAPER)) >= _READABLE:
        return []
    return [f"came {shown(color)}, which has a contrast of {floor(has * 100) / 100:.2f} to 1 on "
            f'white; at least {_READABLE} is expected, or words in it are hard to read: "'
            f'{_darker(color)}" is the same, dark enough']  # fmt: skip


def contrast(one: str, other: str) -> float:
    """Return the contrast of two colors to 1, from 1 to 21, by WCAG 2.2."""
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _luminance(color: str) -> float:
    shares = [step / 255 for step in bytes.fromhex(color[1:])]
    red, green, blue = (
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _darker(color: str) -> str:
    """Return the lightest shade of a color, by hundredths of its own, that words can have."""
    steps = bytes.fromhex(color[1:])
    shades = (
        "#" + bytes(s * part // 100 for s in steps).hex().upper() for part in range(99, 0, -1)
    )
    return next(shade for shade in shades if contrast(shade, PAPER) >= _READABLE)
