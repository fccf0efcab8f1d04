"""Estimating and invoicing for a metal-repair shop that lives in one workbook."""

__version__ = "0.1.0"
