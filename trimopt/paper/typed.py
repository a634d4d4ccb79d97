"""Figures as people type them, and what is wrong with one that cannot be read."""

from __future__ import annotations

__all__ = ["CellFaultError"]


class CellFaultError(Exception):
    """A figure, unit or word that cannot be read: what is wrong and what would be right.

    Who reads the cell, option or key turns it into a `Fault` with its place; it leaves no command.
    """

    def __init__(self, wrong: str, right: str) -> None:
        self.wrong = wrong
        self.right = right
        super().__init__(f"{wrong}; {right}")
