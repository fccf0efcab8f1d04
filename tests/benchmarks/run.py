"""Measure what the tools take, as ratios: `python -m tests.benchmarks.run [--write]`.

Run it in the checkout, with the Python of `.venv`, which has what the tests need. `--write` puts
the table in `docs/performance.md`. Exit code 1 where a goal is missed.
"""

import platform
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.comparisons import books, comparisons
from tests.benchmarks.largest import every_verb, lines_billed, verbs_table
from tests.benchmarks.measure import measure, table
from tests.benchmarks.scale import missed, scale_of, scale_table

PAGE = Path(__file__).resolve().parents[2] / "docs" / "performance.md"
BEGIN = "<!-- table: written by tests/benchmarks/run.py -->\n"
END = "<!-- end of table -->\n"


def main() -> int:
    """Measure everything, print the table, and return 1 where a goal is missed."""
    with tempfile.TemporaryDirectory() as folder:
        measured = [measure(comparison) for comparison in comparisons(Path(folder))]
        made = dict(books(Path(folder)))
        scales = [scale_of(book, sheets) for sheets, book in made.items()]
        most = max(made)
        took = verbs_table(most, lines_billed(made[most]), list(every_verb(made[most])))
    text = f"{table(measured)}\n{scale_table(scales)}\n{took}"
    print(text)
    if "--write" in sys.argv[1:]:
        _write(f"{text}\nPython {platform.python_version()}, {platform.system()}.\n")
    return 0 if all(m.holds for m in measured) and not missed(scales) else 1


def _write(text: str) -> None:
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    PAGE.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
