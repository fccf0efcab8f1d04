"""What may be typed in a column, and what is said when it is not what the tools expect."""

from typing import Any

from ledger_tools.book.drawing.pen import Page
from ledger_tools.book.layout import Column

_MOST_TITLE = 32
_MOST_MESSAGE = 255
COMPUTED = "The tools compute this cell and put the computed figure back at the next recompute."


def rule_for(column: Column) -> dict[str, Any] | None:
    """Return XlsxWriter validation options for a column, or None where anything may be typed.

    Computed cells are not locked, they ask back: a protected sheet cannot grow.
    """
    rule = _hint(column.header, column.hint)
    if not column.typed:
        return rule | {
            "validate": "custom",
            "value": "=FALSE",
            "error_type": "warning",
            "error_title": "Computed cell",
            "error_message": COMPUTED,
        }
    if isinstance(column.choices, str):
        return rule | {
            "validate": "list",
            "source": column.choices,
            "error_type": "warning",
            "error_title": column.header,
            "error_message": "This is not in the list the book holds so far.",
        }
    if column.choices:
        return rule | one_of(column.header, column.choices)
    return rule | {"validate": "any"} if rule else None


def one_of(title: str, choices: tuple[str, ...]) -> dict[str, Any]:
    """Return a rule that lets one of `choices` in, and nothing else."""
    return {
        "validate": "list",
        "source": list(choices),
        "error_title": title,
        "error_message": f"Choose one of: {', '.join(choices)}."[:_MOST_MESSAGE],
    }


def _hint(title: str, hint: str) -> dict[str, Any]:
    if not hint:
        return {}
    return {"input_title": title[:_MOST_TITLE], "input_message": hint[:_MOST_MESSAGE]}


def hint_rule(title: str, hint: str, choices: tuple[str, ...] = ()) -> dict[str, Any] | None:
    """Return the rule of a single cell with a hint, choices, both or none."""
    rule = _hint(title, hint)
    if choices:
        return rule | one_of(title, choices)
    return rule | {"validate": "any"} if rule else None


def lay_rule(page: Page, rows: tuple[int, int], col: int, rule: dict[str, Any] | None) -> None:
    """Lay `rule` over the cells of a column from the first to the last of `rows`."""
    if rule is not None:
        page.sheet.data_validation(rows[0] - 1, col - 1, rows[1] - 1, col - 1, rule)
