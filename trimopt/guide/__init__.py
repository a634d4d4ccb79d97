"""The user's guide: chapters in Markdown, read with `trimopt guide` or here."""

from __future__ import annotations

from importlib.resources import files

CHAPTERS = {
    "scheduler": "one shift, from the order book to the winder",
    "sales": "does a width fit, and what does it cost in paper",
    "managers": "the ledger: what was run, and the trend of trim loss",
    "mill": "the mill file: winder, sheeters, jumbo, grades, values",
    "book": "the order book: columns, units, blanks, faults",
    "export": "your own order export: headings, words, figures, blanks",
    "inches": "inches and pounds: what may be typed, and what is read",
    "python": "plans, answers and the ledger from a script",
    "method": "how plans are found and what is proven, in plain words",
    "glossary": "the words of the trade, as they are used here",
}
"""Chapters in reading order, each with its subject."""


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
