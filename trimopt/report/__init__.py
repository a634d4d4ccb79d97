"""A plan on paper and on screen: workbook, page, labels, terminal; a workbook read back.

Nothing is imported here: each caller names the room it needs, so that a command loads the
spreadsheet, page or terminal library only when it writes or shows something.
"""
