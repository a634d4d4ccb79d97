"""`trimopt start`."""

from __future__ import annotations

from pathlib import Path

import click

from trimopt.cli.saying import say

__all__ = ["command"]


@click.command("start")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), metavar="DIR")
@click.option(
    "--book",
    "book_alone",
    is_flag=True,
    help="Write the empty order book again, for DIR/mill.toml as it is now.",
)
def command(folder: Path, book_alone: bool) -> None:
    """Lay down an example mill file and an empty order book, ready to fill in.

    Refuses to overwrite existing files; with --book, an order book with anything filled in.

    Example: trimopt start ourmill
    """
    from importlib.resources import files

    from trimopt.book import write_template
    from trimopt.book.book_template import is_filled_in
    from trimopt.errors import ReportError
    from trimopt.mill import read_mill
    from trimopt.plan.codec import write_whole

    mill_path, book_path = folder / "mill.toml", folder / "orders.xlsx"
    standing = [str(path) for path in (mill_path, book_path) if path.exists()]
    if book_alone:
        mill = read_mill(mill_path)
        if book_path.exists() and is_filled_in(book_path):
            raise ReportError(f"{book_path} is filled in already; move it or rename it first")
        write_template(book_path, mill)
        say(f"{book_path}: empty, with the grades, cores and limits of {mill_path}")
        return
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
    say(f"{book_path}: for your mill's grades and cores, run again: trimopt start {folder} --book")
    say(f"Fill in the orders, then run: trimopt plan {book_path}")
