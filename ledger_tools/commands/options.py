"""Arguments and options that several verbs share."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import click

_Command = Callable[..., Any]


class DayType(click.ParamType[date]):
    """A day written as 2025-02-03."""

    name = "YYYY-MM-DD"

    def convert(
        self, value: str | date, param: click.Parameter | None, ctx: click.Context | None
    ) -> date:  # fmt: skip
        """Return the day, or end with a usage error."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"'{value}' is not a day such as 2025-02-03", param, ctx)


def local_today() -> date:
    """Return today's date where the shop is."""
    return datetime.now(tz=UTC).astimezone().date()


book = click.argument(
    "book", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="BOOK"
)
today = click.option(
    "--today", type=DayType(), default=local_today, show_default="today",
    help="Day that figures which depend on a day are for.",
)  # fmt: skip
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
dry_run = click.option(
    "--dry-run", is_flag=True, help="List what would be written; write nothing."
)


def out(default: str) -> Callable[[_Command], _Command]:
    """Return the option that says where documents go; else a folder beside the book."""
    return click.option(
        "--out", type=click.Path(file_okay=False, path_type=Path), metavar="DIR",
        help=f"Folder for the documents.  [default: {default} beside the book]",
    )  # fmt: skip
