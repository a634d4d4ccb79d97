"""The user's guide: chapters in Markdown, read with `trimopt guide` or here."""

from __future__ import annotations

from importlib.resources import files

__all__ = ["CHAPTERS", "chapter_text"]

CHAPTERS = {
    "python": "plans, answers and the ledger from a script",
    "method": "how plans are found and what is proven, in plain words",
    "glossary": "the words of the trade, as they are used here",
}
"""Chapters in reading order, each with what it tells."""


def chapter_text(name: str) -> str:
    """Return a chapter's Markdown.

    Raises
    ------
    KeyError
        There is no such chapter.

    Examples
    --------
    >>> chapter_text("glossary").splitlines()[0]
    '# Glossary'
    """
    if name not in CHAPTERS:
        raise KeyError(name)
    return files(__name__).joinpath(f"{name}.md").read_text(encoding="utf-8")
