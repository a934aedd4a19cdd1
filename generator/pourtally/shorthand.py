"""Words of a list in place of the cells that hold them.

``{sign is Deduct}`` compares a choice with a word of its list; ``{placing.no of Pump}`` is the
cell of a column on the line of a word, fixed or brought by what is collected.  Both are known
when a book is loaded, so a word in no list is a slip, and a list may change its order.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from .declared import FieldSaid
from .hint import near
from .schema import Slips

_IS = re.compile(r"\{([a-z][\w.]*) is ([^{}]+)\}")
_AT = re.compile(r"\{@\w+\}")
_OF = re.compile(r"\{([a-z][\w.]*) of ([^{}]+)\}")


def plain(text: str) -> str:
    """Return a formula whose short-hand is any reference, to look at its grammar alone."""
    return _OF.sub("{a}", _IS.sub("{a}", _AT.sub("1", text)))


class Shorthand:
    """The fixed lists of all blocks, by which formulas name their words."""

    def __init__(
        self,
        fields: dict[str, tuple[FieldSaid, ...]],
        labels: Callable[[str], list[str]],
        slips: Slips,
    ) -> None:
        """Take the fields of every block, the words a block collects, and where to tell slips."""
        self._fields, self._labels, self._slips = fields, labels, slips

    def formula(self, where: str, text: str, block: str = "") -> str:
        """Return a formula with the cells of a list in place of its words."""
        text = _IS.sub(lambda m: self._is(where, block, m[1], m[2]), text)
        return _OF.sub(lambda m: self._of(where, m[1], m[2]), text)

    def _is(self, where: str, block: str, key: str, word: str) -> str:
        """Return the comparison of a choice with a word of its list."""
        home, _, name = key.rpartition(".")
        said = next((f for f in self._fields_of(home or block) if f.key == name), None)
        if said is None or not said.choices:
            self._slips.tell(where, f"{{{key} is {word}}}: {key} is no choice")
            return "0"
        listed = said.choices
        return f"{{{key}}}={self._of(where, listed, word)}"

    def _of(self, where: str, key: str, word: str) -> str:
        """Return the cell of a column on the line of a word, the first text of its block."""
        home, _, name = key.rpartition(".")
        declared = self._fields_of(home)
        listed = self._words(home) if declared else []
        if not listed or name not in {f.key for f in declared}:
            self._slips.tell(where, f"{{{key} of {word}}}: {key} is no column beside fixed "
                             f"words; {near(key, self._listed())}")  # fmt: skip
            return "0"
        if word not in listed:
            self._slips.tell(where, f"'{word}' is not in {home}; {near(word, listed)}")
            return "0"
        return f"{{{key}[{listed.index(word) + 1}]}}"

    def _words(self, block: str) -> list[str]:
        """Return the words that stand in a block: the first fixed ones, or those collected."""
        fixed = next((f.text for f in self._fields_of(block) if f.text is not None), None)
        if fixed is None:
            return self._labels(block)
        return [fixed] if isinstance(fixed, str) else list(fixed)

    def _listed(self) -> list[str]:
        """Return every column that stands beside fixed words."""
        return [
            f"{block}.{one.key}"
            for block, fields in self._fields.items()
            if any(f.text is not None for f in fields)
            for one in fields
        ]

    def _fields_of(self, block: str) -> tuple[FieldSaid, ...]:
        return self._fields.get(block, ())
