"""The first rows of every sheet: the way to others, its title, and what is wrong on it."""

from __future__ import annotations

from .model import Block, Book, Sheet
from .place import LABEL_COLUMN, LINK_ROW, Places, address

BACK, ON = "\u2039 ", " \u203a"
"""What stands before the name of the sheet before, and after that of the next."""

Said = tuple[int, int, str, str]
"""Row, column, content and role of a cell."""


def head(book: Book, places: Places, sheet: Sheet) -> list[Said]:
    """Return the cells above the first block of a sheet."""
    if sheet.bare:
        return _beside(book, sheet)
    row = LINK_ROW
    cells = [(row + 1, 0, said(book, places, sheet.name, sheet.title, sheet.also), "title")]
    if not sheet.frozen:
        cells.append((row + 3, 0, sheet.intro, "intro"))
    state = places.spots.get(book.keys.get("state", ""))
    if state and state.sheet != sheet.name and not sheet.outside:
        here = "" if sheet.language else _here(book, places, sheet)
        cells.append((row + 2, 0, f"={_state(book, places, sheet)}{here}", "status"))
    links = enumerate(_links(book, sheet), LABEL_COLUMN)
    return cells + [(row, column, words, "way") for column, words in links if words]


def _beside(book: Book, sheet: Sheet) -> list[Said]:
    """Return the ways to other sheets where a page has no head: right of what is printed."""
    column = len(sheet.columns) + 1
    back, first, on = _links(book, sheet)
    ways = [words for words in (first, back, on) if words and first]
    return [(row, column, words, "way") for row, words in enumerate(ways)]


def page_of(book: Book, name: str) -> Sheet:
    """Return the sheet of a name."""
    return next(s for s in book.sheets if s.name == name)


def said(book: Book, places: Places, sheet: str, words: str, also: str, unit: str = "") -> str:
    """Return words, or the formula that says them in the language chosen for the sheet."""
    language = page_of(book, sheet).language
    if not language or not also:
        return f"{words}{unit}"
    chosen = _single(places, f"{language}.no")
    texts = (words, also, f"{words} / {also}")
    told = ",".join('"' + f"{text}{unit}".replace('"', '""') + '"' for text in texts)
    return f"=CHOOSE(MAX(1,{chosen}),{told})"


def _links(book: Book, sheet: Sheet) -> tuple[str, str, str]:
    """Return the words of the ways back, to the first sheet and on, as the tabs stand."""
    names = [s.name for s in book.sheets if not s.hidden]
    if not book.kept or sheet.name not in names:
        return "", "", ""
    at = names.index(sheet.name)
    back = f"{BACK}{names[at - 1]}" if at else ""
    on = f"{names[at + 1]}{ON}" if at + 1 < len(names) else ""
    return back, names[0] if at else "", on


def _state(book: Book, places: Places, sheet: Sheet) -> str:
    """Return the formula of the state of the checks, in the language of the sheet."""
    first, second = (_single(places, book.keys[key]) for key in ("state", "state_also"))
    if sheet.money:
        return _single(places, book.keys["state_money"])
    if not sheet.language:
        return first
    chosen = _single(places, f"{sheet.language}.no")
    return f'CHOOSE(MAX(1,{chosen}),{first},{second},{first}&" / "&{second})'


def _here(book: Book, places: Places, sheet: Sheet) -> str:
    """Return what adds to a state how much is wrong on the sheet itself, and the first of it.

    Checks and limits stand in the order of sheets, so those of one sheet are a range.
    """
    wrong = _range(book, places, sheet, book.keys.get("wrong_at", ""))
    open_ = _range(book, places, sheet, book.keys.get("check_at", ""))
    counts, words = [], '""'
    if open_:
        state, say = (_cells(places, book.keys[k], open_) for k in ("check_state", "check_say"))
        counts.append(f'COUNTIF({state},">0")')
        first = f"IFERROR(MATCH(2,{state},0),MATCH(1,{state},0))"
        words = f'IFERROR(INDEX({say},{first}),"")'
    if wrong:
        count, say = (_cells(places, book.keys[k], wrong) for k in ("wrong_count", "wrong_at"))
        counts.append(f"SUM({count})")
        words = f"IF(SUM({count})>0,INDEX({say},MATCH(MAX({count}),{count},0)),{words})"
    number = "+".join(counts)
    told = f'" \u00b7 {book.words["here"]} "&{number}&": "&{words}'
    return f'&IF({number}>0,{told},"")' if number else ""


def _range(book: Book, places: Places, sheet: Sheet, key: str) -> range:
    """Return the lines of a list that are of one sheet, by what each goes to."""
    if key not in book.parts:
        return range(0)
    block, _, part = book.parts[key]
    goes_to = [str(v) for v in part.values] if part.kind == "link" else block.codes
    lines = [line for line, to in enumerate(goes_to) if _sheet_of(book, to) == sheet.name]
    return range(lines[0], lines[-1] + 1) if lines else range(0)


def _sheet_of(book: Book, key: str) -> str:
    blocks: dict[str, Block] = {b.key: b for b in book.blocks}
    return blocks[key.split(".", maxsplit=1)[0]].sheet


def _cells(places: Places, key: str, lines: range) -> str:
    spot = places.spots[key]
    ends = (address(*spot.at(line), fixed=True) for line in (lines[0], lines[-1]))
    return f"{spot.sheet}!{':'.join(ends)}"


def _single(places: Places, key: str) -> str:
    """Return the address of a single cell, with its sheet."""
    spot = places.spots[key]
    return f"{spot.sheet}!{address(*spot.at(0), fixed=True)}"
