"""Makes an old workbook to read: run under the sources of its version, whose name it is given.

    git archive <last commit of the version> | tar -x -C old
    PYTHONPATH=old/generator python tests/older/make.py 0.4.0

What was typed stands in the file of the same name, and is written back with some figures
that version worked out; what was moved since, and what is read in its place now, is told there
by hand.  Workbooks of 0.1.0 to 0.3.0 were made so too, by an earlier form of
this program.  From the workbook is taken what no reader looks at: formulas,
drawings, links, and the cells of sheets without entries.  It is small then, and still opens
in any spreadsheet program.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
import sys
import zipfile
from datetime import date
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
DATE = re.compile(r"\d{4}-\d\d-\d\d")
STRING = re.compile(r"<si>.*?</si>", re.DOTALL)


def main() -> None:
    """Build the workbook of one version, and make it small."""
    version = sys.argv[1]
    importlib.metadata.version = lambda distribution_name: version
    from pourtally.build import build  # noqa: PLC0415
    from pourtally.percent import kept  # noqa: PLC0415
    from pourtally.template import Templates  # noqa: PLC0415

    told = json.loads((HERE / f"{version}.json").read_text("utf-8"))
    template = Templates()[told["units"], "usual"]
    book = template.book
    entries = {
        key: [part.value(line) for line in range(block.lines)]
        for key, (block, _, part) in book.entries().items()
    }
    for key, typed in told["typed"].items():
        block, _, part = book.parts[key]
        for mark, value in (typed if isinstance(typed, dict) else {"1": typed}).items():
            line = int(mark) - 1 if mark.isdecimal() else block.codes.index(mark)
            entries[key][line] = kept(part, held(value))
    path = HERE / f"{version}.xlsx"
    build(template, entries, path)
    told["worked"] = {key: template.results(entries)[key][0] for key in told["worked"]}
    (HERE / f"{version}.json").write_text(json.dumps(told, indent=1) + "\n", "utf-8")
    kept = {book.sheets[0].name, *(block.sheet for block, _, _ in book.entries().values())}
    shrink(path, [s.name in kept for s in book.sheets])


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
