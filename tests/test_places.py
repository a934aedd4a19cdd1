"""A place is one file: its money, taxes and words; a whole job in each, to the last cent."""

from __future__ import annotations

import re
import shutil
import zipfile
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import openpyxl
import pytest
from click.testing import CliRunner

from pourtally import csvfile, files, local
from pourtally.build import build, read_file
from pourtally.cli import main
from pourtally.jobfile import job_entries
from pourtally.model import Entries, TemplateError
from pourtally.priceload import loaded
from pourtally.pricesave import saved
from pourtally.read import read_workbook
from pourtally.template import Template
from shop import TEMPLATES

CENT = Decimal("0.01")
FOREIGN = re.compile(r"\$|(?<![\w,.])811(?![\d,])|FICA|Social Security|Medicare|[Ss]ales tax")


def cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)


def worked(template: Template, job: dict[str, Any], *keys: str) -> Entries:
    entries, problems = job_entries(template.book, job, "test")
    assert problems == []
    return template.results(entries, frozenset(keys))


# A metric workbook whose place is not said ------------------------------------------------


def test_a_metric_workbook_without_a_place_speaks_of_no_country(tmp_path: Path) -> None:
    path = tmp_path / "blank.xlsx"
    template = TEMPLATES["si", "small"]
    assert template.book.local.sign == ""
    build(template, job_entries(template.book, {}, "test")[0], path)
    found = sorted(words for words in shown(path) if FOREIGN.search(words))
    assert found == []
    assert any("call before you dig: local utilities" in words for words in shown(path))


def test_what_looks_for_a_country_finds_the_united_states(tmp_path: Path) -> None:
    path = tmp_path / "blank.xlsx"
    template = TEMPLATES["us", "small"]
    build(template, job_entries(template.book, {}, "test")[0], path)
    told = "\n".join(w for w in shown(path) if FOREIGN.search(w))
    for word in ("$", "811", "Social Security", "Sales tax"):
        assert word in told


def shown(path: Path) -> set[str]:
    """Return all that a workbook can show: words, formats, notes, prompts, drawings' words."""
    out: set[str] = set()
    book = openpyxl.load_workbook(path)
    for sheet in book.worksheets:
        out |= {sheet.title, str(sheet.oddFooter.left.text), str(sheet.oddFooter.right.text)}
        for row in sheet.iter_rows():
            for cell in row:
                out.add(cell.number_format)
                if cell.comment:
                    out.add(cell.comment.text)
                if isinstance(cell.value, str):
                    formula = cell.value.startswith("=")
                    out |= set(re.findall(r'"([^"]*)"', cell.value)) if formula else {cell.value}
        for rule in sheet.data_validations.dataValidation:
            out |= {str(t) for t in (rule.prompt, rule.promptTitle, rule.error, rule.errorTitle)}
    with zipfile.ZipFile(path) as package:
        for name in package.namelist():
            if "/charts/" in name or "/drawings/" in name or name.startswith("docProps"):
                for item in ElementTree.fromstring(package.read(name)).iter():
                    if item.tag.rpartition("}")[2] not in ("f", "formatCode"):
                        out |= {item.text or "", item.get("descr", ""), item.get("name", "")}
    return out


# A whole job in each place ----------------------------------------------------------------


JOB: dict[str, Any] = {
    "classes": [{"people": 0}] * 3,
    "own": [
        {"what": "Stone", "kind": "Material", "typed": 1, "price": 3217.45},
        {"what": "The work", "kind": "Other", "typed": 1, "price": 4178.90},
    ],
    "options": [{"name": "Steps", "extra": 333.33, "at": 1, "price": 333.33, "material": 111.11,
                 "chosen": "Yes"}],
    "billing": [
        {"billed_on": date(2026, 6, 1), "paid_on": date(2026, 6, 3)},
        {"billed_on": date(2026, 6, 8), "paid_on": date(2026, 6, 9)},
        {"billed_on": date(2026, 6, 15), "paid_on": date(2026, 6, 20)},
        {"billed_on": date(2026, 6, 30), "paid_on": date(2026, 7, 2)},
    ],
    "payment": {"signed": date(2026, 5, 20)},
}  # fmt: skip
MARKUPS = {"contingency": 5, "overhead": 10, "profit": 12.5, "step": 0.01}


def priced(material: Decimal, other: Decimal, paid: Decimal) -> tuple[Decimal, Decimal]:
    """Return the price, and material's part of it, from costs and the tax paid on material."""
    cost = material + other + cents(material * paid)
    contingency = cents(cost * 5 / 100)
    overhead = cents((cost + contingency) * 10 / 100)
    price = cents((cost + contingency + overhead) / (1 - Decimal("0.125")))
    return price, cents(price * material / cost)


def signed(lines: dict[str, Decimal], taxes: list[float], price: Decimal) -> dict[str, Any]:
    """Return what is typed once a contract is signed: its parts, the payments, the rates."""
    ends = [cents(price * share / 100) for share in (10, 40, 80)] + [price]
    draws = [end - before for end, before in zip(ends, [Decimal(0), *ends[:3]], strict=True)]
    paid = [line | {"paid": float(d)} for line, d in zip(JOB["billing"], draws, strict=True)]
    return {
        "signed": [{"line": code, "figure": float(figure)} for code, figure in lines.items()],
        "draws": [{"signed": float(draw)} for draw in draws],
        "tax_rates": [{"signed": rate} for rate in taxes],
        "billing": paid,
    }


def running(tax: Decimal, price: Decimal) -> list[Decimal]:
    """Return the tax in each of four payments by running totals."""
    ends = [cents(price * share / 100) for share in (10, 40, 80)] + [price]
    up_to = [cents(tax / price * end) for end in ends]
    return [new - old for new, old in zip(up_to, [Decimal(0), *up_to[:3]], strict=True)]


def told(column: list[Any]) -> list[Decimal]:
    return [cents(Decimal(repr(x or 0.0))) for x in column]


def test_a_job_in_the_united_states_to_the_last_cent() -> None:
    template = TEMPLATES["us", "usual"]
    job = JOB | {"markups": MARKUPS | {"tax": 8.25, "tax_on": "Material price"}}
    price, material = priced(Decimal("3217.45"), Decimal("4178.90"), Decimal(0))
    option = Decimal("333.33")
    tax = cents((material + Decimal("111.11")) * Decimal("0.0825"))
    total = price + option + tax
    keys = ("price.price", "sale.tax", "sale.total", "billing.tax", "contract.owed",
            "contract.balance", "invoice_taxes.name", "statement_head.says",
            "status.stops")  # fmt: skip
    got = worked(template, job | {"payment": {}, "billing": []}, *keys)
    assert told([got[k][0] for k in keys[:3]]) == [price, tax, total]
    parts = {"work": price, "option_1": option, "tax": tax}
    later = job["markups"] | {"tax": 9}
    got = worked(template, job | signed(parts, [8.25], total) | {"markups": later}, *keys)
    assert told(got["billing.tax"][:4]) == running(tax, total)
    assert sum(told(got["billing.tax"])) == tax
    assert told([got["contract.owed"][0], got["contract.balance"][0]]) == [Decimal(0)] * 2
    assert got["status.stops"] == [0]
    assert got["invoice_taxes.name"] == ["In this bill: before sales tax", "Sales tax 8.25 %"]
    assert got["statement_head.says"] == ["Nothing is open"]


def test_a_job_in_canada_to_the_last_cent() -> None:
    """GST on the whole and PST paid on material: as a contractor in British Columbia has it."""
    template = TEMPLATES["si", "usual", "canada"]
    own = {"tax_two": 7, "tax_two_on": "Material cost"}
    price, _ = priced(Decimal("3217.45"), Decimal("4178.90"), Decimal("0.07"))
    before = price + Decimal("333.33")
    gst = cents(before * Decimal("0.05"))
    whole(template, own, {"tax": gst}, price, [5], ["GST/HST 5 %"])


def test_a_job_with_two_taxes_on_the_whole_to_the_last_cent() -> None:
    """GST and QST, each on the price alone, each rounded by itself, each adding up over bills."""
    template = TEMPLATES["si", "usual", "canada"]
    own = {"tax_name": "GST", "tax_two_name": "QST", "tax_two": 9.975, "tax_two_on": "The total"}
    price, _ = priced(Decimal("3217.45"), Decimal("4178.90"), Decimal(0))
    before = price + Decimal("333.33")
    taxes = {"tax": cents(before * Decimal("0.05")), "tax_two": cents(before * Decimal("0.09975"))}
    whole(template, own, taxes, price, [5, 9.975], ["GST 5 %", "QST 9.975 %"])


def whole(
    template: Template, own: dict[str, Any], taxes: dict[str, Decimal], price: Decimal,
    rates: list[float], names: list[str],
) -> None:  # fmt: skip
    job = JOB | {"markups": MARKUPS | own}
    total = price + Decimal("333.33") + sum(taxes.values())
    keys = ("price.price", "sale.tax", "sale.total", "billing.tax", "billing.tax_one",
            "billing.tax_two", "billing.amount", "contract.owed", "contract.balance",
            "invoice_taxes.name", "status.stops")  # fmt: skip
    got = worked(template, job | {"payment": {}, "billing": []}, *keys)
    assert told([got[k][0] for k in keys[:3]]) == [price, sum(taxes.values()), total]
    parts = {"work": price, "option_1": Decimal("333.33")} | taxes
    got = worked(template, job | signed(parts, rates, total), *keys)
    one, two = (taxes.get(code, Decimal(0)) for code in ("tax", "tax_two"))
    assert told(got["billing.tax_one"][:4]) == running(one, total)
    assert told(got["billing.tax_two"][:4]) == running(two, total)
    assert sum(told(got["billing.tax"])) == one + two
    assert sum(told(got["billing.amount"])) == total
    assert told([got["contract.owed"][0], got["contract.balance"][0]]) == [Decimal(0)] * 2
    assert got["status.stops"] == [0]
    assert [n for n in got["invoice_taxes.name"] if n][1:] == names


# Another place is one file ----------------------------------------------------------------


@pytest.fixture
def shire(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder of places with one more, invented: the sign after the figure, A4."""
    folder = tmp_path / "places"
    shutil.copytree(files.places_folder(), folder)
    text = (folder / "elsewhere.toml").read_text(encoding="utf-8")
    for old, new in (
        ('name = "no place in particular"\nusual_for = "si"', 'name = "Farshire"\n#'),
        ('sign = ""\nafter = false', 'sign = "kr"\nafter = true'),
        ('dates = "" ', 'dates = "day first" '),
        ('name = "Tax"', 'name = "Mark"\nrate = 25\nsource = "Invented for a test"'),
    ):
        assert old in text
        text = text.replace(old, new)
    (folder / "farshire.toml").write_text(text, encoding="utf-8")
    monkeypatch.setattr(files, "places_folder", lambda: folder)
    return folder


def test_another_place_is_one_file(shire: Path, tmp_path: Path) -> None:
    job, problems = read_file(None, None, "small", TEMPLATES.__class__(), place="farshire")
    assert problems == []
    assert job
    book = job.template.book
    assert (book.units, book.local.paper, book.local.name) == ("si", "A4", "Farshire")
    formats = {part.format for _, _, part in book.parts.values()}
    assert '#,##0.00" kr";-#,##0.00" kr";;@' in formats
    assert book.parts["markups.tax"][2].values == (0.25,)
    got = worked(job.template, {"payment": {"agreed": 9000, "rule": "Percent of the price",
                 "percent": 10}}, "payment.says")  # fmt: skip
    assert got["payment.says"] == ["At most 900.00 kr: check your local law."]
    path = tmp_path / "far.xlsx"
    build(job.template, job.entries, path)
    sheet = openpyxl.load_workbook(path)["Invoice"]
    assert sheet.page_setup.paperSize == 9
    assert not [words for words in shown(path) if FOREIGN.search(words)]
    back = read_workbook(path, TEMPLATES.__class__())
    assert (back.template.book.local.key, back.problems) == ("farshire", [])
    (shire / "farshire.toml").unlink()
    result = CliRunner().invoke(main, ["values", str(path)])
    assert "made for the place 'farshire'" in result.output


def test_a_slip_in_a_place_is_named_by_file_and_key(shire: Path) -> None:
    path = shire / "farshire.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("sign =", "sgin ="), encoding="utf-8")
    with pytest.raises(TemplateError) as caught:
        local.said("farshire")
    assert "farshire.toml: unknown key 'sgin'; did you mean 'sign'?" in str(caught.value)
    assert "farshire.toml: lacks sign, words" in str(caught.value)


def test_an_unknown_place_is_refused_with_a_hint(tmp_path: Path) -> None:
    result = CliRunner().invoke(
        main, ["build", "--place", "canadda", "-o", str(tmp_path / "a.xlsx")]
    )
    assert "--place: came 'canadda'; did you mean 'canada'?" in result.output
    job = tmp_path / "job.toml"
    job.write_text('place = "canadda"\n', encoding="utf-8")
    _, problems = read_file(job, None, None, TEMPLATES)
    assert problems == [f"{job}: place: came 'canadda'; did you mean 'canada'?"]
    job.write_text('place = "canada"\n', encoding="utf-8")
    _, problems = read_file(job, None, None, TEMPLATES, place="united-states")
    assert problems == [f"{job}: place: the file says 'canada' and the command 'united-states': "
                        "drop the option or correct the file"]  # fmt: skip


# Figures ----------------------------------------------------------------------------------


def test_figures_of_another_place_are_refused(tmp_path: Path) -> None:
    paths = {}
    for key in ("", "canada"):
        template = TEMPLATES["si", "small", key]
        paths[key] = tmp_path / f"{key or 'none'}.xlsx"
        build(template, job_entries(template.book, {}, "test")[0], paths[key])
    text, problems, _ = saved(paths["canada"], TEMPLATES)
    assert problems == []
    assert "\r\nplace,,,place,canada," in text
    ours = tmp_path / "ours.csv"
    ours.write_text(text, encoding="utf-8")
    assert loaded(paths["canada"], ours, TEMPLATES).problems == []
    (problem,) = loaded(paths[""], ours, TEMPLATES).problems
    assert "the figures are for Canada, the workbook is for no place in particular" in problem
    ours.write_text(text.replace("place,,,place,canada,", "place,,,place,elsewhere,"), "utf-8")
    assert "for no place" in loaded(paths["canada"], ours, TEMPLATES).problems[0]


@pytest.mark.parametrize(
    ("order", "words", "day"),
    [
        ("", "04/05/2026", None),
        ("month first", "04/05/2026", date(2026, 4, 5)),
        ("day first", "04/05/2026", date(2026, 5, 4)),
        ("month first", "25/05/2026", date(2026, 5, 25)),
        ("day first", "05/25/2026", date(2026, 5, 25)),
        ("day first", "2026-05-04", date(2026, 5, 4)),
        ("day first", "04/05/26", None),
    ],
)
def test_a_date_in_figures_is_read_in_the_order_of_the_place(
    order: str, words: str, day: date | None
) -> None:
    assert csvfile.day(words, order) == day
