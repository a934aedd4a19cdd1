"""What the proposal and its copy say of a job, part by part, and nothing of what is not there.

Words are read as printed, from whole workbooks.  What a contract should say - who is licensed and
insured, strength, thickness, pattern and colors, permits, warranty, notices - is common practice
of the trade, and asked for by many states' home improvement laws; from memory.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner

from pourtally.cli import main
from pourtally.companyfile import read_company
from pourtally.files import templates_folder
from pourtally.jobfile import job_entries
from pourtally.model import Book, Entries, Units
from pourtally.wording import texts, word_problems, worded
from shop import LOOK, TEMPLATES, laid_out, load_copy, read_jobs, results

pytestmark = pytest.mark.xdist_group("said")  # its workbooks are made once

Job = dict[str, Any]
UNITS = pytest.mark.parametrize("units", ["us", "si"])
SLAB: Job = {"pieces": [{"shape": "Rectangle", "a": 6, "b": 4}]}
PARTS: dict[str, tuple[Job, str]] = {
    "insurance": ({"company": {"insurance": "Mill Mutual, no. 7"}}, "Insured: Mill Mutual, no. 7"),
    "license": ({"company": {"license": "000000"}}, "License 000000"),
    "warranty": ({"warranty": {"says": "Two years."}}, "Warranty: Two years."),
    "permits by us": ({"terms": {"permits": "We get them"}},
                      "We apply for the permits; their fees are in the price."),
    "permits by the customer": ({"terms": {"permits": "The customer gets them"}},
                                "You apply for the permits and have them before we start."),
    "no permits": ({"terms": {"permits": "None needed"}}, "None is needed, as far as we know."),
    "pattern": ({"finishes": [{"pattern": "Ashlar"}]}, "Broomed, pattern Ashlar: about 24"),
    "shake": ({"finishes": [{"shake": 3, "shake_color": "Sandstone"}]},
              ", color hardener on top (Sandstone)."),
    "release": ({"usual": {"finish": "Stamped"}, "finishes": [{}, {"release": "Charcoal"}]},
                ", release Charcoal."),
    "color": ({"mixes": [{"pigment": 3}], "orders": [{"color": "Walnut, no. 27"}]},
              ", colored all through (Walnut, no. 27)."),
    "sealer": ({"usual": {"finish": "Stamped"}, "told": [{"line": 5, "kind": "acrylic, satin"}]},
               "Sealer (acrylic, satin), 2 coats."),
    "walk": ({"walks": [{"what": "Garden walk", "width": 1}],
              "legs": [{"walk": 1, "kind": "Straight", "length": 5}]}, "Walks: Garden walk."),
    "opening": ({"pieces": [*SLAB["pieces"], {"what": "Planter", "shape": "Circle", "a": 1,
                                              "sign": "Hole"}]}, "Left open: Planter."),
    "house": ({"bands": [{"length": 6, "width": 4, "held_far": "Yes"}]},
              "Plan to scale, with sizes; the thick line is the house or a wall."),
    "notice": ({"notices": [{"says": "By law."}]}, "By law."),
    "signs": ({"terms": {"signs": "R. Tolliver"}}, "For the company, R. Tolliver, and the date"),
}  # fmt: skip
"""What is typed for each part of the paper, and the words it then prints."""


def job(*more: Job) -> Job:
    """Return a slab of 6 by 4 with more; a form that several say is one."""
    out: Job = dict(SLAB)
    for one in more:
        for key, said in one.items():
            out[key] = {**out.get(key, {}), **said} if isinstance(said, dict) else said
    return out


def worked(units: Units, said: Job, book: Book | None = None) -> Entries:
    entries, problems = job_entries(book or laid_out(units)[0], said, "test")
    assert problems == []
    return results(units, entries)


def printed(units: Units, got: Entries) -> list[str]:
    """Return the texts of the paper, as its cells hold them."""
    parts = laid_out(units)[0].parts
    keys = [key for key, (block, _, part) in parts.items()
            if block.sheet == "Proposal" and not part.working]  # fmt: skip
    return [v for key in keys for v in got[key] if isinstance(v, str) and v.strip()]


# Part by part ------------------------------------------------------------------------------


@pytest.mark.parametrize("part", PARTS)
@UNITS
def test_a_part_is_said_where_it_is_and_left_out_where_it_is_not(units: Units, part: str) -> None:
    more, words = PARTS[part]
    text = "\n".join(printed(units, worked(units, job(more))))
    assert words in text
    others = [said for name, (_, said) in PARTS.items() if name != part and said not in words]
    assert [said for said in others if said in text] == []


@UNITS
def test_no_head_comma_or_dash_stands_for_what_is_not_there(units: Units) -> None:
    for more in ({}, *(more for more, _ in PARTS.values())):
        got = worked(units, job(more))
        for said in printed(units, got):
            for line in said.splitlines():
                assert not re.search(r"^[\s,.;·]|[,;:·]\s*$|,\s*[,.;]|\(\s*\)|  +\.", line), line
        heads, says = got["proposal_scope.head"], got["proposal_scope.says"]
        assert [h for h, s in zip(heads, says, strict=True) if h and not s] == []
    blank = printed(units, results(units, {}))
    assert not any(re.search(r"Warranty|Insured|License|Permit|Plan|Strength", w) for w in blank
                   if w != "Permits and their fees.")  # fmt: skip


@UNITS
def test_what_is_not_typed_for_it_has_no_line_of_its_own(units: Units) -> None:
    lines = [str(said) for said in worked(units, SLAB)["proposal_scope.says"] if said]
    told = worked(units, job({"terms": {"permits": "None needed"}}, PARTS["opening"][0]))
    more = [str(said) for said in told["proposal_scope.says"] if said]
    assert len(more) == len(lines) + 2
    assert {"None is needed, as far as we know.", "Left open: Planter."} <= {*more} - {*lines}


def test_license_and_insurance_stand_side_by_side() -> None:
    got = worked("us", job(PARTS["license"][0], PARTS["insurance"][0]))
    assert got["proposal_top.license"] == ["License 000000  ·  Insured: Mill Mutual, no. 7"]


def test_who_gets_the_permits_is_not_left_out_of_the_price_as_well() -> None:
    for way, out in (("We get them", False), ("The customer gets them", True), ("", True)):
        got = worked("us", job({"terms": {"permits": way}}))
        assert ("Permits and their fees." in got["proposal_excludes.says"]) is out
        assert "Surveys, soil tests and what they cost." in got["proposal_excludes.says"]


# Strength and thickness ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("units", "orders", "told"),
    [
        ("us", [{}, {}], "4,500 psi"),
        ("si", [{}, {}], "31 MPa"),
        ("us", [{"strength": 4000}, {}], "Plain 4,000 psi, Colored 4,500 psi"),
        ("si", [{"strength": 27.5}, {}], "Plain 27.5 MPa, Colored 31 MPa"),
        ("us", [{"strength": 4000}, {"option": "Proportions"}], "Plain 4,000 psi"),
    ],
)
def test_strength_is_that_of_each_mix_in_the_order(
    units: Units, orders: list[Job], told: str
) -> None:
    pieces = [{"shape": "Rectangle", "a": 6, "b": 4, "mix": mix} for mix in ("Plain", "Colored")]
    got = worked(units, {"pieces": pieces, "orders": orders})
    assert f"Strength at 28 days, as ordered: {told}." in got["proposal_scope.says"]


def test_no_strength_is_promised_where_none_is_ordered() -> None:
    for order in ({"option": "Proportions"}, {"strength": 0}):
        got = worked("us", job({"orders": [order]}))
        assert not any("Strength" in str(said) for said in got["proposal_scope.says"])


def test_walks_are_told_by_their_own_thickness() -> None:
    # Two slabs of 4 and 6 in, alike in area: 5 in on average; a walk of 3.5 in is no part of it.
    walk = {"walks": [{"width": 4, "thickness": 3.5}],
            "legs": [{"walk": 1, "kind": "Straight", "length": 20}]}  # fmt: skip
    pieces = [{"shape": "Rectangle", "a": 10, "b": 9, "thickness": n} for n in (4, 6)]
    got = worked("us", {"pieces": pieces, **walk})
    assert got["scope_words.thick"] == ["Slabs 5 in thick on average. Walks 3.5 in thick. "]
    assert worked("us", walk)["scope_words.thick"] == ["Walks 3.5 in thick. "]


def test_what_is_left_open_is_named_in_order_and_the_nameless_is_not() -> None:
    hole = {"shape": "Circle", "a": 1, "sign": "Hole"}
    pieces = [{"shape": "Rectangle", "a": 30, "b": 20}, {**hole, "what": "Tree"}, hole,
              {**hole, "what": "Drain"}, {**hole, "what": "Post", "sign": "Add"}]  # fmt: skip
    got = worked("us", {"pieces": pieces})
    assert "Left open: Tree, Drain." in got["proposal_scope.says"]


# Words in their order -----------------------------------------------------------------------


@pytest.mark.parametrize("warranty", ["", "Two years."])
@pytest.mark.parametrize("notes", [0, 3, 8])
@pytest.mark.parametrize("notices", [0, 1, 6])
def test_warranty_notes_notices_and_acceptance_follow_one_another(
    warranty: str, notes: int, notices: int
) -> None:
    said: Job = {
        "warranty": {"says": warranty}, "closing": {"says": "Agreed."},
        "notes": [{"says": f"Note {n}.", "tick": "Yes" if n < notes else "No"} for n in range(8)],
        "notices": [{"says": f"Notice {n}."} for n in range(notices)],
    }  # fmt: skip
    got = worked("us", job(said))
    both = zip(got["proposal_words.left"], got["proposal_words.right"], strict=True)
    words = [str(w or "") for pair in both for w in pair]
    wanted = [f"Warranty: {warranty}"] * bool(warranty) + [f"Note {n}." for n in range(notes)]
    wanted += [f"Notice {n}." for n in range(notices)] + ["Agreed."]
    signed = [n for n, w in enumerate(words) if "____" in w]
    assert [w for w in words if w and "____" not in w] == wanted
    assert [words[n].strip().split("\n")[-1] for n in signed] == [
        "For the company, and the date", "The customer, and the date"
    ]  # fmt: skip
    assert signed[0] % 2 == 0
    assert signed[0] > len(wanted) - 1


def looks(got: Entries) -> str:
    states = zip(got["checks.say"], got["checks.state"], strict=True)
    return "\n".join(str(say) for say, state in states if state == LOOK)


def test_a_priced_offer_asks_for_permits_and_notices_until_they_are_settled() -> None:
    priced: Job = {"own": [{"what": "The work", "typed": 1, "price": 100}]}
    asked = looks(worked("us", job(priced)))
    assert "who gets the permits" in asked
    assert "Check your law" in asked
    for settled in ({"notices": [{"says": "By law."}]}, {"terms": {"no_notice": "Yes"}}):
        assert "Check your law" not in looks(worked("us", job(priced, settled)))
    told = looks(worked("us", job(priced, {"terms": {"permits": "None needed"}})))
    assert "who gets the permits" not in told
    assert "Check your law" not in looks(worked("us", SLAB))  # not before there is a price


def test_an_option_has_a_box_and_a_line_for_initials() -> None:
    (demo,), _ = read_jobs([templates_folder() / "jobs" / "demo.toml"], None)
    got = results("us", demo.entries)
    offers = [said for said in got["proposal_offers.says"] if said]
    assert offers
    assert all(re.match(r"☐ ____  \S", str(said)) for said in offers)
    assert [bool(said) for said in got["proposal_offers.says"]] == [
        bool(adds) for adds in got["proposal_offers.adds"]
    ]


# A company's own words ------------------------------------------------------------------------

COMPANY = """
[company]
name = "Quillfeather Slabs"
[terms]
valid = 14
[warranty]
says = "Two years."
[[notices]]
says = "By our law."
[words]
"forms taken off" = "forms stripped"
"What we will do" = "Our work"
"For the company" = "Quillfeather"
"""
FREE = ("product_4", "boards", "stakes", "nails", "stone", "bars_1", "chairs", "plastic",
        "concrete_1", "dirt_haul", "dirt_dump")  # fmt: skip
JOB = (
    """
size = "small"
[[pieces]]
shape = "Rectangle"
a = 20
b = 10
[[own]]
what = "The work"
typed = 1
price = 900
[[classes]]
people = 0
[[classes]]
people = 0
[[classes]]
people = 0
[[mixes]]
placed = "Chute"
[delivery]
short = 0
"""
    + '[[equipment]]\nwhat = "Own"\n' * 3
    + "".join(f'[[prices]]\nline = "{line}"\nprice = 0\n' for line in FREE)
)


def run(*words: str | Path) -> tuple[int, str]:
    result = CliRunner().invoke(main, [str(w) for w in words])
    return result.exit_code, result.stderr


def cells(path: Path) -> list[str]:
    """Return the texts of the paper in a file, formulas by their values."""
    sheet = openpyxl.load_workbook(path, data_only=True)["Proposal"]
    return [c.value for row in sheet.iter_rows() for c in row if isinstance(c.value, str)]


def test_a_company_s_words_stand_on_the_paper_and_on_its_copy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("ours.toml").write_text(COMPANY, "utf-8")
    Path("patio.toml").write_text(JOB, "utf-8")
    assert run("build", "patio.toml", "-o", "patio.xlsx", "--company", "ours.toml") == (0, "")
    code, wrong = run("share", "patio.xlsx", "--company", "ours.toml")
    assert (code, wrong) == (0, "")
    for path in ("patio.xlsx", "patio-proposal.xlsx"):
        text = "\n".join(cells(Path(path)))
        assert "formed, placed and finished, forms stripped." in text
        assert "forms taken off" not in text
        for said in ("Warranty: Two years.", "By our law.", "Quillfeather, and the date"):
            assert said in text, path
    assert "Our work" in cells(Path("patio-proposal.xlsx"))
    assert run("returned", "patio.xlsx", "patio-proposal.xlsx", "-o", "new.xlsx",
               "--company", "ours.toml") == (0, "")  # fmt: skip
    assert "forms stripped." in "\n".join(cells(Path("new.xlsx")))
    _, wrong = run("returned", "patio.xlsx", "patio-proposal.xlsx", "-o", "two.xlsx")
    assert "forms stripped" in wrong  # what was sent had other words


def test_a_job_goes_before_the_company_file(tmp_path: Path) -> None:
    path = tmp_path / "ours.toml"
    path.write_text(COMPANY, "utf-8")
    company, problems = read_company(path, TEMPLATES)
    assert problems == []
    tables = company.under({"terms": {"number": "7"}, "warranty": {"says": "One year."},
                            "notices": [{"says": "Of this job."}]})  # fmt: skip
    got = worked("us", {**SLAB, **tables})
    assert (got["terms.valid"], got["terms.number"]) == ([14], ["7"])
    assert "Warranty: One year." in got["proposal_words.left"]
    assert "By our law." not in printed("us", got)
    blank = worked("us", company.says)
    assert blank["warranty.says"] == ["Two years."]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[words]\n"forms taken of" = "x"', "words: 'forms taken of': none of our papers says "
         "this; did you mean 'forms taken off'?"),
        ('[words]\n"orms taken off" = "x"', "words: 'orms taken off': none of our papers"),
        ('[words]\n"forms taken off" = ""', "words: 'forms taken off': came ''; expected the"),
        ('[words]\n"forms taken off" = 4', "words: 'forms taken off': came 4; expected the words"),
        ('[words]\n"forms taken off" = "=1"', "words: 'forms taken off': came '=1'; expected one"),
        ('[words]\n"forms taken off" = "{job.name}"', "expected one line without braces"),
        ('[words]\n"forms taken off" = "' + "x" * 201 + '"', "came 201 letters; at most 200"),
        ('[words]\n"in panels" = "x"', "words: 'in panels': none of our papers says this"),
        ('[words]\n"mmmm d" = "x"', "words: 'mmmm d': none of our papers says this"),
        ('[words]\n"Missing prices" = "x"', "words: 'Missing prices': none of our papers"),
        ('[words]\n"" = "x"', "words: '': none of our papers says this"),
        ("words = 3", "words: came no table"),
        ('[terms]\nnumber = "7"', "terms: number: is of one job; it belongs into the job file"),
        ("[markups]\nprofit = 4", "unknown key 'markups'"),
        ('[[notices]]\nsays = 4', "notices"),
    ],
)  # fmt: skip
def test_each_slip_in_words_is_told_with_file_key_and_what_was_meant(
    text: str, told: str, tmp_path: Path
) -> None:
    path = tmp_path / "ours.toml"
    path.write_text(text, "utf-8")
    company, problems = read_company(path, TEMPLATES)
    assert any(one.startswith(f"{path}: ") and told in one for one in problems), problems
    assert company.words == {}


@UNITS
def test_every_text_of_the_papers_can_be_replaced_and_no_figure_follows(units: Units) -> None:
    book = laid_out(units)[0]
    words = {text.strip(): f"<{n}>" for n, text in enumerate(sorted(texts(book))) if text.strip()}
    assert len(words) > 100
    assert word_problems(words, [book, load_copy(units)]) == []
    own = TEMPLATES.saying(words)
    assert own is not TEMPLATES
    assert own.saying(words) is own
    name = "demo" if units == "us" else "courtyard-metric"
    (ready,), _ = read_jobs([templates_folder() / "jobs" / f"{name}.toml"], None)
    ours, theirs = results(units, ready.entries), own[units, "usual"].results(ready.entries)
    figures = {k for k, column in ours.items() if any(isinstance(v, float) for v in column)}
    assert [k for k in figures if [v for v in ours[k] if isinstance(v, float)]
            != [v for v in theirs[k] if isinstance(v, float)]] == []  # fmt: skip
    assert theirs["proposal_scope.says"] != ours["proposal_scope.says"]


def test_no_word_is_replaced_twice_and_the_longest_goes_first() -> None:
    book = laid_out("us")[0]
    words = {"forms taken off": "placed", "placed": "poured", "forms": "boards"}
    said = worded(book, words).parts["scope.says"][2].formulas
    (line,) = {f for f in said if "formed, " in f}
    assert ", formed, poured and finished, placed." in line
