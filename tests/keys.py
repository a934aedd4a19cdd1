"""What a person's keys do in LibreOffice: go to a cell, type, press Enter, and look.

Run by a Python that has the bridge to LibreOffice, not by that of the tests::

    python3 keys.py job.xlsx 2002 < what.json

``what.json`` is a list of steps, each with the cells to ``type`` in, ``[sheet, cell, keys]``,
and those to ``look`` at, ``[sheet, cell]``; printed is, for each step, what they show.  Keys go
through the program's own reading of what is typed: a date becomes a date.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from hands import connect, said


def main() -> None:
    """Take all steps, and print what was seen after each."""
    path, port = Path(sys.argv[1]), sys.argv[2]
    desk = connect(port)
    workbook = desk.open(path)
    seen = []
    for step in json.load(sys.stdin):
        for sheet, cell, keys in step["type"]:
            press(desk, workbook, sheet, cell, keys)
        seen.append([shown(workbook, *where) for where in step["look"]])
    json.dump(seen, sys.stdout)
    desk.component.terminate()


def press(desk: Any, workbook: Any, sheet: str, cell: str, keys: str) -> None:
    """Go to a cell and type."""
    controller = workbook.CurrentController
    controller.setActiveSheet(workbook.Sheets.getByName(sheet))
    for command, name, what in (("GoToCell", "ToPoint", cell), ("EnterString", "StringName", keys)):
        arguments = (said(name, what),)
        desk.dispatcher.executeDispatch(controller.Frame, f".uno:{command}", "", 0, arguments)


def shown(workbook: Any, sheet: str, cell: str) -> str:
    """Return what a cell shows."""
    words: str = workbook.Sheets.getByName(sheet).getCellRangeByName(cell).String
    return words


if __name__ == "__main__":
    main()
