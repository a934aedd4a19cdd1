"""What a person's hands do in LibreOffice: cut, paste, drag, delete, copy, undo.

Run by a Python that has the bridge to LibreOffice, not by that of the tests::

    python3 hands.py job.xlsx 2002 < what.json

``what.json`` names the entries of the workbook and the moves to make.  After each move every
entry is typed as it stands now into a second, untouched copy; what is printed for each move
is every cell whose value differs between the two.  So a formula that followed a moved cell
is caught, whatever it is for.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

import uno
from com.sun.star.beans import PropertyValue


def main() -> None:
    """Make all moves, and print what came of each."""
    path, port = Path(sys.argv[1]), sys.argv[2]
    asked = json.load(sys.stdin)
    desk = connect(port)
    hands = Hands(desk, path, asked["entries"])
    json.dump([hands.make(move) for move in asked["moves"]], sys.stdout)
    if "save" in asked:
        hands.save(Path(asked["save"]))
    desk.component.terminate()


class Desk:
    """LibreOffice, and what sends it the commands of its menus."""

    def __init__(self, context: Any) -> None:
        manager = context.ServiceManager
        self.component = manager.createInstanceWithContext("com.sun.star.frame.Desktop", context)
        self.dispatcher = manager.createInstanceWithContext(
            "com.sun.star.frame.DispatchHelper", context
        )

    def open(self, path: Path) -> Any:
        """Open a workbook without a window."""
        return self.component.loadComponentFromURL(
            path.resolve().as_uri(), "_blank", 0, (said("Hidden", True),)
        )


def connect(port: str) -> Desk:
    """Return LibreOffice once it listens."""
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", local
    )
    where = f"uno:socket,host=127.0.0.1,port={port};urp;StarOffice.ComponentContext"
    for _ in range(200):
        try:
            return Desk(resolver.resolve(where))
        except Exception:  # it does not listen yet
            time.sleep(0.2)
    raise SystemExit("LibreOffice does not listen")


def said(name: str, value: Any) -> Any:
    """Return one named argument of a command."""
    argument = PropertyValue()
    argument.Name, argument.Value = name, value
    return argument


class Hands:
    """The workbook that is handled, and the copy into which the same is typed."""

    def __init__(self, desk: Desk, path: Path, entries: list[Any]) -> None:
        self.desk, self.entries = desk, entries
        self.handled, self.typed = desk.open(path), desk.open(path)
        self.shown, self.as_typed = shown(self.handled), shown(self.typed)

    def make(self, move: dict[str, Any]) -> dict[str, Any]:
        """Make a move; return what changed by it, and what differs from the same figures typed."""
        before = self.shown
        getattr(self, move["do"])(move)
        self.shown = shown(self.handled)
        self._type_alike()
        return {
            "changed": len(different(before, self.shown)),
            "differs": different(self.shown, self.as_typed),
        }

    def cut(self, move: dict[str, Any]) -> None:
        """Cut and paste."""
        self._command("Cut", move["from"])
        self._command("Paste", move["to"])

    def copy(self, move: dict[str, Any]) -> None:
        """Copy and paste."""
        self._command("Copy", move["from"])
        self._command("Paste", move["to"])

    def delete(self, move: dict[str, Any]) -> None:
        """Press the delete key."""
        self._command("ClearContents", move["from"])

    def undo(self, move: dict[str, Any]) -> None:
        """Undo some steps."""
        for _ in range(move["steps"]):
            self._command("Undo", None)

    def drag(self, move: dict[str, Any]) -> None:
        """Drag cells to another place."""
        (sheet, cells), (onto, at) = move["from"], move["to"]
        source = self._cells(self.handled, sheet, cells).getRangeAddress()
        target = self._cells(self.handled, onto, at).getCellByPosition(0, 0).getCellAddress()
        self.handled.Sheets.getByName(onto).moveRange(target, source)

    def type(self, move: dict[str, Any]) -> None:
        """Type a number or words."""
        sheet, at = move["to"]
        cell = self._cells(self.handled, sheet, at).getCellByPosition(0, 0)
        if isinstance(move["what"], str):
            cell.String = move["what"]
        else:
            cell.Value = move["what"]

    def enter(self, move: dict[str, Any]) -> None:
        """Type keys, of which the spreadsheet makes what it will: a number, a date, a text."""
        controller = self.handled.CurrentController
        controller.select(self._cells(self.handled, *move["to"]))
        keys = (said("StringName", move["what"]),)
        self.desk.dispatcher.executeDispatch(controller.Frame, ".uno:EnterString", "", 0, keys)

    def save(self, path: Path) -> None:
        """Save what was handled as an Excel workbook."""
        kind = said("FilterName", "Calc MS Excel 2007 XML")
        self.handled.storeToURL(path.resolve().as_uri(), (kind,))

    def _command(self, name: str, where: list[str] | None) -> None:
        controller = self.handled.CurrentController
        if where:
            controller.select(self._cells(self.handled, *where))
        self.desk.dispatcher.executeDispatch(controller.Frame, f".uno:{name}", "", 0, ())

    def _type_alike(self) -> None:
        for sheet, row, column in self.entries:
            value = self.shown[sheet][row][column]
            if value != self.as_typed[sheet][row][column]:
                cell = self.typed.Sheets.getByName(sheet).getCellByPosition(column, row)
                if isinstance(value, str):
                    cell.String = value
                else:
                    cell.Value = value
        self.as_typed = shown(self.typed)

    def _cells(self, book: Any, sheet: str, cells: str) -> Any:
        return book.Sheets.getByName(sheet).getCellRangeByName(cells)


Shown = dict[str, Any]
"""The values of each sheet, row by row; None where a formula fails."""


def shown(book: Any) -> Shown:
    """Return everything that a workbook shows, worked out."""
    book.calculate()
    out = {}
    for sheet in book.Sheets:
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.RangeAddress
        area = sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow)
        out[sheet.Name] = area.getDataArray()
    return out


def different(one: Shown, other: Shown) -> list[Any]:
    """Return sheet, row, column and both values of each cell that differs."""
    return [
        [sheet, row, column, here, there]
        for sheet, rows in one.items()
        for row, (left, right) in enumerate(zip(rows, other[sheet], strict=True))
        if left != right
        for column, (here, there) in enumerate(zip(left, right, strict=True))
        if here != there
    ]


if __name__ == "__main__":
    main()
