"""The workbooks that several tests look at, each built once for the whole run."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from filled import days, filled, halves, spoiled
from pourtally.files import templates_folder
from pourtally.model import SIZES, Entries, Size, Units
from shop import build, read_jobs

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
    f"{name}-{size}": (size, name)
    for size in SIZES
    for name in ("filled-us", *JOBS)
    if size != "usual"
}
EVERY = [*MADE, *JOBS, "filled-us-small"]
HARNESS = ["blank-us", "demo", "days-us"]
"""The workbooks that the slow harness looks at: all of one lay-out. Loading it takes a minute."""


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
            units, entries = _content(usual, size)
            build(units, entries, path, size)
        return path

    return hand_out


def _content(name: str, size: Size) -> tuple[Units, Entries]:
    if size != "usual" and name == "filled-us":
        return "us", filled("us", size)
    if name in MADE:
        units, entries = MADE[name]
        return units, entries(units)
    (job,), problems = read_jobs([JOBS[name]], None, size)
    assert problems == []
    return job.template.units, job.entries


@pytest.fixture(scope="session", params=EVERY)
def workbook(request: pytest.FixtureRequest, shelf: Callable[[str], Path]) -> Path:
    """Return each workbook of the shelf in turn."""
    return shelf(request.param)
