"""Files that are written whole or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from trimopt.errors import ReportError


def write_whole(path: Path, content: bytes | str) -> None:
    """Write a file whole or not at all.

    The content goes to a temporary file in the same folder, is forced to the disk, and takes the
    name at once. A reader sees the old file or the new one, never a part.

    Parameters
    ----------
    path
        Where to write; folders that are not there are made. A file of that name is replaced.
    content
        Text is written as UTF-8, its line ends as they are.

    Raises
    ------
    ReportError
        The file cannot be written; one that stood there is as it was.
    """
    try:
        data = content.encode() if isinstance(content, str) else content
    except UnicodeEncodeError as fault:
        message = f"{path}: cannot be written: {fault}; mend that text in the order book"
        raise ReportError(message) from fault
    part = _part_of(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = _opened(part)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(part, path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
        with suppress(FileNotFoundError):  # another program has moved the file on, and seen to it
            sync_folder(path.parent)
    except OSError as fault:
        raise _not_written(path, fault) from fault


def require_writable(path: Path) -> None:
    """See that a file can be written, before the long work whose answer it is to hold.

    Parameters
    ----------
    path
        The file, or a folder that is to hold some. What is not there is made only when it is
        written.

    Raises
    ------
    ReportError
        It cannot: another program holds the file, or its folder takes none.
    """
    around = [path, *path.absolute().parents][path.is_file() :]
    part = _part_of(next(each for each in around if each.exists()) / "file")
    try:
        if path.is_file():
            path.open("ab").close()
        os.close(_opened(part))
        part.unlink()
    except OSError as fault:
        raise _not_written(path, fault) from fault


def _part_of(path: Path) -> Path:
    return path.with_name(f".{path.name}.{os.getpid()}.{os.urandom(4).hex()}.part")


def _opened(part: Path) -> int:
    """A new file's handle; the user's own mask says who reads it, as of any file."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return os.open(part, flags, 0o666)


def _not_written(path: Path, fault: OSError) -> ReportError:
    reason = fault.strerror or str(fault)
    return ReportError(
        f"{path}: cannot be written: {reason}; choose another folder or free the file"
    )


def sync_folder(folder: Path) -> None:
    """Force the new name to the disk, where the system lets a folder be opened."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
