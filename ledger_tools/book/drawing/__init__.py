"""How the sheets of a shop book are drawn: labels, formats, lists to choose from, print set-up."""
