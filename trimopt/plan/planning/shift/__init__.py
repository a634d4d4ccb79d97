"""The shift's hours: which sets are run in them, and which orders are carried over."""
