"""What earlier runs found of a change, as long as nothing that this rests on has changed.

A change is known by its part and the part's formulas before and after it, so whoever edits a
formula tries it again.  That an example noticed it stands as long as that example stands as it
is; that nothing did, until any example or comparison is added or changed.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path

from conftest import MADE
from noticed import Change, Example
from pourtally.files import templates_folder
from pourtally.load import load_examples
from pourtally.model import Part

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Found:
    """Noticed, alive or equal; by what; and the digest of what that rests on."""

    verdict: str
    by: str
    rests_on: str


def digest(*said: object) -> str:
    """Return a short name for anything that is said."""
    return sha256(repr(said).encode()).hexdigest()[:16]


def digest_of(*paths: Path) -> str:
    """Return a short name for what some files say."""
    return digest(*(path.read_bytes() for path in sorted(paths)))


@cache
def of_suite() -> str:
    """Return the name of all tests and of the model that they compare with."""
    return digest_of(*HERE.glob("test_*.py"), *(HERE / "reference").glob("*.py"))


class Verdicts:
    """What was found, in a file."""

    def __init__(self, path: Path, many_jobs: int, examples: frozenset[str] | None = None) -> None:
        """Read what earlier runs found; ``examples`` are the digests of those there are now."""
        self._path = path
        text = path.read_text(encoding="utf-8") if path.exists() else "{}"
        self._held: dict[str, list[str]] = json.loads(text)
        made = [HERE / "filled.py", *(HERE / "reference").glob("*.py"),
                *(templates_folder() / "jobs").glob("*.toml")]  # fmt: skip
        self._jobs = digest(digest_of(*made), sorted(MADE), many_jobs)
        self._examples = examples if examples is not None else examples_now()

    def of(self, before: Part, change: Change, *, suite: bool) -> Found | None:
        """Return what was found of a change, unless something that it rests on has changed."""
        held = self._held.get(named(before, change))
        if not held:
            return None
        found = Found(*held)
        if found.verdict == "alive":
            good = found.rests_on == self.alive(suite=suite).rests_on
        elif found.verdict == "equal":
            good = found.rests_on == self.equal().rests_on
        elif found.by.startswith("example"):
            good = found.rests_on in self._examples
        else:
            good = suite and found.rests_on == self.by_test(found.by).rests_on
        return found if good else None

    def put(self, before: Part, change: Change, found: Found) -> None:
        """Keep what was found of a change."""
        self._held[named(before, change)] = [found.verdict, found.by, found.rests_on]

    def save(self) -> None:
        """Write what was found."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        self._path.write_text(json.dumps(self._held, indent=0), encoding="utf-8")

    def by_example(self, example: Example) -> Found:
        """Return that an example noticed it."""
        said = f"example of {example.file}: {example.said.say}"
        return Found("noticed", said, digest(example.file, example.said))

    def by_test(self, test: str) -> Found:
        """Return that a test noticed it."""
        file = HERE / Path(test.partition("::")[0]).name
        reads = [file, *(HERE / "reference").glob("*.py")]
        return Found("noticed", test, digest_of(*(p for p in reads if p.exists())))

    def equal(self) -> Found:
        """Return that no figure of any job changed."""
        return Found("equal", "", self._jobs)

    def alive(self, *, suite: bool) -> Found:
        """Return that nothing noticed it."""
        return Found("alive", "", digest(sorted(self._examples), of_suite() if suite else ""))


def named(before: Part, change: Change) -> str:
    """Return what a change is known by: its formulas before and after it."""
    return digest(change.part.key, change.kind, change.what, before.formulas, before.values,
                  change.part.formulas, change.part.values)  # fmt: skip


def examples_now() -> frozenset[str]:
    """Return the digests of all examples there are."""
    return frozenset(digest(file, said) for file, said in load_examples())
