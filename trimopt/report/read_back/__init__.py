"""A workbook of ours read again: its sets, and what was edited or filled in."""
