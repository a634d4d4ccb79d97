"""Across the web: layouts, knife positions, running order, moves and bounds on them."""
