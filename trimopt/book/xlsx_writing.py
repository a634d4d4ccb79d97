"""Writing a workbook whole or not at all, and byte for byte the same each time."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.whole_files import write_whole

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
    write_whole(Path(path), packed.getvalue())
