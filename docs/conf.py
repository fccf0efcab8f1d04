"""How the documentation is built: `python -m sphinx -W -b html docs docs/_build/html`."""

from ledger_tools import __version__

project = "Ledger Tools"
author = "Ledger Tools contributors"
copyright = author  # noqa: A001 - the name Sphinx looks for
release = version = __version__

extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build"]
nitpicky = True

myst_heading_anchors = 3

html_theme = "alabaster"
html_theme_options = {
    "description": "Estimate, invoice and year-end of a metal-repair shop, in its own workbook.",
    "fixed_sidebar": True,
    "font_family": "Arial, Liberation Sans, sans-serif",
    "head_font_family": "Arial, Liberation Sans, sans-serif",
    "link": "#b4532a",
    "link_hover": "#1f2a33",
    "body_text": "#1f2a33",
}
html_show_sphinx = False
