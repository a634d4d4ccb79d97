"""`trimopt start`."""

from __future__ import annotations

from pathlib import Path

import click

from trimopt.cli.saying import say

__all__ = ["command"]


@click.command("start")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), metavar="DIR")
def command(folder: Path) -> None:
    """Lay down an example mill file and an empty order book, ready to fill in.

    Files that stand there already are left as they are, and the command says so.

    Example: trimopt start ourmill
    """
    from importlib.resources import files

    from trimopt.book import write_template
    from trimopt.errors import ReportError
    from trimopt.mill import read_mill
    from trimopt.plan.codec import write_whole

    mill_path, book_path = folder / "mill.toml", folder / "orders.xlsx"
    standing = [str(path) for path in (mill_path, book_path) if path.exists()]
    if standing:
        message = f"{' and '.join(standing)} stand there already; name an empty folder"
        raise ReportError(message)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(mill_path, files("trimopt.mill").joinpath("example.toml").read_bytes())
        write_template(book_path, read_mill(mill_path))
    except OSError as error:
        message = f"{folder}: {error.strerror}; name a folder that can be written to"
        raise ReportError(message) from error
    say(f"{mill_path}: describe your mill here; every key is explained")
    say(f"{book_path}: fill in the orders, then run: trimopt plan {book_path}")
