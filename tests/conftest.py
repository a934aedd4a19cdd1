"""What all tests share: workbooks, each built once for the whole run, and templates."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import programs
from filled import days, filled, halves, spoiled
from pourtally import template
from pourtally.files import templates_folder
from pourtally.load import load_book
from pourtally.model import SIZES, Entries, Size, Units
from pourtally.template import Templates
from sample import TIMES
from shop import TEMPLATES, build, read_jobs

JOBS = {p.stem: p for p in sorted((templates_folder() / "jobs").glob("*.toml"))}
MADE: dict[str, tuple[Units, Callable[[Units], Entries]]] = {
    "blank-us": ("us", lambda _: {}),
    "blank-si": ("si", lambda _: {}),
    "filled-us": ("us", filled),
    "filled-si": ("si", filled),
    "days-us": ("us", days),
    "days-si": ("si", days),
    "halves-us": ("us", halves),
    "spoiled-us": ("us", spoiled),
    "spoiled-si": ("si", spoiled),
}
SIZED: dict[str, tuple[Size, str]] = {
    f"{name}-{size}": (size, name) for size in SIZES for name in (*MADE, *JOBS) if size != "usual"
}
EVERY = [*MADE, *JOBS, "filled-us-small"]
SAMPLE = ["blank-us-small", "filled-si-small", "days-us-small", "halves-us-small",
          "spoiled-si-small", "demo", "finished-small"]  # fmt: skip
"""A workbook of each kind, some in each system; ``tests/longer.py`` looks at every one."""
LOOKED_AT = EVERY if TIMES > 1 else SAMPLE
HARNESS = ["demo-small", "days-us-small", *(["blank-us-small"] if TIMES > 1 else [])]
"""The workbooks that the slow harness looks at: all of one lay-out, which is long in loading."""


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Callable[[str], Path]:
    """Return what hands out a built workbook by name, building it when first asked for.

    Workers share one folder: a workbook comes into being by a rename, so two workers
    that build the same one at the same time do no harm.
    """
    folder = tmp_path_factory.getbasetemp()
    folder = (folder if worker_id == "master" else folder.parent) / "shelf"
    folder.mkdir(exist_ok=True)

    def hand_out(name: str) -> Path:
        path = folder / f"{name}.xlsx"
        if not path.exists():
            size, usual = SIZED.get(name, ("usual", name))
            units, entries = content(usual, size)
            build(units, entries, path, size)
        return path

    return hand_out


def content(name: str, size: Size) -> tuple[Units, Entries]:
    """Return the units and the entries of a workbook on the shelf."""
    if name in MADE and MADE[name][1] is filled:
        units = MADE[name][0]
        return units, filled(units, size)
    if name in MADE:
        units, entries = MADE[name]
        return units, entries(units)
    (job,), problems = read_jobs([JOBS[name]], None, size)
    assert problems == []
    return job.template.units, job.entries


@pytest.fixture(scope="session", params=LOOKED_AT)
def workbook(request: pytest.FixtureRequest, shelf: Callable[[str], Path]) -> Path:
    """Return each workbook that engines look at in turn."""
    return shelf(request.param)


@pytest.fixture(autouse=True)
def warm(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a command that runs in this process use the templates that its worker has loaded.

    A test that puts another template in the way gets what it asks for, and so does a command
    in a process of its own.
    """

    def templates() -> Templates:
        return TEMPLATES if vars(template)["load_book"] is load_book else Templates()

    monkeypatch.setattr(template, "Templates", templates)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say at the end how many tests were left out, and what to install to run them."""
    reasons = [
        report.longrepr[2].removeprefix("Skipped: ")
        for report in terminalreporter.stats.get("skipped", [])
        if isinstance(report.longrepr, (tuple, list))
    ]
    for told in sorted(set(programs.MISSING.values())):
        if count := reasons.count(told):
            terminalreporter.write_line(f"Tests left out: {count}. {told}")
