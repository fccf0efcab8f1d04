"""Parts of a page between two marks, written by a program; what stands around them is by hand."""

from collections.abc import Iterable

MARK = "<!-- {}: written by python -m docs.write -->\n"
END = "<!-- end of {} -->\n"


class MarkMissingError(ValueError):
    """A page has lost one of the two marks of a part, or has it twice."""


def with_part(page: str, name: str, text: str) -> str:
    r"""Return `page` with `text` between the marks of the part `name`.

    >>> page = "Before\n" + MARK.format("x") + "old\n" + END.format("x") + "After\n"
    >>> with_part(page, "x", "new") == page.replace("old\n", "\nnew\n\n")
    True

    Raises:
        MarkMissingError: The page does not hold each mark once, the first before the second.
    """
    begin, end = MARK.format(name), END.format(name)
    before, found, rest = page.partition(begin)
    _, ended, after = rest.partition(end)
    if not (found and ended) or begin in after or end in before + after:
        raise MarkMissingError(f"the page must hold '{begin.strip()}' and '{end.strip()}' once")
    return f"{before}{begin}\n{text.strip()}\n\n{end}{after}"


def table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    r"""Return a Markdown table.

    >>> print(table(["Verb", "Does"], [["a|b", "x"]]))
    | Verb | Does |
    | --- | --- |
    | a\|b | x |
    """
    heads = tuple(heads)
    lines = (heads, ["---"] * len(heads), *(map(_cell, row) for row in rows))
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _cell(text: str) -> str:
    return " ".join(text.replace("|", r"\|").split())
