"""Compare a workbook's stored figures with what LibreOffice computes from its formulas."""

from pathlib import Path

from tests import libreoffice

RESIDUE = 1e-9
"""What binary numbers may differ by that stand for one figure, be it cents, shares or rates."""


def differences(content: bytes, tmp: Path) -> tuple[int, list[str]]:
    """Return how many figures were compared, and each that differs, by sheet and cell.

    Words are compared as well; an empty text and an empty cell are the same.
    """
    path = tmp / "book.xlsx"
    path.write_bytes(content)
    ours, theirs = libreoffice.cell_values(path), libreoffice.recalculated(path, tmp)
    if list(ours) != list(theirs):
        return 0, [f"sheets {list(ours)} and {list(theirs)}"]
    figures, found = 0, []
    for sheet, cells in ours.items():
        for cell in sorted(cells.keys() | theirs[sheet].keys()):
            one, other = cells.get(cell, ""), theirs[sheet].get(cell, "")
            if isinstance(one, int | float) and isinstance(other, int | float):
                figures += 1
                same = abs(one - other) < RESIDUE
            else:
                same = one == other
            if not same:
                found.append(f"{sheet}!{cell}: {one!r} stored, {other!r} computed")
    return figures, found
