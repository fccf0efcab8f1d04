"""What holds for every test: LibreOffice tests run where LibreOffice is, and say so where not."""

import pytest

from tests import libreoffice

MISSING = "LibreOffice is not installed, so it was not asked as second calculator"
NO_HANDS = "LibreOffice's Python (python3-uno) is not installed, so LibreOffice edited no book"


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a test marked `libreoffice` where the program is missing, or fail if it is required."""
    marker = item.get_closest_marker("libreoffice")
    if marker is None:
        return
    lacking = "" if libreoffice.soffice() else MISSING
    if not lacking and marker.kwargs.get("edits") and libreoffice.python() is None:
        lacking = NO_HANDS
    if lacking and libreoffice.required():
        pytest.fail(f"{lacking}, although {libreoffice.REQUIRED} is set", pytrace=False)
    if lacking:
        pytest.skip(lacking)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say at the end, test by test, what was not checked on this machine."""
    skipped = terminalreporter.getreports("skipped")
    found = {
        lacking: [r.nodeid for r in skipped if lacking in str(r.longrepr)]
        for lacking in (MISSING, NO_HANDS)
    }
    if not any(found.values()):
        return
    terminalreporter.section("NOT CHECKED on this machine")
    for lacking, unasked in found.items():
        if unasked:
            terminalreporter.write_line(f"{lacking}, in these {len(unasked)} tests:")
        for nodeid in unasked:
            terminalreporter.write_line(f"  {nodeid}")
    terminalreporter.write_line("Install LibreOffice (Calc and Writer) to check this as well.")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Let nothing be skipped unseen where LibreOffice is required: then a skip is a failure."""
    terminal = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = terminal.stats.get("skipped", []) if terminal else []
    if skipped and libreoffice.required() and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
