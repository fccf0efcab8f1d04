"""Every live formula of the shop book, in one place.

Each function returns formula text without the leading ``=``, for the places the tables stand
at in one book. Patterns keep to functions that Excel and LibreOffice share, end every amount
in ROUND, and use bounded or whole-column ranges, so that a row typed under a table counts.
"""
