"""Makes an old workbook to read: run under the sources of its version, whose name it is given.

    git archive <last commit of the version> | tar -x -C old
    PYTHONPATH=old/generator python tests/older/make.py 0.3.0

What was typed stands in the file of the same name, and is written back with some figures
that version worked out.  From the workbook is taken what no reader looks at: formulas,
drawings, links, and the cells of sheets without entries.  It is small then, and still opens
in any spreadsheet program.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
import sys
import tomllib
import zipfile
from datetime import date
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
OLDER = HERE.parents[1] / "templates" / "older.toml"
DATE = re.compile(r"\d{4}-\d\d-\d\d")
STRING = re.compile(r"<si>.*?</si>", re.DOTALL)
NAMES = {
    "steel": ["slabs", "bands", "panels"],
    "quantities_shown": [
        "area", "finish_1", "finish_2", "finish_3", "finish_4", "finish_5", "finish_6", "finish_7",
        "finish_8", "panels_thick", "bands_thick", "slabs_thick", "base", "concrete", "panels",
        "cuts", "edges",
    ],
}  # fmt: skip
"""Lines of tables that had no codes then, by the codes they were given later."""


def main() -> None:
    """Build the workbook of one version, and make it small."""
    version = sys.argv[1]
    importlib.metadata.version = lambda distribution_name: version
    from pourtally.build import build, results  # type: ignore[attr-defined]  # noqa: PLC0415
    from pourtally.load import load_book, templates_folder  # type: ignore[attr-defined]  # noqa: PLC0415

    told = json.loads((HERE / f"{version}.json").read_text("utf-8"))
    book = load_book(told["units"])
    entries = {
        key: [part.value(line) for line in range(block.lines)]
        for key, (block, _, part) in book.entries().items()
    }
    codes = given(templates_folder() / "items")
    for key, typed in told["typed"].items():
        for mark, value in (typed if isinstance(typed, dict) else {"1": typed}).items():
            line = int(mark) - 1 if mark.isdecimal() else codes[key.split(".")[0]].index(mark)
            entries[key][line] = held(value)
    path = HERE / f"{version}.xlsx"
    build(told["units"], entries, path)
    told["worked"] = {key: results(told["units"], entries)[key][0] for key in told["worked"]}
    (HERE / f"{version}.json").write_text(json.dumps(told, indent=1) + "\n", "utf-8")
    kept = {book.sheets[0].name, *(block.sheet for block, _, _ in book.entries().values())}
    shrink(path, [s.name in kept for s in book.sheets])


def given(items: Path) -> dict[str, list[str]]:
    """Return the codes of the lines of each table that collects, as that version orders them."""
    said: dict[str, list[str]] = {"supply": [], "priced": []}
    for item in sorted(items.glob("*.toml")):
        for gift in tomllib.loads(item.read_text("utf-8")).get("gives", []):
            if gift["to"] in said:
                said[gift["to"]].append(gift.get("key", ""))
    if not any(said["supply"]):  # 0.1.0 has no keys, and the same supplies as the next
        said["supply"] = tomllib.loads(OLDER.read_text("utf-8"))["0.1.0"]["supply"]
    return {**NAMES, "supply": said["supply"], "prices": said["supply"] + said["priced"]}


def held(value: Any) -> Any:
    """Return a value as an entry is held: numbers as float, days counted."""
    if isinstance(value, str) and DATE.fullmatch(value):
        return float(date.fromisoformat(value).toordinal() - date(1899, 12, 30).toordinal())
    return float(value) if isinstance(value, (int, float)) else value


def shrink(path: Path, kept: list[bool]) -> None:
    """Take out of a workbook what no reader looks at: keep the cells of some of its sheets."""
    empty = {f"xl/worksheets/sheet{n}.xml" for n, keep in enumerate(kept, 1) if not keep}
    with zipfile.ZipFile(path) as whole:
        parts = {
            name: shrunk(name, whole.read(name).decode(), name in empty)
            for name in whole.namelist()
            if not re.match(r"xl/(charts|drawings|worksheets/_rels)/", name)
        }
    used = {n for text in parts.values() for n in re.findall(r't="s"><v>(\d+)</v>', text)}
    strings = STRING.findall(parts["xl/sharedStrings.xml"])
    few = [s if str(n) in used else "<si><t/></si>" for n, s in enumerate(strings)]
    parts["xl/sharedStrings.xml"] = parts["xl/sharedStrings.xml"].replace(
        "".join(strings), "".join(few)
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as small:
        for name, text in parts.items():
            small.writestr(zipfile.ZipInfo(name), text, zipfile.ZIP_DEFLATED, 9)


def shrunk(name: str, text: str, empty: bool) -> str:
    """Return one part of a workbook without its formulas, drawings and links."""
    if name == "[Content_Types].xml":
        return re.sub(r'<Override PartName="/xl/(charts|drawings)/[^>]*/>', "", text)
    if not name.startswith("xl/worksheets/"):
        return text
    text = re.sub(r"<c [^>/]*><f>.*?</c>", "", text, flags=re.DOTALL)
    text = re.sub(r"<drawing [^>]*/>|<hyperlinks>.*?</hyperlinks>", "", text, flags=re.DOTALL)
    text = re.sub(r"<conditionalFormatting.*?</conditionalFormatting>", "", text, flags=re.DOTALL)
    cells = r"<sheetData>.*</sheetData>" if empty else r"(?!)"
    return re.sub(cells, "<sheetData/>", text, flags=re.DOTALL)


if __name__ == "__main__":
    main()
