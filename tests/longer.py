"""The slower proofs: ``python tests/longer.py``, or with how many times the suite's cases.

The suite takes a fixed few of the random jobs, days, contracts and stories, and lets every
engine look at a workbook of each kind; here they are ten times as many, and the engines look
at every workbook.  Says of each proof how many cases held.  A program to run, not a test.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from pathlib import Path

import pytest

from sample import TIMES_NAME

USUAL = "10"


class Shown:
    """What each proof showed, by the sentence that its name is."""

    def __init__(self) -> None:
        """Begin with nothing shown."""
        self.held: Counter[str] = Counter()
        self.failed: Counter[str] = Counter()
        self.seconds: Counter[str] = Counter()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Take in how one case went."""
        file, _, name = report.nodeid.partition("::")
        words = name.partition("[")[0].removeprefix("test_").replace("_", " ")
        proof = f"{Path(file).stem.removeprefix('test_')}: {words}"
        if report.when == "call" or report.failed:
            (self.held if report.passed else self.failed)[proof] += 1
            self.seconds[proof] += round(report.duration)

    def told(self) -> str:
        """Return a line for each proof: seconds, cases that held and that did not."""
        proofs = sorted(self.held | self.failed)
        return "\n".join(
            f"{self.seconds[p]:5} s  {self.held[p]:4} held  {self.failed[p]:2} failed  {p}"
            for p in proofs
        )


def sampled() -> list[str]:
    """Return the files of tests whose number of cases is a sample."""
    texts = {f: f.read_text(encoding="utf-8") for f in Path(__file__).parent.glob("test_*.py")}
    return sorted(str(f) for f, text in texts.items() if "some(" in text or "LOOKED_AT" in text)


def main() -> int:
    """Run the sampled proofs with more cases and print what they showed."""
    os.environ[TIMES_NAME] = times = (sys.argv[1:] or [USUAL])[0]
    shown = Shown()
    code = pytest.main(["-q", *sampled()], plugins=[shown])
    print(f"\n{times} times as many random cases as the suite takes; a case may be many jobs:")
    print(shown.told())
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
