"""`python -m ledger_tools` does what `ledger-tools` does."""

from ledger_tools.commands.main import main

main()
