"""Where the published values of the tests were read, from `tests/check_values/`."""

from collections import Counter
from pathlib import Path

import yaml

from docs.write.parts import table

VALUES = Path(__file__).resolve().parents[2] / "tests" / "check_values"


def sources_part(folder: Path = VALUES) -> str:
    """Return a table of subjects and sources, with how many values each gives."""
    counted: Counter[tuple[str, str, str]] = Counter()
    for path in sorted(folder.glob("*.yaml")):
        for value in yaml.safe_load(path.read_text(encoding="utf-8"))["checks"]:
            counted[path.stem, value["source"], value["status"]] += 1
    rows = ((*key, str(count)) for key, count in counted.items())
    return table(("Subject", "Source", "How it was obtained", "Values"), rows)
