"""Tables found again by their headers, where another program dissolved or narrowed them.

LibreOffice dissolves the tables of a sheet when the sheet to its right is deleted, and leaves a
column outside the table that is moved to its edge.
"""

from collections.abc import Iterable, Iterator, Sequence

from ledger_tools.book.layout import TAX_CLASS_HEADER, Column, TableLayout
from ledger_tools.shop.snapshot import SheetSnapshot, TableArea

_LOOK_FOR_HEADERS = 40
"""Rows from the top in which the headers of a dissolved table are looked for."""
_ENTRY = 2
"""Typed cells that make a row below a gap an entry and not a remark."""


def bare_sheets(sheets: Iterable[SheetSnapshot], known: frozenset[str]) -> list[SheetSnapshot]:
    """Return the sheets that hold none of the tables `known`, named in lower case."""
    return [s for s in sheets if not any(t.name.casefold() in known for t in s.tables)]


def register_area(
    bare: Sequence[SheetSnapshot], layout: TableLayout
) -> tuple[SheetSnapshot, TableArea] | None:
    """Return where a register without table stands among `bare` sheets.

    That is the sheet of its name, where it has most headers, or else the only one that has all.
    """
    most = len(layout.columns) // 2 + 1
    named = (s for s in bare if s.name.casefold() == layout.sheet.casefold())
    for sheet in named:
        area = header_area(sheet, layout.columns, most)
        if area is not None:
            return sheet, area._replace(name=layout.table)
    found = [
        (sheet, area._replace(name=layout.table))
        for sheet in bare
        if (area := header_area(sheet, layout.columns, len(layout.columns))) is not None
    ]
    return found[0] if len(found) == 1 else None


def header_area(
    sheet: SheetSnapshot, columns: Sequence[Column], at_least: int
) -> TableArea | None:
    """Return the area below the first row that holds `at_least` so many headers of `columns`."""
    wanted = {column.header.casefold() for column in columns}
    for row, texts in _text_rows(sheet):
        cols = [col for col, text in texts.items() if text in wanted]
        if len({texts[col] for col in cols}) >= at_least:
            first, last = min(cols), max(cols)
            while last + 1 in texts:
                last += 1
            return TableArea("", row, first, _entries_end(sheet, row, first, last), last)
    return None


def class_area(
    bare: Sequence[SheetSnapshot], rates: int, name: str
) -> tuple[SheetSnapshot, TableArea] | None:
    """Return where the table of tax classes stands, left of column `rates` if there is one."""
    for sheet in bare:
        for row, texts in _text_rows(sheet):
            for col, text in texts.items():
                if text == TAX_CLASS_HEADER.casefold():
                    last = col
                    while last + 1 in texts and last + 1 != rates:
                        last += 1
                    end = _entries_end(sheet, row, col, col)
                    return sheet, TableArea(name, row, col, end, last)
    return None


def widened(sheet: SheetSnapshot, area: TableArea, columns: Iterable[Column]) -> TableArea:
    """Return `area` with the columns right beside it that belong to it by their headers."""
    texts = dict(_texts(sheet, area.first_row))
    inside = {texts.get(col) for col in range(area.first_col, area.last_col + 1)}
    lost = {column.header.casefold() for column in columns} - inside
    first, last, col = area.first_col, area.last_col, area.last_col + 1
    while lost and col in texts:
        last = col if texts[col] in lost else last
        lost.discard(texts[col])
        col += 1
    col = area.first_col - 1
    while lost and col in texts:
        first = col if texts[col] in lost else first
        lost.discard(texts[col])
        col -= 1
    return area._replace(first_col=first, last_col=last)


def may_be_table(sheet: SheetSnapshot, area: TableArea) -> bool:
    """Whether cells can be a table: headers that are plain texts, no two alike, no other table."""
    row, cols = area.first_row, range(area.first_col, area.last_col + 1)
    texts = dict(_texts(sheet, row))
    there = [texts.get(col, "") for col in cols]
    plain = all(text and text.isprintable() for text in there) and len(set(there)) == len(there)
    others = (t for t in sheet.tables if t.name != area.name)
    return (
        plain
        and not any((row, c) in sheet.formulas for c in cols)
        and not any(
            t.first_row <= area.last_row
            and t.last_row >= row
            and t.first_col <= area.last_col
            and t.last_col >= area.first_col
            for t in others
        )
    )


def _text_rows(sheet: SheetSnapshot) -> Iterator[tuple[int, dict[int, str]]]:
    """Yield the rows near the top that hold texts, with these in lower case by column."""
    rows: dict[int, dict[int, str]] = {}
    for (row, col), value in sheet.values.items():
        if row < _LOOK_FOR_HEADERS and isinstance(value, str) and value.strip():
            rows.setdefault(row, {})[col] = value.strip().casefold()
    yield from sorted(rows.items())


def _texts(sheet: SheetSnapshot, at: int) -> Iterator[tuple[int, str]]:
    """Yield columns and texts of one row, in lower case."""
    for (row, col), value in sheet.values.items():
        if row == at and isinstance(value, str) and value.strip():
            yield col, value.strip().casefold()


def _entries_end(sheet: SheetSnapshot, header_row: int, first: int, last: int) -> int:
    """Return the last row of entries; a remark some rows below is none."""
    filled: dict[int, int] = {}
    formulas = sheet.formulas
    for row, col in sheet.values:
        if row > header_row and first <= col <= last:
            filled[row] = filled.get(row, 0) + ((row, col) not in formulas)
    end = header_row + 1
    while end + 1 in filled:
        end += 1
    return max([end, *(row for row, typed in filled.items() if typed >= _ENTRY)])
