"""History of issued plans and of what was run, and the trend that managers read from it.

Nothing is imported here, so that a page can name a column of the ledger without a database.
"""
