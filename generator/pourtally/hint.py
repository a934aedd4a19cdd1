"""What somebody probably meant by a word that nobody knows."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

_MOST_NAMED = 30
_LONGEST = 60  # letters; a longer word is no slip of any name


def near(word: str, known: Iterable[str], otherwise: str = "known:") -> str:
    """Return the known word nearest to one that is not known, or else all that are."""
    names = list(known)
    if len(word) > _LONGEST:
        return "no such name"
    if found := get_close_matches(word, names, 1):
        return f"did you mean {found[0]!r}?"
    return f"{otherwise} {', '.join(names)}" if len(names) <= _MOST_NAMED else "no such name"


def short(word: str) -> str:
    """Return a word as a message shows it: its beginning, where it is a long one."""
    return word if len(word) <= _LONGEST else word[: _LONGEST - 3] + "..."
