"""The parts inside a workbook file, read and changed one by one."""
