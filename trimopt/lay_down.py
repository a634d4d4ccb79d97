"""The two files to begin with: a mill file, and an empty order book for that mill."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from trimopt.book import write_template
from trimopt.errors import ReportError
from trimopt.mill import example_mill_text, read_mill_text
from trimopt.whole_files import write_whole


def lay_down(
    folder: str | os.PathLike[str], describe: Callable[[], str] = example_mill_text
) -> tuple[Path, Path]:
    """Lay down a mill file and an empty order book for it, and give their paths.

    Parameters
    ----------
    folder
        Is made where there is none.
    describe
        Gives what the mill file says, such as `first_mill_text` of answers; called where neither
        file stands there yet. Default: the example, which explains every key.

    Raises
    ------
    MillFileError
        The mill that it describes cannot be; nothing is written.
    ReportError
        One of the files stands there already, or the folder cannot be written to.
    """
    paths = Path(folder) / "mill.toml", Path(folder) / "orders.xlsx"
    standing = [str(path) for path in paths if path.exists()]
    if standing:
        message = f"{' and '.join(standing)} stand there already; name an empty folder"
        raise ReportError(message)
    content = describe().encode()
    mill = read_mill_text(content, str(paths[0]))
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"{folder}: {error.strerror}; name a folder that can be written to"
        raise ReportError(message) from error
    write_whole(paths[0], content)
    write_template(paths[1], mill)
    return paths
