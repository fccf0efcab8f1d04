"""The shop book as a workbook file: its layout, its formulas, reading, patching, creating."""
