"""The command line: one verb a module, no arithmetic."""
