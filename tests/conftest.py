"""What holds for every test: LibreOffice tests run where LibreOffice is, and say so where not."""

import pytest

from tests import libreoffice

MISSING = "LibreOffice is not installed, so it was not asked as second calculator"


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a test marked `libreoffice` where the program is missing, or fail if it is required."""
    if item.get_closest_marker("libreoffice") is None or libreoffice.soffice():
        return
    if libreoffice.required():
        pytest.fail(f"{MISSING}, although {libreoffice.REQUIRED} is set", pytrace=False)
    pytest.skip(MISSING)
