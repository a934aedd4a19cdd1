"""The proposal: nothing of the inside on it, sums that add up, two pages with nothing cut off."""

from __future__ import annotations

import random
import re
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

import programs
from pourtally.files import templates_folder
from pourtally.formula import find
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Units
from reference.workbook import asking
from sample import some
from shop import LOOK, build, laid_out, read_jobs, results

answers = asking("proposal_state", "proposal_price", "proposal_prices",
                 "proposal_base", "sale.total", "price.price")  # fmt: skip
needed_of = asking("prices.needed")
UNITS = pytest.mark.parametrize("units", ["us", "si"])
OFFERED = {
    "payment.price", "payment.tax", "payment.base", "payment.kept", "price.price",
    "price.priced", "finish_price.price", "options.name", "options.offer",
    "options.printed", "pairs.printed", "pairs.says", "options.told", "price.tax_rate",
    "payment.before", "markups.tax_name",
    "draws.name", "draws.when", "draws.due", "options.offered_rank",
    "draws.payable_rank",
}  # fmt: skip
"""What the customer may know of the money, and which lines of it he is shown."""
JUDGED = {"headline.held", "calendar.says", "slab_groups.finish", "slab_groups.mix",
          "slab_groups.placement", "slab_groups.thicker", "slab_groups.stays", "steel.bar_shown",
          "steel.every", "products.layers", "mixes.fibered"}  # fmt: skip
"""Figures that follow from everything: whether a stop is open, days on site, what an option on
trial changes of the job."""
INSIDE = re.compile(r"cost|wage|burden|margin|markup|profit|overhead|supplier|hour|productive")
OFFICE = {"Prices", "Estimate", "Labor", "Actuals", "Outcome"}
MONEY = {"payment", "draws", "schedule", "changes", "billing", "bill", "contract"}


@UNITS
def test_the_paper_refers_to_nothing_of_the_inside(units: Units) -> None:
    book, _ = laid_out(units)
    paper = [k for k, (block, _, _) in book.parts.items() if block.sheet == "Proposal"]
    assert len(paper) > 30
    reached, left = set(paper), list(paper)
    while left:
        block, _, part = book.parts[key := left.pop()]
        found = {r.part for text in part.formulas for r in find(book, block, text, key)}
        fresh = (found & book.parts.keys()) - reached
        reached |= fresh
        left += fresh - OFFERED - JUDGED
    assert reached >= OFFERED
    own = reached - OFFERED - JUDGED
    assert {key for key in own if INSIDE.search(key)} == set()
    assert {k for k in own if book.parts[k][0].sheet in OFFICE or k.split(".")[0] in MONEY} == set()
    money = {key.split(".")[0] for key in own if "dollar" in book.parts[key][2].pint}
    assert {b for b in money if not b.startswith("proposal_")} == {"price_lines", "finish_lines"}


@UNITS
def test_no_word_on_the_paper_is_of_the_inside(units: Units) -> None:
    book, _ = laid_out(units)
    for block, field, part in book.parts.values():
        if block.sheet == "Proposal" and not part.working:
            for words in (block.title, field.label, *part.formulas):
                assert not INSIDE.search(re.sub(r"\{[^}]*\}", "", words).casefold()), part.key


# Sums ----------------------------------------------------------------------------------


def cents(amount: float) -> Decimal:
    """Return an amount of money that is whole cents already."""
    exact = Decimal(repr(round(amount, 6)))
    assert exact == exact.quantize(Decimal("0.01")), f"{amount} is no whole number of cents"
    return exact


def nothing_missing(job: dict[str, Any]) -> dict[str, Any]:
    """Return the job with a price of 0 for every supply that it needs, but for concrete."""
    codes = laid_out("us")[0].parts["prices.price"][0].codes
    prices: list[dict[str, float]] = [{} for _ in codes]
    prices[codes.index("concrete_1")] = {"price": job["concrete"]}
    job = {**{k: v for k, v in job.items() if k != "concrete"}, "prices": prices}
    job["equipment"] = [{"hourly": 0}] * 4
    for line, needed in enumerate(needed_of("us", job)["prices.needed"]):
        if needed:
            prices[line] = {"price": 0} | prices[line]
    return job


def some_job(dice: random.Random) -> dict[str, Any]:
    finishes = dice.sample(["Broomed", "Stamped", "Troweled", "Floated"], dice.randint(1, 4))
    return {
        "pieces": [
            {"shape": "Rectangle", "a.ft": dice.randint(4, 30), "b.ft": dice.randint(4, 20),
             "finish": finish}
            for finish in finishes
        ],
        "concrete": dice.randint(9000, 22000) / 100,
        "mixes": [{"placed": "Chute"}, {"placed": "Chute"}], "delivery": {"short_flat": 0},
        "classes": [{"wage": dice.randint(1500, 4500) / 100, "people": 1, "insurance": 7}]
        + [{"people": 0}] * 2,
        "markups": {
            "profit": dice.randint(0, 3000) / 100, "step": dice.choice([0.01, 1, 25]),
            "tax": dice.randint(100, 900) / 100,
            "tax_on": dice.choice(["Nothing", "Material cost", "Material price", "The total"]),
            "tax_by": dice.choice(["On the sum", "At each line"]),
        },
        "terms": {
            "prices_shown": dice.choice(["Lump sum", "By finish", "By finish with unit prices"])
        },
    }  # fmt: skip


@pytest.mark.parametrize("seed", range(some(5)))
def test_the_price_is_the_sum_of_its_printed_lines(seed: int) -> None:
    dice = random.Random(seed)
    job = nothing_missing(some_job(dice))
    got = answers("us", job)
    assert got["proposal_state.ready"] == [1]
    total = cents(got["proposal_price.total"][0])
    lines = [cents(amount) for amount in got["proposal_prices.amount"]]
    assert total == sum(lines) == cents(got["sale.total"][0]) > 0
    named = [said.split(", ")[0] for said in got["proposal_prices.says"] if said]
    assert len(named) == sum(line != 0 for line in lines)
    if job["terms"]["prices_shown"] == "Lump sum":
        assert named[0] == "The work described above"
    else:
        rest = {"Sales tax", "All else and rounding"}  # what unit prices in cents leave
        assert set(named) - rest == {piece["finish"] for piece in job["pieces"]}
    base = [cents(amount) for amount in got["proposal_base.amount"]]
    assert sum(base) == cents(got["price.price"][0])


# Print ---------------------------------------------------------------------------------

SIZES = {"us": (612, 792), "si": (595, 842)}
"""Letter and A4 in points, to whole ones."""
TERMS = {
    "company": {"name": "Tolliver Flatwork", "street": "212 Mill Street", "license": "000000"},
    "customer": {"name": "Ostrander residence"},
    "terms": {"number": "P-14", "prices_shown": "By finish"},
    "notices": [{"says": f"Notice {n}: " + "by law each word of it has to stand here " * 3}
                for n in range(1, 7)],
}  # fmt: skip
"""With as many clauses as the paper takes, each about as long as it takes."""


def entries_of(units: Units) -> Entries:
    """Return the demo, or a metric slab, with all that the paper may hold."""
    book, _ = laid_out(units)
    if units == "us":
        (job,), problems = read_jobs([templates_folder() / "jobs" / "demo.toml"], None)
        assert problems == []
        more, problems = job_entries(book, TERMS, "test")
        assert problems == []
        return {**more, **job.entries} | {k: more[k] for k in more if k.split(".")[0] in TERMS}
    slab = {"shape": "Rectangle", "a": 6, "b": 4}
    entries, problems = job_entries(book, {**TERMS, "pieces": [slab]}, "test")
    assert problems == []
    return entries


@lru_cache(maxsize=2)
def worked(units: Units) -> dict[str, list[Any]]:
    return results(units, entries_of(units))


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[Units, Path]:
    folder = tmp_path_factory.mktemp("printed")
    files: dict[Units, Path] = {"us": folder / "us.xlsx", "si": folder / "si.xlsx"}
    for units, path in files.items():
        build(units, entries_of(units), path)
    pages = programs.printed(files.values(), folder, "Proposal")
    return {units: pages[path] for units, path in files.items()}


def words_of(printed: Path, how: str) -> str:
    return programs.asked("pdftotext", how, printed, "-")


@UNITS
def test_the_proposal_prints_on_two_pages(units: Units, printed: dict[Units, Path]) -> None:
    *pages, rest = words_of(printed[units], "-layout").split("\f")
    assert (len(pages), rest) == (2, "")
    assert "###" not in "".join(pages)
    for page in (1, 2):
        info = programs.asked("pdfinfo", "-f", str(page), "-l", str(page), printed[units])
        size = re.search(r"size: +([\d.]+) x ([\d.]+)", info)
        assert size
        assert tuple(sorted(round(float(n)) for n in size.groups())) == SIZES[units]


@UNITS
def test_every_word_of_it_is_printed(units: Units, printed: dict[Units, Path]) -> None:
    got = worked(units)
    looks = zip(got["checks.say"], got["checks.state"], strict=True)
    assert [say for say, now in looks if now == LOOK and "longer than its place" in say] == []
    text = " ".join(words_of(printed[units], "-raw").split())
    book, _ = laid_out(units)
    keys = [k for k, (block, _, part) in book.parts.items() if block.sheet == "Proposal"
            and not part.working and part.kind == "formula"]  # fmt: skip
    said = [
        " ".join(str(words).replace("☐", "").split())
        for key in keys
        for words in got[key]
        if isinstance(words, str) and words.strip()
    ]
    assert len(said) > 40
    assert [words for words in said if words not in text] == []


def test_the_printed_lines_add_up_to_the_printed_price(printed: dict[Units, Path]) -> None:
    text = words_of(printed["us"], "-layout")
    offer, terms = re.split(r"(?m)^Payments$", text)
    total, *lines = amounts(offer)
    assert total == sum(lines) > 0
    if any(worked("us")["draws.due"]):
        assert total == sum(amounts(terms))


def amounts(text: str) -> list[Decimal]:
    """Return the amounts of money in a column of their own, those that may be added left out."""
    found = re.findall(r"\s{2}(-?)\$([\d,]+\.\d\d)", text)
    return [Decimal(sign + figure.replace(",", "")) for sign, figure in found]


def test_a_job_without_a_price_says_so_and_shows_no_amount(printed: dict[Units, Path]) -> None:
    assert worked("si")["price.priced"] == [0]
    text = words_of(printed["si"], "-layout")
    assert "Not priced yet" in text
    assert "$" not in text


@UNITS
def test_a_blank_workbook_offers_nothing(units: Units) -> None:
    blank = results(units, {})
    assert blank["proposal_price.says"] == ["Nothing measured yet"]
    for key in ("price.total", "prices.amount", "payments.amount", "offers.price"):
        assert {*blank[f"proposal_{key}"]} == {0.0}
    assert {*blank["proposal_scope.says"]} == {""}
