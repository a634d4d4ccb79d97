"""Writing a workbook whole or not at all, and byte for byte the same each time."""

from __future__ import annotations

import io
import os
import re
import tempfile
import zipfile
from contextlib import suppress
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.errors import ReportError

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook

_ZIP_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest that the container can state
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")


def save_workbook(workbook: Workbook, path: str | PathLike[str], *, saved: datetime) -> None:
    """Write `workbook` to `path`, stating `saved` as the moment at which it was saved.

    The file appears whole or not at all; the same workbook gives the same bytes.

    Raises
    ------
    ReportError
        Where the file cannot be written.
    """
    path = Path(path)
    workbook.properties.created = saved
    workbook.properties.modified = saved
    raw = io.BytesIO()
    workbook.save(raw)
    stamp = saved.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    packed = io.BytesIO()
    with (
        zipfile.ZipFile(raw) as source,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in source.namelist():
            part = source.read(name)
            if name == "docProps/core.xml":
                # Saving states the clock's time, whatever the workbook says.
                part = _MODIFIED.sub(rb"\g<1>" + stamp + rb"\g<2>", part)
            info = zipfile.ZipInfo(name, date_time=_ZIP_TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.create_system = 0  # alike on every system
            info.external_attr = 0o600 << 16
            target.writestr(info, part)
    _write_whole(path, packed.getvalue())


def _write_whole(path: Path, data: bytes) -> None:
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise ReportError(f"{path}: cannot be written ({error.strerror})") from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        # The temporary file is for its owner alone; a book is for everybody the folder is for.
        mask = os.umask(0)
        os.umask(mask)
        Path(temporary).chmod(0o666 & ~mask)
        Path(temporary).replace(path)
    except OSError as error:
        with suppress(OSError):
            Path(temporary).unlink()
        raise ReportError(
            f"{path}: cannot be written ({error.strerror}); close it where else it is open"
        ) from error
