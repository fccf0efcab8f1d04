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


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say at the end, test by test, what was not checked on this machine."""
    skipped = terminalreporter.getreports("skipped")
    unasked = [report.nodeid for report in skipped if MISSING in str(report.longrepr)]
    if not unasked:
        return
    terminalreporter.section("NOT CHECKED on this machine")
    terminalreporter.write_line(f"{MISSING} by these {len(unasked)} tests:")
    for nodeid in unasked:
        terminalreporter.write_line(f"  {nodeid}")
    terminalreporter.write_line("Install LibreOffice (Calc and Writer) to check this as well.")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Let nothing be skipped unseen where LibreOffice is required: then a skip is a failure."""
    terminal = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = terminal.stats.get("skipped", []) if terminal else []
    if skipped and libreoffice.required() and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
