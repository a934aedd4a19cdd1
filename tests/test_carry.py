"""What is the company's goes from job to job whole, and nothing of one job goes with it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import shop
from pourtally import csvfile
from pourtally.build import read_file
from pourtally.company import Company
from pourtally.jobfile import job_entries
from pourtally.model import Book, Entries, Part, Scalar, Units
from pourtally.percent import kept, told
from pourtally.priceline import Loaded
from pourtally.priceload import fill
from pourtally.pricetable import tables
from shop import TEMPLATES, laid_out, results, saved

JOBS = Path(shop.__file__).parents[1] / "templates" / "jobs"

OF_ONE_JOB = {
    "taped in this yard": (
        "pieces", "outlines", "corners", "thick", "steps", "meeting", "drains", "bands", "curves",
        "walks", "legs", "old", "yard", "strings_x", "strings_y", "bench", "points", "depths",
        "getting",
    ),
    "looked at while typing": ("shown_slab", "shown_walk"),
    "chosen for this job": ("usual_bands", "forming", "dig", "sealed", "steel", "options", "pairs",
                            "trial", "card_price", "quantities_shown"),
    "a figure in place of one worked out": (
        "color", "shake", "product_order", "mats", "old_out", "forms", "base", "steel_more",
        "fiber", "joints", "sheeting", "pours", "grout", "calendar",
    ),
    "whose yard it is, and who works there": ("job", "customer", "roles"),
    "the day and its weather": (
        "placements", "trucks", "weather", "hourly_day", "hourly", "hands", "visits",
        "own_visits", "days_off", "week",
    ),
    "what was agreed and what happened": (
        "promises", "signed", "tax_rates", "changes", "billing", "ticket", "window_log",
        "hour_log", "receipts", "measured", "used_up",
    ),
}  # fmt: skip
"""Why the blocks of a job are not carried."""

OF_ONE_JOB_IN = {
    "usual": ("thickness", "finish", "mix", "slope"),  # the design of this yard
    "papers": ("placement", "rectangle"),  # what is looked at
    "depth": ("mean", "spread", "checks"),  # measured over this base
    "labor": ("difficulty",),  # how hard this yard is
    "workdays": ("rain",),  # the season
    "equipment": ("typed", "days"),
    "subs": ("lump",),  # what the other firm asks for this yard
    "orders": ("color",),  # what this customer chose
    "charges": ("short", "waiting", "other"),  # as billed
    "terms": ("number", "date", "start", "own_days", "permits"),
    "finishes": ("shake_color", "pattern", "release"),  # what this customer chose
    "payment": ("signed", "agreed", "special"),
    "draws": ("amount", "signed"),
    "bill": ("shown",),
}
"""Entries of one job among those of the company."""


def carried(book: Book) -> set[str]:
    return {part.key for table in tables(book).values() for _, part in table.entries.values()}


@pytest.mark.parametrize("units", ["us", "si"])
def test_every_entry_is_the_companys_or_of_one_job_for_a_reason(units: Units) -> None:
    book = laid_out(units)[0]
    jobs = [block for blocks in OF_ONE_JOB.values() for block in blocks]
    assert len(jobs) == len(set(jobs))
    goes, stays = carried(book), set()
    for key, (block, item, part) in book.entries().items():
        named = item.key.split(".", 1)[1] in OF_ONE_JOB_IN.get(block.key, ())
        if block.key in jobs or named or part.role == "yours":
            stays.add(key)
        assert (key in goes) is not (key in stays), key
    blocks = {key.split(".")[0] for key in stays}
    assert {*jobs, *OF_ONE_JOB_IN} <= blocks  # nothing is listed that is no entry any more


# There and back -----------------------------------------------------------------------


def other(book: Book, part: Part, line: int, names: Entries) -> Scalar:
    """Return a value that an entry does not have in a fresh workbook."""
    if part.former:
        return book.parts[part.former][2].value(line)
    if part.entry == "text":
        return f"{part.heading} {line + 1}, ours"
    if part.entry == "choice":
        listed = [n for n in names[part.limits.choices] if n]
        others = [n for n in listed if n != part.value(line)]
        return others[line % len(others)]
    if part.entry in ("date", "time"):
        return 46000.0 + line if part.entry == "date" else 0.3125
    least, most = told(part, part.limits.least), told(part, part.limits.most)
    number = round(least + (most - least) * (0.1 + line % 7 / 20), 2)
    return kept(part, float(round(number)) if part.limits.whole else number)


def ours(units: Units, sparse: bool) -> Entries:
    """Return a job in which every figure of the company is another, or many are empty."""
    book = laid_out(units, "small")[0]
    entries, _ = job_entries(book, {}, "fresh")
    mine = carried(book)
    named = {t.name.key for t in tables(book).values() if t.name}
    parts = [book.parts[key] for key in sorted(mine)]
    named |= {part.key for _, _, part in parts if part.former}  # the job's own choices go by it
    for pass_of_choices in (False, True):
        names = results(units, entries, frozenset(
            p.limits.choices for _, _, p in parts if p.entry == "choice"), "small")  # fmt: skip
        for block, _, part in parts:
            if (part.entry == "choice") is pass_of_choices:
                entries[part.key] = [
                    None
                    if sparse and part.key not in named and (len(part.key) + line) % 3 == 0
                    else other(book, part, line, names)
                    for line in range(block.lines)
                ]
    return entries


def rounded(column: list[Scalar]) -> list[Scalar]:
    return [round(v, 9) if isinstance(v, float) else v or None for v in column]


@pytest.mark.parametrize(("units", "sparse"), [("us", False), ("us", True), ("si", True)])
def test_all_that_is_the_companys_comes_back_and_nothing_else(
    units: Units, sparse: bool, tmp_path: Path
) -> None:
    template = TEMPLATES[units, "small"]
    source = ours(units, sparse)
    source["job.customer"], source["terms.date"] = ["Smith"], [46000.0]
    shop.build(units, source, tmp_path / "job.xlsx", "small")
    text, problems = saved(tmp_path / "job.xlsx")
    assert problems == []
    assert "Smith" not in text
    path = tmp_path / "ours.csv"
    path.write_text(text, "utf-8", newline="")
    fresh, _ = job_entries(template.book, {}, "fresh")
    found = Loaded(template, {key: list(column) for key, column in fresh.items()}, [])
    fill(found, path, "fresh")
    assert (found.problems, found.notes) == ([], [])
    mine = carried(template.book)
    for key, column in found.entries.items():
        wanted = source[key] if key in mine else fresh[key]
        assert rounded(column) == rounded(wanted), key
    again = Loaded(template, {key: list(column) for key, column in found.entries.items()}, [])
    fill(again, path, "again")
    assert again.entries == found.entries


# Into jobs ------------------------------------------------------------------------------

HEAD = "table,line,what,figure,value\n"


@pytest.fixture
def figures(tmp_path: Path) -> Path:
    path = tmp_path / "ours.csv"
    path.write_text(
        HEAD + 'prices,concrete_1,"Concrete, Plain",price,150\n'
        'prices,concrete_2,"Concrete, Colored",price,210\n'
        'prices,concrete_3,"Concrete, Terra",price,300\n'
        "orders,1,Plain,slump,3\n"
        "orders,2,Colored,slump,5\n"
        "markups,,,profit,17\n"
        "draws,1,,percent,25\n"
    )
    return path


def test_a_mix_in_another_place_of_its_list_has_its_own_price(
    figures: Path, tmp_path: Path
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(
        'mixes = [{ name = "Colored" }, { name = "Plain" }]\nmarkups = { profit = 12 }\n'
    )
    found, problems = read_file(job, "us", None, TEMPLATES, Company(figures=figures))
    assert found
    assert problems == []
    book = found.template.book
    price = dict(zip(book.parts["prices.price"][0].codes, found.entries["prices.price"],
                     strict=True))  # fmt: skip
    assert (price["concrete_1"], price["concrete_2"], price["concrete_3"]) == (210, 150, None)
    assert found.entries["orders.slump"][:2] == [5, 3]
    assert found.entries["markups.profit"] == [0.12]  # what the job says itself goes first
    assert found.entries["draws.percent"][0] == 0.25
    (note,) = found.notes
    assert "line 4: 'Concrete, Terra' is no line of Supplies and concrete" in note


def test_a_new_job_is_built_with_the_figures_of_the_company(figures: Path) -> None:
    figures.write_text(figures.read_text() + "mixes,3,Terra,waste,4\n")
    found, problems = read_file(None, None, None, TEMPLATES, Company(figures=figures))
    assert found
    assert (problems, found.notes) == ([], ())
    assert found.entries["mixes.name"][2] == "Terra"
    codes = found.template.book.parts["prices.price"][0].codes
    assert found.entries["prices.price"][codes.index("concrete_3")] == 300


def test_a_contract_that_stands_keeps_its_price_and_its_terms(figures: Path) -> None:
    plain, _ = read_file(JOBS / "finished.toml", None, None, TEMPLATES)
    assert plain
    found = Loaded(plain.template, {k: list(v) for k, v in plain.entries.items()}, [])
    fill(found, figures, "job")
    assert found.problems == []
    assert "1 lines of Terms are left out: what was signed stays" in " ".join(found.notes)
    assert found.entries["markups.profit"] == [0.17]
    keys = frozenset(("payment.price", "draws.due", "billing.to_pay"))
    before, after = (plain.template.results(e, keys) for e in (plain.entries, found.entries))
    assert before == after
    assert float(after["payment.price"][0] or 0) > 0


def test_what_a_job_chose_and_the_company_has_no_more_is_told(tmp_path: Path) -> None:
    template = TEMPLATES["us", "small"]
    job: dict[str, Any] = {"pieces": [{"shape": "Rectangle", "a": 9, "b": 9, "mix": "Colored"}]}
    entries, _ = job_entries(template.book, job, "job")
    path = tmp_path / "ours.csv"
    path.write_text(HEAD + "mixes,,Colored,name,(empty)\n")
    found = Loaded(template, entries, [])
    fill(found, path, "job.toml")
    assert found.problems == []
    assert any(n.startswith("job.toml: ") and "'Colored' is chosen" in n for n in found.notes)


def test_dates_that_a_spreadsheet_wrote_anew_are_told_once_with_the_fix(tmp_path: Path) -> None:
    template = TEMPLATES["us", "small"]
    entries, _ = job_entries(template.book, {}, "job")
    path = tmp_path / "ours.csv"
    path.write_text(
        "table,line,figure,value,date\nprices,boards,price,9,05/04/26\n"
        "prices,stone,price,9,2026-05-04\nprices,nails,price,9,05/04/26\n"
        "delivery,,charge_date,05/04/26,\n"
    )
    found = Loaded(template, entries, [])
    fill(found, path, "job")
    (problem,) = found.problems
    assert problem.startswith(
        f"{path}, line 2, date: came '05/04/26' (and so in 2 more lines: 4, 5)"
    )
    assert "write it as 2026-05-14 or 14 May 2026" in problem
    assert "as text" in problem


@pytest.mark.parametrize("words", ["00123", "3/4", "2026-31", "12:30", "123456789012", "true", "7"])
def test_words_that_look_like_numbers_stay_words(words: str) -> None:
    assert csvfile.untouched(words) == f"'{words}"
    assert csvfile.bare(csvfile.untouched(words)) == words
    assert csvfile.guarded(words) == words
