"""The command line: which verbs there are. Each is loaded only when it is called."""

import gc
import importlib
import io
import sys

import click

from ledger_tools import __version__
from ledger_tools.commands.report import Report, wants_json
from ledger_tools.errors import LedgerError

VERBS = {
    "new": "Make a new shop book.",
    "add-job": "Open a job: number, sheet and lines.",
    "recompute": "Work the book out and bring it up to date.",
    "check": "Say what is to be mended; write nothing.",
    "estimate": "Write estimates for the jobs that wait for the customer's yes.",
    "extra-work": "Ask for more than was authorised, before it is worked.",
    "invoice": "Issue invoices for the jobs that are to be billed.",
    "reprint": "Make the papers of invoices and estimates again.",
    "quarter": "Sum up a quarter in a workbook.",
    "year-end": "Sum up the year in a workbook.",
    "archive": "Move paid jobs to the archive book.",
    "next-year": "Open the new year's book.",
}


class Verbs(click.Group):
    """The verbs, each in a module of its own."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the verbs in the order a shop meets them."""
        del ctx
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command of a verb, or None for a word that is none."""
        del ctx
        if cmd_name not in VERBS:
            return None
        module = importlib.import_module(f"ledger_tools.commands.{cmd_name.replace('-', '_')}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of verbs without loading them."""
        del ctx
        with formatter.section("Verbs"):
            formatter.write_dl(list(VERBS.items()))


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="ledger-tools")
def ledger_tools() -> None:
    """Estimate, invoice and sum up from a shop book, a workbook that stays yours.

    \b
    Example:
      ledger-tools new shop-2025.xlsx --tax us-ca
      ledger-tools add-job shop-2025.xlsx --customer "R. Calder" --item "Cargo rack" --repair FRAME
      ledger-tools invoice shop-2025.xlsx
    """


def _spell_what_cannot_be_shown() -> None:
    """Let a letter that a terminal or pipe has no place for be spelled out, and stop no verb."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def main() -> None:
    """Run the command line and exit: 0 done, 1 the book needs mending, 2 wrong use."""
    _spell_what_cannot_be_shown()
    gc.disable()  # a verb is short, and what it makes is not circular
    try:
        code = ledger_tools(prog_name="ledger-tools", standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.Abort:
        click.echo("Stopped.", err=True)
        code = 1
    except click.ClickException as problem:
        problem.show()
        code = problem.exit_code
    except LedgerError as problem:
        code = Report(as_json=wants_json(sys.argv)).stop(problem)
    sys.exit(code if isinstance(code, int) else 0)
