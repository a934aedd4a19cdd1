"""What a workbook holds, thing by thing, whatever program wrote it: read from its own parts."""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

from openpyxl.styles.numbers import BUILTIN_FORMATS
from openpyxl.utils import get_column_letter, range_boundaries
from openpyxl.utils.cell import coordinate_to_tuple

Place = tuple[str, int, int]
"""Sheet, row and column, counted from 1."""

Value = float | str
Things = dict[str, dict[str, Value]]
"""{kind of thing: {which one: what it says}}."""

_LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_WIDE = 1_000  # columns or rows of a rule that goes to the end of a sheet


@dataclass(frozen=True)
class Cell:
    """What stands in a cell: its value, its formula if it has one, and the number of its look."""

    value: Value
    formula: str | None
    look: int


@dataclass(frozen=True)
class Package:
    """A workbook's file: its parts as trees, and its sheets in order by name."""

    parts: zipfile.ZipFile
    sheets: dict[str, str]
    words: list[str]

    def tree(self, part: str) -> ET.Element:
        """Return one part."""
        return ET.fromstring(self.parts.read(part))

    def beside(self, part: str, kind: str = "") -> list[str]:
        """Return the parts of a kind that a part refers to."""
        folder, name = posixpath.split(part)
        links = f"{folder}/_rels/{name}.rels"
        if links not in self.parts.namelist():
            return []
        return [
            _target(folder, link.get("Target", ""))
            for link in self.tree(links)
            if (link.get("Type") or "").endswith(kind) and link.get("TargetMode") != "External"
        ]


def opened(path: Path) -> Package:
    """Return a workbook's file, opened."""
    parts = zipfile.ZipFile(path)
    (book,) = [n for n in parts.namelist() if n == "xl/workbook.xml"]
    links = {
        link.get("Id"): _target("xl", link.get("Target", ""))
        for link in ET.fromstring(parts.read("xl/_rels/workbook.xml.rels"))
    }
    sheets = {
        sheet.get("name", ""): links[sheet.get(_LINK)]
        for sheet in _all(ET.fromstring(parts.read(book)), "sheet")
    }
    words = []
    if "xl/sharedStrings.xml" in parts.namelist():
        strings = _all(ET.fromstring(parts.read("xl/sharedStrings.xml")), "si")
        words = [_said(entry) for entry in strings]
    return Package(parts, sheets, words)


def cells(path: Path) -> dict[Place, Cell]:
    """Return all cells of a workbook that hold something or have a look."""
    package = opened(path)
    return {
        (name, row, column): cell
        for name, part in package.sheets.items()
        for (row, column), cell in _cells(package, package.tree(part)).items()
    }


def things(path: Path) -> Things:
    """Return all that a workbook holds."""
    package = opened(path)
    trees = {name: package.tree(part) for name, part in package.sheets.items()}
    book = package.tree("xl/workbook.xml")
    out: Things = {
        "sheets": _sheets(book),
        "names": _names(book, package),
    }
    looks = _looks(package)
    for kind in (
        *_OF_A_SHEET,
        "rows",
        "typed",
        "formulas",
        "values",
        "locks",
        "formats",
        "drawings",
    ):
        out[kind] = {}
    for name, tree in trees.items():
        _of_cells(out, name, _cells(package, tree), looks)
        out["rows"].update({f"{name}!{key}": said for key, said in _rows(tree)})
        for data in tree.findall("{*}sheetData"):
            tree.remove(data)  # most of the tree, and nothing more in it
        for kind, found in _OF_A_SHEET.items():
            out[kind].update({f"{name}!{key}": said for key, said in found(tree)})
        _of_drawings(out, name, package)
    return out


def _target(folder: str, target: str) -> str:
    whole = target if target.startswith("/") else f"/{folder}/{target}"
    return posixpath.normpath(whole).removeprefix("/")


def _all(tree: ET.Element, tag: str) -> Iterator[ET.Element]:
    return tree.iterfind(f".//{{*}}{tag}")


def _tag(element: ET.Element) -> str:
    return str(element.tag).rpartition("}")[2]


def _child(element: ET.Element, tag: str) -> ET.Element | None:
    return next((e for e in element if _tag(e) == tag), None)


def _text(element: ET.Element, tag: str) -> str | None:
    found = _child(element, tag)
    return None if found is None else found.text or ""


def _said(entry: ET.Element) -> str:
    """Return the words of a text, its runs joined, without what is said of how it sounds."""
    runs = [_child(e, "t") if _tag(e) == "r" else e for e in entry if _tag(e) in ("t", "r")]
    return "".join(t.text or "" for t in runs if t is not None)


def _cells(package: Package, tree: ET.Element) -> dict[tuple[int, int], Cell]:
    out = {}
    for cell in _all(tree, "c"):
        out[coordinate_to_tuple(cell.get("r", ""))] = Cell(
            _value(package, cell), _text(cell, "f"), int(cell.get("s", "0"))
        )
    return out


def _value(package: Package, cell: ET.Element) -> Value:
    kind, value = cell.get("t", "n"), _text(cell, "v") or ""
    if kind == "inlineStr":
        inner = _child(cell, "is")
        return "" if inner is None else _said(inner)
    if kind == "s":
        return package.words[int(value)] if value else ""
    if kind in ("str", "e") or not value:
        return value
    return float(value)


def _of_cells(
    out: Things, name: str, found: dict[tuple[int, int], Cell], looks: list[tuple[str, str]]
) -> None:
    for (row, column), cell in found.items():
        at = f"{name}!{get_column_letter(column)}{row}"
        form, lock = looks[cell.look] if cell.look < len(looks) else ("", "")
        if cell.formula is not None:
            out["formulas"][at] = 1.0
            out["values"][at] = cell.value
        elif cell.value != "":
            out["typed"][at] = cell.value
        if lock == "open" or cell.value != "" or cell.formula is not None:
            out["locks"][at] = lock
        if form and (cell.value != "" or cell.formula is not None):
            out["formats"][at] = form


def _looks(package: Package) -> list[tuple[str, str]]:
    """Return format and lock of each look that a cell can have."""
    styles = package.tree("xl/styles.xml")
    codes = BUILTIN_FORMATS | {
        int(f.get("numFmtId", "0")): f.get("formatCode", "") for f in _all(styles, "numFmt")
    }
    (looks,) = [e for e in styles if _tag(e) == "cellXfs"]
    return [
        (_format(codes.get(int(xf.get("numFmtId", "0")), "?")), _lock(xf))
        for xf in looks
        if _tag(xf) == "xf"
    ]


def _format(code: str) -> str:
    """Return a format without what programs each write in their own way; none for General."""
    plain = re.sub(r"\[\$([^\]-]*)-?[^\]]*\]", r"\1", code)
    plain = re.sub(r"[\\\"]|_.|\*.", "", plain)
    return "" if plain.casefold() == "general" else plain


def _lock(xf: ET.Element) -> str:
    protection = _child(xf, "protection")
    locked = "1" if protection is None else protection.get("locked", "1")
    return "open" if locked in ("0", "false") else "locked"


def _sheets(book: ET.Element) -> dict[str, Value]:
    return {s.get("name", ""): s.get("state", "visible") for s in _all(book, "sheet")}


def _names(book: ET.Element, package: Package) -> dict[str, Value]:
    order = list(package.sheets)
    out: dict[str, Value] = {}
    for name in _all(book, "definedName"):
        here = name.get("localSheetId")
        whose = f"{order[int(here)]}!" if here is not None else ""
        parts = sorted(_reference(name.text or "").split(","))
        out[whose + name.get("name", "")] = ",".join(parts)
    return out


def _reference(text: str) -> str:
    return re.sub(r"[$']", "", text).replace(" ", "")


def _spots(ref: str) -> Iterator[str]:
    """Yield the cells of a list of ranges; those of one that goes to the end as they are said."""
    for part in ref.split():
        first, top, last, bottom = range_boundaries(part)
        if last - first > _WIDE or bottom - top > _WIDE:
            yield part
            continue
        for column in range(first, last + 1):
            letter = get_column_letter(column)
            yield from (f"{letter}{row}" for row in range(top, bottom + 1))


def _validations(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for rule in _all(tree, "dataValidation"):
        kind = rule.get("type", "none")
        if kind == "none":  # words alone: what is taken is not looked at
            yield from ((spot, kind) for spot in _spots(rule.get("sqref", "")))
            continue
        bounds = [_bound(_text(rule, f"formula{n}")) for n in (1, 2)]
        if kind == "list":  # compares nothing, and has one bound
            said = f"{kind} {bounds[0]}"
        else:
            said = " ".join(filter(None, [kind, rule.get("operator", ""), *bounds]))
        for spot in _spots(rule.get("sqref", "")):
            yield spot, said.replace(" between", "")


def _bound(text: str | None) -> str:
    if text is None:
        return ""
    try:
        return f"{float(text):g}"
    except ValueError:
        return _reference(text)


def _hints(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for rule in _all(tree, "dataValidation"):
        words = [rule.get(key, "") for key in ("promptTitle", "prompt", "errorTitle", "error")]
        if any(words):
            for spot in _spots(rule.get("sqref", "")):
                yield spot, " | ".join(words)


def _rules(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    """Yield how many rules of looks each cell has."""
    many: dict[str, float] = {}
    for block in _all(tree, "conditionalFormatting"):
        rules = sum(_tag(e) == "cfRule" for e in block)
        for spot in _spots(block.get("sqref", "")):
            many[spot] = many.get(spot, 0) + rules
    yield from many.items()


def _links(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for link in _all(tree, "hyperlink"):
        goes = _reference(link.get("location", "")).removeprefix("#")
        for spot in _spots(link.get("ref", "")):
            yield spot, goes


def _merged(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for merged in _all(tree, "mergeCell"):
        yield merged.get("ref", ""), 1.0


def _protection(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for told in _all(tree, "sheetProtection"):
        on = told.get("sheet") in ("1", "true")
        yield "sheet", "protected" if on else "open"
        for what in ("formatColumns", "formatRows"):
            yield what, "allowed" if told.get(what) in ("0", "false") else "refused"
        yield "objects", "refused" if told.get("objects") in ("1", "true") else "allowed"


def _printing(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    fits = any(p.get("fitToPage") in ("1", "true") for p in _all(tree, "pageSetUpPr"))
    for setup in _all(tree, "pageSetup"):
        yield "paper", setup.get("paperSize", "1")
        yield "orientation", setup.get("orientation", "default")
        if fits:
            yield "fits", f"{setup.get('fitToWidth', '1')} by {setup.get('fitToHeight', '1')}"
        else:
            yield "scale", float(setup.get("scale", "100"))
    for margins in _all(tree, "pageMargins"):
        for side in ("left", "right", "top", "bottom"):
            yield f"margin {side}", round(float(margins.get(side, "0")), 2)
    for place in ("oddHeader", "oddFooter"):
        for words in _all(tree, place):
            yield (
                place,
                re.sub(r"&C(?=&|$)", "", re.sub(r'&"[^"]*"|&K\w{6}| ', "", words.text or "")),
            )


def _breaks(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for which in ("rowBreaks", "colBreaks"):
        for block in _all(tree, which):
            for one in block:
                if one.get("man") in ("1", "true"):
                    yield f"{which} {one.get('id')}", 1.0


def _panes(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for pane in _all(tree, "pane"):
        if pane.get("state", "").startswith("frozen"):
            across, down = (float(pane.get(key, "0")) for key in ("xSplit", "ySplit"))
            yield "frozen", f"{across:g} by {down:g}"


def _columns(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    """Yield the width of each column, in whole characters, since programs round them."""
    for told in _all(tree, "col"):
        first, last = int(told.get("min", "1")), int(told.get("max", "1"))
        hidden = told.get("hidden") in ("1", "true")
        for column in range(first, min(last, first + 60) + 1):
            width = "hidden" if hidden else round(float(told.get("width", "0")))
            yield get_column_letter(column), width if isinstance(width, str) else float(width)


def _rows(tree: ET.Element) -> Iterator[tuple[str, Value]]:
    for row in _all(tree, "row"):
        if row.get("hidden") in ("1", "true"):
            yield row.get("r", ""), "hidden"
        elif row.get("customHeight") in ("1", "true"):
            yield row.get("r", ""), float(round(float(row.get("ht", "0"))))


_OF_A_SHEET: dict[str, Callable[[ET.Element], Iterator[tuple[str, Value]]]] = {
    "validations": _validations,
    "hints": _hints,
    "rules of looks": _rules,
    "links": _links,
    "merged": _merged,
    "protection": _protection,
    "printing": _printing,
    "page breaks": _breaks,
    "panes": _panes,
    "columns": _columns,
}


def _of_drawings(out: Things, name: str, package: Package) -> None:
    """Add each chart by the cells its lines are drawn from, and each picture."""
    for drawing in package.beside(package.sheets[name], "/drawing"):
        tree = package.tree(drawing)
        pictures = sum(_tag(e) == "pic" for e in tree.iter())
        for number in range(pictures):
            out["drawings"][f"{name}!picture {number + 1}"] = 1.0
        for chart in package.beside(drawing, "/chart"):
            lines = [
                " ".join(
                    _reference(f.text or "") for f in _all(series, "f") if "!" in (f.text or "")
                )
                for series in _all(package.tree(chart), "ser")
            ]
            for line in lines:
                key = f"{name}!line {line}"
                out["drawings"][key] = float(out["drawings"].get(key, 0.0)) + 1.0
