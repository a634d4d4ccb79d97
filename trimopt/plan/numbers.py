"""Issue numbers: shift-1, shift-2 replaces shift-1, …, counted over the folder of plans."""

from __future__ import annotations

import re
from pathlib import Path

__all__ = ["next_number"]


def next_number(folder: Path, stem: str) -> tuple[str, str]:
    """The next issue number for a book, and the number of the plan it replaces (or nothing).

    Examples
    --------
    >>> import tempfile
    >>> folder = Path(tempfile.mkdtemp())
    >>> next_number(folder, "shift")
    ('shift-1', '')
    >>> (folder / "shift-1.json").touch()
    >>> next_number(folder, "shift")
    ('shift-2', 'shift-1')
    """
    issued = [
        int(match[1])
        for path in folder.glob("*.json")
        if (match := re.fullmatch(rf"{re.escape(stem)}-(\d+)", path.stem))
    ]
    last = max(issued, default=0)
    return f"{stem}-{last + 1}", f"{stem}-{last}" if last else ""
