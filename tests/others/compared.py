"""What was lost between two workbooks, thing by thing, and what of it was expected."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from .contents import Things, Value

EXPECTED = Path(__file__).with_name("expected.toml")


@dataclass(frozen=True)
class Loss:
    """One thing that did not come through: what it is, what it said, what it says now."""

    kind: str
    which: str
    was: Value
    now: Value | None

    def __str__(self) -> str:
        """Say it on one line; nothing stands where the thing is gone."""
        now = "gone" if self.now is None else repr(self.now)
        return f"{self.kind}: {self.which}: {self.was!r} -> {now}"


def losses(before: Things, after: Things) -> list[Loss]:
    """Return what is gone or says something else; what a program adds is no loss."""
    return [
        Loss(kind, which, was, after.get(kind, {}).get(which))
        for kind, had in before.items()
        for which, was in had.items()
        if not _alike(was, after.get(kind, {}).get(which))
    ]


def _alike(was: Value, now: Value | None) -> bool:
    if isinstance(was, float | int) and isinstance(now, float | int):
        return math.isclose(was, now, rel_tol=1e-9, abs_tol=1e-9)
    return was == now


@dataclass
class Reason:
    """Why a difference is expected of a program; ``met`` counts how often it was."""

    program: str
    kind: str
    says: re.Pattern[str]
    why: str
    met: int = field(default=0)

    def explains(self, program: str, loss: Loss) -> bool:
        """Tell whether this is the difference meant, and count it."""
        meant = (
            re.fullmatch(self.program, program) is not None
            and re.fullmatch(self.kind, loss.kind) is not None
            and self.says.search(str(loss)) is not None
        )
        self.met += meant
        return meant


def reasons(path: Path = EXPECTED) -> list[Reason]:
    """Return all reasons of the list."""
    told = tomllib.loads(path.read_text("utf-8"))["expected"]
    return [
        Reason(one["program"], one["kind"], re.compile(one.get("says", "")), one["why"])
        for one in told
    ]


def unexplained(program: str, found: Iterable[Loss], known: list[Reason]) -> list[Loss]:
    """Return the differences that no reason explains; the first that does is counted."""
    return [loss for loss in found if not any(r.explains(program, loss) for r in known)]


def stale(known: list[Reason], tried: Iterable[str]) -> list[Reason]:
    """Return the reasons that explained nothing, of the programs that were tried."""
    names = list(tried)
    return [
        r for r in known
        if not r.met and any(re.fullmatch(r.program, name) for name in names)
    ]  # fmt: skip
