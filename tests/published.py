"""Published check values: figures someone else has printed, each with where it was read.

They stand in `tests/check_values/`, one file a subject. A test asserts one with `said(value)` as
its message, so a failure names the publication.
"""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml

_FOLDER = Path(__file__).parent / "check_values"


def published(subject: str, *, prefix: str = "") -> list[Any]:
    """Return the values of a subject as test parameters, each under its id."""
    listed = yaml.safe_load((_FOLDER / f"{subject}.yaml").read_text(encoding="utf-8"))["checks"]
    chosen = [value for value in listed if value["id"].startswith(prefix)]
    if not chosen:
        raise LookupError(prefix)
    return [pytest.param(value, id=value["id"]) for value in chosen]


def said(value: dict[str, Any]) -> str:
    """Return where a value was read and how far it can be trusted."""
    return f"{value['id']}: {value['source']} ({value['status']})"


def decimal(value: dict[str, Any], group: str, key: str) -> Decimal:
    """Return a figure of a value, which has to stand as text so that no float comes between."""
    written = value[group][key]
    if not isinstance(written, str):
        raise TypeError(written)
    return Decimal(written)
