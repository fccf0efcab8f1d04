"""The blank starter book in `workbooks/` is what its script makes today."""

import importlib.util
import io
import zipfile
from pathlib import Path
from types import ModuleType

BUILD = Path(__file__).resolve().parents[2] / "workbooks" / "build.py"


def build() -> ModuleType:
    """Return the script that writes the starter book."""
    spec = importlib.util.spec_from_file_location("starter_build", BUILD)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def parts(package: bytes) -> list[tuple[str, bytes]]:
    """Return the parts of a workbook; how hard they are pressed differs between zlibs."""
    with zipfile.ZipFile(io.BytesIO(package)) as opened:
        return [(name, opened.read(name)) for name in opened.namelist()]


def test_the_starter_book_is_up_to_date() -> None:
    """Every part is the same byte for byte; if not, run `python workbooks/build.py`."""
    made = build()

    assert parts(made.STARTER.read_bytes()) == parts(made.starter())
