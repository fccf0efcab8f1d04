"""The page of commands, from what each verb says of itself when asked with `--help`."""

import inspect
from typing import TypeGuard

import click

from docs.write.parts import table
from ledger_tools.commands.main import ledger_tools

_UNWRAPPED = "\b\n"


def commands_part() -> str:
    """Return a section for each verb: what it does, how it is typed, its options."""
    whole = click.Context(ledger_tools, info_name="ledger-tools")
    verbs = ledger_tools.list_commands(whole)
    found = ((verb, ledger_tools.get_command(whole, verb)) for verb in verbs)
    return "\n\n".join(_section(verb, command) for verb, command in found if command)


def _section(verb: str, command: click.Command) -> str:
    usage = " ".join(["ledger-tools", verb, "[OPTIONS]", *map(_argument, _arguments(command))])
    paragraphs = inspect.cleandoc(command.help or "").split("\n\n")
    said = [_paragraph(text) for text in paragraphs]
    options = [_option(p) for p in command.params if _is_option(p)]
    listed = table(("Option", "Means", "If left out"), options)
    return "\n\n".join([f"## {verb}", f"```text\n{usage}\n```", *said, listed])


def _is_option(parameter: click.Parameter) -> TypeGuard[click.Option]:
    return isinstance(parameter, click.Option)


def _arguments(command: click.Command) -> list[click.Parameter]:
    return [p for p in command.params if not _is_option(p)]


def _argument(parameter: click.Parameter) -> str:
    return parameter.metavar or (parameter.name or "").upper()


def _paragraph(text: str) -> str:
    """Return a paragraph of the help; one that keeps its lines is an example to paste."""
    if not text.startswith(_UNWRAPPED):
        return " ".join(text.split())
    head, _, lines = text.removeprefix(_UNWRAPPED).partition("\n")
    return f"{head}\n\n```text\n" + "\n".join(x.strip() for x in lines.splitlines()) + "\n```"


def _option(option: click.Option) -> tuple[str, str, str]:
    value = "" if option.is_flag else f" {_value(option)}"
    means = (option.help or "").partition("  [default:")[0]
    return f"`{', '.join(option.opts)}{value}`", means, _default(option)


def _value(option: click.Option) -> str:
    if option.metavar:
        return option.metavar
    if isinstance(option.type, click.Choice):
        return "|".join(map(str, option.type.choices))
    return option.type.name


def _default(option: click.Option) -> str:
    if option.required:
        return "must be given"
    _, told, default = (option.help or "").partition("  [default:")
    if told:
        return default.rstrip("]").strip()
    if isinstance(option.show_default, str):
        return option.show_default
    return str(option.default) if option.show_default else ""
