"""Write the parts of the documentation that come from code and configuration.

    python -m docs.write

Run it in the checkout after a change of a verb, a tax profile or a published value of the tests; a
test fails until it was run.
"""

from docs.write.pages import PAGES, written


def main() -> None:
    """Bring every page with a written part up to date."""
    for path in PAGES:
        path.write_text(written(path), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
