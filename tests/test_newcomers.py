"""A newcomer's item is one file: each of those under ``newcomers`` joins the whole template.

Nothing else knows of them, and everything that lists things has them: supplies, prices, the
estimate, the drivers of labor, the scope, mats, narrow strips, both mixes of a placement.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from pourtally import files
from pourtally.jobfile import job_entries
from pourtally.load import make_book
from pourtally.model import Entries, Units
from pourtally.percent import told
from pourtally.template import Template
from shop import tables

NEWCOMERS = sorted((Path(__file__).parent / "newcomers").glob("*.toml"))
EXAMPLES = [(p.name, e) for p in NEWCOMERS for e in files.read(p).get("example", [])]


@cache
def joined(units: Units) -> Template:
    """Return the whole template with every newcomer in its place among the files."""
    sheets, measures, items = tables()
    items |= {p.name: files.read(p, upto="\n[[example]]") for p in NEWCOMERS}
    items = dict(sorted(items.items()))
    return Template(make_book(units, sheets, measures, items))


def worked(units: Units, job: dict[str, Any]) -> Entries:
    """Return all figures of a job, percentages as people say them."""
    template = joined(units)
    entries, problems = job_entries(template.book, job, "job")
    assert problems == []
    return {
        key: [told(template.book.parts[key][2], value) for value in column]
        for key, column in template.results(entries).items()
    }


@pytest.mark.parametrize(
    ("file", "example"), EXAMPLES, ids=[f"{f}: {e['say']}" for f, e in EXAMPLES]
)
def test_the_examples_of_a_newcomer_come_out(file: str, example: dict[str, Any]) -> None:
    got = worked(example.get("units", "us"), example["job"])
    for key, value in example["expect"].items():
        expected = value if isinstance(value, list) else [value]
        assert got[key][: len(expected)] == pytest.approx(expected, abs=0.51e-3), f"{file}: {key}"


JOB = {
    "pieces": [{"shape": "Rectangle", "a": 35, "b": 20}],
    "curbs": [{"length": 30, "wide": 0.5, "high": 12}],
    "grit": [{"use": "Yes"}],
    "prices": [{"line": "grit", "price": 24.5}],
    "labor": [{"line": 44, "task": "Throw grit", "driver": "Area with grit", "rate": 0.01}],
}


@pytest.mark.parametrize("units", ["us", "si"])
def test_a_new_supply_gets_a_price_a_line_of_cost_and_a_place_on_the_list(units: Units) -> None:
    got = worked(units, JOB)
    at = got["prices.code"].index("grit")
    bags = got["grit_order.bags"][0]
    assert isinstance(bags, float) and bags > 0
    assert (got["prices.name"][at], got["prices.price"][at]) == ("Grit", 24.5)
    line = got["estimate.what"].index("Grit")
    assert got["estimate.amount"][line] == pytest.approx(24.5 * bags)
    assert "Grit" in got["list.what"]


def test_a_new_driver_drives_labor() -> None:
    got = worked("us", JOB)
    area = 35 * 20 + 30 * 0.5
    assert got["labor.quantity"][43] == pytest.approx(area)
    assert got["labor.hours"][43] == pytest.approx(area * 0.01)


def test_a_new_kind_of_slab_is_in_every_total_and_in_words() -> None:
    plain, got = worked("us", {k: v for k, v in JOB.items() if k != "curbs"}), worked("us", JOB)
    for key, more in {
        "total.area": 15, "total.volume": 15 / 27, "total.form": 60, "narrow.area": 15,
        "placements.neat": 15 / 27, "placements.ground": 15,
    }.items():  # fmt: skip
        assert got[key][0] - plain[key][0] == pytest.approx(more), key  # type: ignore[operator]
    said = [s for s in got["proposal_scope.says"] if s]
    assert "Broomed: about 715 ft², in slabs, in curbs." in said
    assert "Curbs: 30 ft." in said and "Grit in the sealer against slipping." in said
    assert "Curbs" in got["slab_groups.name"]


def test_a_new_kind_of_slab_is_held_to_the_mix_of_its_placement() -> None:
    curbs = [{"length": 30, "wide": 0.5, "high": 12, "mix": "Colored", "placement": "Pour 1"}]
    got = worked("us", {**JOB, "curbs": curbs})
    at = joined("us").book.parts["checks.state"][0].codes.index("two_mixes")
    assert (got["checks.state"][at], got["checks.first"][at]) == (2.0, "Curbs 1")


def test_a_newcomer_is_one_file_that_nothing_else_names() -> None:
    for path in NEWCOMERS:
        with path.open("rb") as file:
            keys = {block["key"] for block in tomllib.load(file)["block"]}
        everything = "".join(p.read_text("utf-8") for p in files.items(files.templates_folder()))
        assert [key for key in keys if f"{{{key}." in everything] == []
