"""A word can change: names that were renamed, and words of older files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from conftest import JOBS
from pourtally import read, template
from pourtally.jobfile import job_entries
from pourtally.load import make_book
from pourtally.model import Book, Entries, Scalar, Size, Units
from pourtally.place import address
from shop import build, laid_out, load_book, loaded, read_jobs, read_workbook, results, tables

RENAMED: dict[str, dict[int, str]] = {
    "finishes.name": {0: "Light broom", 1: "Slate pattern"},
    "mixes.name": {0: "Gray", 1: "Sandstone"},
    "products.name": {3: "Cure and seal", 4: "Gloss"},
    "placements.name": {0: "Panels first", 1: "Strips"},
    "labor.task": {25: "Stamp the slate"},
    "soils.name": {0: "Loam"},
    "bars.name": {0: "3/8 bar"},
    "suppliers.name": {0: "The color shop"},
}


def job(name: str) -> Entries:
    (made,), problems = read_jobs([JOBS[name]], None)
    assert problems == []
    return made.entries


def renamed(entries: Entries, names: dict[str, dict[int, str]]) -> Entries:
    out = {key: list(column) for key, column in entries.items()}
    for key, lines in names.items():
        for line, name in lines.items():
            out[key][line] = name
    return out


def figures(units: Units, entries: Entries) -> dict[str, list[Scalar]]:
    """Return every number that is worked out, by key."""
    book, _ = laid_out(units)
    return {
        key: [v for v in column if not isinstance(v, str)]
        for key, column in results(units, entries).items()
        if book.parts[key][2].kind == "formula"
    }


def typed(units: Units, said: dict[str, Any]) -> tuple[Entries, list[str]]:
    return job_entries(laid_out(units)[0], said, "test")


@pytest.mark.parametrize("name", ["demo", "finished", "driveway"])
def test_renaming_changes_no_figure(name: str) -> None:
    entries = job(name)
    now = renamed(entries, RENAMED)
    assert any(now[k] != entries[k] for k in RENAMED)
    assert figures("us", now) == figures("us", entries)


def test_a_thing_may_be_called_what_its_column_is_called() -> None:
    heads = {key: {0: laid_out("us")[0].parts[key][1].label} for key in RENAMED}
    assert heads["finishes.name"] == {0: "Finish"}
    plain = {key: {0: "Thing"} for key in RENAMED}
    named, plainly = (renamed(job("demo"), names) for names in (heads, plain))
    assert figures("us", named) == figures("us", plainly)
    assert results("us", named)["status.stops"] == [0]


def test_a_name_of_ones_own_is_renamed_by_what_it_was_called() -> None:
    said = {
        "finishes": [{"line": 6, "name": "Salt"}],
        "pieces": [{"shape": "Rectangle", "a": 9, "b": 7, "finish": "Salt"}],
        "labor": [{"line": 39, "task": "Salt it", "driver": "Area, Salt", "rate": 0.1}],
        "products": [{"line": 9, "name": "Rinse", "on": "Salt", "coverage": 100, "pail": 5}],
    }
    entries, problems = typed("us", said)
    assert problems == []
    before = figures("us", entries)
    assert before["status.stops"] == [0.0] and before["pieces.finish.no"][0] == 6.0
    lost = renamed(entries, {"finishes.name": {5: "Rock salt"}})
    assert results("us", lost)["status.stops"][0] != 0.0
    assert figures("us", renamed(lost, {"finishes.was": {5: "Salt"}})) == before


def test_two_names_that_are_swapped_go_by_their_names() -> None:
    said = {
        "finishes": [{"name": "Stamped"}, {"name": "Broomed"}],
        "pieces": [{"shape": "Rectangle", "a": 9, "b": 7, "finish": "Stamped"}],
    }
    entries, problems = typed("us", said)
    assert problems == []
    got = results("us", entries)
    assert (got["pieces.finish.no"][0], got["finish_area.total"][0]) == (1.0, 63.0)


def test_an_emptied_name_is_gone() -> None:
    said = {
        "pieces": [{"shape": "Rectangle", "a": 9, "b": 7, "finish": "Troweled"}],
        "finishes": [{"line": 4, "name": ""}],
    }
    entries, problems = typed("us", said)
    assert len(problems) == 1 and "Troweled" in problems[0]
    assert results("us", entries)["pieces.finish.no"][0] == 0.0


def test_bands_that_nobody_draws_need_no_finish() -> None:
    said = {
        "finishes": [{"line": 2, "name": "", "was": ""}],
        "mixes": [{"line": 2, "name": ""}],
        "labor": [{"line": n, "difficulty": 0} for n in (25, 26, 27, 28, 34, 36)],
        "pieces": [{"shape": "Rectangle", "a": 9, "b": 7}],
    }
    entries, problems = typed("us", said)
    assert problems == []
    assert results("us", entries)["status.stops"] == [0.0]
    entries, _ = typed("us", said | {"bands": [{"length": 9, "width": 9}]})
    assert results("us", entries)["status.limits_wrong"] == [2.0]


def test_a_renamed_workbook_reads_back_as_it_is(tmp_path: Path) -> None:
    now = renamed(job("demo"), RENAMED)
    build("us", now, tmp_path / "job.xlsx")
    back = read_workbook(tmp_path / "job.xlsx")
    assert back.problems == []
    assert figures("us", back.entries) == figures("us", job("demo"))


def test_a_line_that_a_price_file_names_anew_was_called_nothing(tmp_path: Path) -> None:
    emptied = job("driveway")
    emptied["finishes.name"][5:] = ["Acid", "Sand", "Tile"]  # so that only one line is free
    for key in ("name", "stamped", "texture", "shake"):
        emptied[f"finishes.{key}"][3] = None
    assert emptied["finishes.was"][3] == "Troweled"
    build("us", emptied, tmp_path / "job.xlsx")
    table = tmp_path / "rates.csv"
    table.write_text("table,line,what,figure,value\nfinishes,,Salt,texture,15\n")
    got = loaded(tmp_path / "job.xlsx", table)
    assert got.entries["finishes.name"][3] == "Salt"
    assert (got.entries["finishes.texture"][3], got.entries["finishes.was"][3]) == (0.15, None)


def test_a_job_file_may_say_a_former_name() -> None:
    said = {
        "finishes": [{"name": "Light broom"}, {"line": 6, "name": "Salt", "was": "Salted"}],
        "pieces": [{"shape": "Rectangle", "finish": w} for w in ("broomed", "Salted")],
    }
    entries, problems = typed("us", said)
    assert problems == []
    assert results("us", entries)["pieces.finish.no"][:2] == [1.0, 6.0]


def test_what_a_giver_was_called_stands_beside_its_name() -> None:
    sheets, measures, items = tables()
    giver = next(g for g in items["42-drivers.toml"]["gives"] if g["key"] == "once")
    giver |= {"name": "One job", "was": "Once for the job"}
    parts = make_book("us", sheets, measures, items).parts
    names, was = parts["drivers.name"][2].values, parts["drivers.was"][2].values
    assert was[names.index("One job")] == "Once for the job"
    assert parts["drivers.was"][2].formulas[1].endswith('"Area, "&{finishes.was.known[1]})')
    assert "{drivers.was[]}" in parts["labor.driver.no"][2].formulas[0]


def older(units: Units, size: Size = "usual", place: str = "") -> Book:
    """Return the template as if it had called a rectangle an oblong before."""
    book = load_book(units, size)
    _, item, part = book.parts["shapes.name"]
    part = replace(part, formerly=(("Oblong", "Rectangle"),))
    fields = {item.key: replace(item, parts=(part,))}
    blocks = (replace(b, fields=tuple(fields.get(f.key, f) for f in b.fields)) for b in book.blocks)
    return replace(book, blocks=tuple(blocks))


def test_the_word_of_an_older_workbook_is_put_right(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "old.xlsx"
    entries = job("driveway")
    build("us", entries, path)
    book = openpyxl.load_workbook(path)
    _, places = laid_out("us")
    spot = places.spots["pieces.shape"]
    line = entries["pieces.shape"].index("Rectangle")
    book[spot.sheet][address(*spot.at(line))] = "oblong"
    book.save(path)
    assert "oblong" in " ".join(read_workbook(path).problems)
    load_book("us"), load_book("si")  # kept from here on: they must not ask for the older one
    monkeypatch.setattr(template, "load_book", older)
    back = read.read_workbook(path, template.Templates())
    assert back.problems == []
    assert back.entries["pieces.shape"] == entries["pieces.shape"]


def test_the_word_of_an_older_job_file_is_put_right() -> None:
    said = {"pieces": [{"shape": "Oblong", "a": 9, "b": 7}]}
    entries, problems = job_entries(older("us"), said, "test")
    assert (problems, entries["pieces.shape"][0]) == ([], "Rectangle")
