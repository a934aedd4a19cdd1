"""How many random cases a proof takes: a fixed few in the suite, more in ``tests/longer.py``."""

from __future__ import annotations

import os

TIMES_NAME = "POURTALLY_TIMES"
TIMES = int(os.environ.get(TIMES_NAME, "1"))


def some(few: int) -> int:
    """Return how many cases a proof takes that takes so many in the suite."""
    return few * TIMES
