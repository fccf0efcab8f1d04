"""The commands, called in this process and read by their JSON."""

from __future__ import annotations

import contextlib
import importlib
import io
import json
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any


class Tools:
    """The commands at work on one book.

    Attributes:
        findings: How often each kind of finding was reported, by severity and code.
    """

    def __init__(self, book: Path) -> None:
        self._book = book
        self.findings: Counter[tuple[str, str]] = Counter()

    def run(self, verb: str, *words: object, today: date, stops: bool = False) -> dict[str, Any]:
        """Return what a command reports.

        Args:
            verb: The command.
            words: Its arguments and options after the book.
            today: Day it is for.
            stops: Whether the command is to find an error; anything else ends the demonstration.
        """
        module = importlib.import_module(f"ledger_tools.commands.{verb.replace('-', '_')}")
        said = io.StringIO()
        arguments = [self._book, *words, "--today", today.isoformat(), "--json"]
        with contextlib.redirect_stdout(said):
            code = module.command.main([str(word) for word in arguments], standalone_mode=False)
        report: dict[str, Any] = json.loads(said.getvalue())
        for finding in report["findings"]:
            self.findings[finding["severity"], finding["code"]] += 1
        if bool(code) is not stops:
            raise RuntimeError(f"{verb} {words} ended with {code}: {report['findings']}")
        return report
