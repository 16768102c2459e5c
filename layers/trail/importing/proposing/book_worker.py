"""Reads one workbook and prints its sheets as JSON; run by `sealed`, in a process of its own.

A file of unknown origin may crash or stall the library that reads it, or fill the memory.
"""

from __future__ import annotations

import json
import sys
import zipfile
from pathlib import Path
from typing import Any

from python_calamine import CalamineSheet, CalamineWorkbook

from layers.errors import Refused
from layers.trail.importing.proposing.grids import MAX_CELLS, packed
from layers.trail.importing.sheet import check_unpacked, damage_refused, numbered, sheets_of, survey
from layers.trail.importing.source import refused

_MAX_MERGED = 100_000


def read(path: Path) -> dict[str, Any]:
    """The sheets that are shown, merged cells filled; notes name those that are hidden."""
    with damage_refused(path.name, "a damaged or foreign file"):
        # By its content: people rename workbooks to another suffix.
        with path.open("rb") as file:
            zipped = file.read(2) == b"PK"
        if zipped:
            check_unpacked(path)
        office = zipped and path.suffix.lower() != ".ods" and _is_office(path)
        with path.open("rb") as content:
            book = CalamineWorkbook.from_filelike(content)
            shown, hidden = sheets_of(book)
            notes = [f"the hidden sheet {title} was not read" for title in hidden]
            sheets, cells = [], 0
            for title in shown:
                unseen = survey(path, title).unseen if office else {}
                sheet = book.get_sheet_by_name(title)
                cells += sheet.total_height * sheet.total_width
                if cells > MAX_CELLS:
                    raise refused(path.name, f"at most {MAX_CELLS:,} cells", "more")
                rows: list[list[object]] = []
                for number, row in numbered(sheet, unseen):
                    rows += [[] for _ in range(number - len(rows) - 1)]
                    rows.append(list(row))
                _fill_merged(sheet, rows)
                sheets.append({"name": title, "rows": [[packed(c) for c in r] for r in rows]})
    return {"sheets": sheets, "notes": notes}


def _is_office(path: Path) -> bool:
    with zipfile.ZipFile(path) as archive:
        return "[Content_Types].xml" in archive.namelist()


def _fill_merged(sheet: CalamineSheet, rows: list[list[object]]) -> None:
    """Give each cell of a merged range the value of its first."""
    filled = 0
    for (top, left), (bottom, right) in sheet.merged_cell_ranges or ():
        if top >= len(rows) or left >= len(rows[top]):
            continue
        value = rows[top][left]
        filled += (bottom - top + 1) * (right - left + 1)
        if value is None or filled > _MAX_MERGED:
            continue
        for cells in rows[top : bottom + 1]:
            cells.extend([None] * (right + 1 - len(cells)))
            cells[left : right + 1] = [value] * (right + 1 - left)


def main() -> None:
    try:
        message = read(Path(sys.argv[1]))
    except Refused as error:
        fault = error.faults[0]
        message = {"expected": fault.expected, "came": fault.came}
    except MemoryError:
        message = {
            "expected": "a spreadsheet that fits into 1 GB of memory",
            "came": "a larger one",
        }
    sys.stdout.write(json.dumps(message))


if __name__ == "__main__":
    main()
