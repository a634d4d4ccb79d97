"""Read a mill file: TOML in, a checked `Mill` out, or every fault at once."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from trimopt.errors import Fault, MillFileError
from trimopt.mill import model
from trimopt.mill.mill_keys import SECTIONS, MillTable, SectionShape
from trimopt.mill.mill_rules import Sections, impossible, knife_spacing_mm
from trimopt.mill.mill_section import Section, as_written, closest, read_section, texts_of
from trimopt.mill.model import Mill
from trimopt.text import one_form

_TABLES = {table.name: table for table in SECTIONS}
_MAX_FILE_BYTES = 1_000_000
_FREE_VALUES = {"headings": "heading", "words": "list of words"}
_MAX_DIGITS = 1000
_Kind = TypeVar("_Kind")
_ENDLESS = re.compile(rf"[0-9]{{{_MAX_DIGITS},}}")


def read_mill(path: str | os.PathLike[str]) -> Mill:
    """Read a mill file and check it.

    Parameters
    ----------
    path
        A TOML file; `example_mill_text` is one with every key explained.

    Returns
    -------
    Mill
        With `source` the path as given and `fingerprint` the sha256 of the file's bytes.

    Raises
    ------
    MillFileError
        The file cannot be read, is no TOML, has unknown, missing or faulty keys, or describes a
        mill that cannot be. All its faults are in it.
    """
    source = os.fspath(path)
    return read_mill_text(_content(source), source)


def read_mill_text(content: bytes, source: str = "mill file") -> Mill:
    """Read a mill file's content, as `read_mill` does; faults name it as `source`."""
    document = _document(source, content)
    faults: list[Fault] = []
    sections = _sections(document, faults)
    faults.extend(impossible(sections))
    if faults:
        raise MillFileError(source, tuple(faults))
    return _mill(sections, source, hashlib.sha256(content).hexdigest())


def example_mill_text() -> str:
    """The example mill file, every key explained, ready to be laid down and changed."""
    return resources.files("trimopt.mill").joinpath("example.toml").read_text(encoding="utf-8")


def _content(source: str) -> bytes:
    right = "give the mill file's path; `trimopt start DIR` lays down an example"
    try:
        with Path(source).open("rb") as file:
            content = file.read(_MAX_FILE_BYTES + 1)
    except FileNotFoundError:
        raise _unreadable(source, "there is no such file", right) from None
    except IsADirectoryError:
        raise _unreadable(source, "is a folder", right) from None
    except OSError as error:
        raise _unreadable(source, f"cannot be read: {error.strerror}", right) from None
    if len(content) > _MAX_FILE_BYTES:
        raise _unreadable(source, "is larger than any mill file (1 MB)", right)
    return content


def _document(source: str, content: bytes) -> Mapping[str, object]:
    try:
        # Some editors put a mark before the first letter.
        text = one_form(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise _unreadable(source, "is not a UTF-8 text", "save it as plain text, UTF-8") from None
    # More digits than Python reads in one figure, and no mill's: too large at any length.
    text = _ENDLESS.sub(lambda found: found[0][:_MAX_DIGITS], text)
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except RecursionError:
        raise _unreadable(source, "has brackets within brackets", "mend the brackets") from None
    except ValueError as error:
        right = (
            "mend that line: a key, an equals sign and a value; texts in quotes; decimals with a "
            "point"
        )
        raise _unreadable(source, f"is no TOML file: {error}", right) from None


def _unreadable(source: str, wrong: str, right: str) -> MillFileError:
    fault = Fault(column="file", value=source, wrong=wrong, right=right)
    return MillFileError(source, (fault,))


def _sections(document: Mapping[str, object], faults: list[Fault]) -> Sections:
    """Every section of the document; what is wrong with their shape or keys joins `faults`."""
    missing_but_meant = _misspelt(document, faults)
    one: dict[str, Section] = {}
    several: dict[str, tuple[Section, ...]] = {}
    cores: tuple[tuple[Section, ...], ...] = ()
    for table in (table for table in SECTIONS if table.name != "winder.core"):
        name, raw = table.name, document.get(table.name)
        if raw is None and name in missing_but_meant:
            one[name], several[name] = Section(title=table.title), ()
        elif table.shape is SectionShape.FREE:
            one[name] = _free(table, raw, faults)
        elif table.shape is SectionShape.ONE:
            one[name] = _one(table, raw, faults)
        elif name == "winder" and isinstance(raw, list) and all(isinstance(w, dict) for w in raw):
            without = [{key: value for key, value in w.items() if key != "core"} for w in raw]
            several[name] = _several(table, without, faults)
            cores = tuple(_several(_TABLES["winder.core"], w.get("core"), faults) for w in raw)
        else:
            several[name] = _several(table, raw, faults)
    return Sections(one=one, several=several, cores=cores)


def _misspelt(document: Mapping[str, object], faults: list[Fault]) -> set[str]:
    """The sections that names of no section are near to; each such name is a fault."""
    tops = tuple(name for name in _TABLES if "." not in name)
    several = {name for name in tops if _TABLES[name].shape is SectionShape.SEVERAL}
    meant = set()
    for name, value in document.items():
        if name not in tops:
            free = tuple(top for top in tops if top in several or top not in document)
            suggestion = closest(name, free)
            meant.add(suggestion)
            faults.append(_unknown_section(name, value, suggestion, tops))
    return {name for name in meant if name is not None}


def _unknown_section(
    name: str, value: object, suggestion: str | None, tops: tuple[str, ...]
) -> Fault:
    if suggestion is not None:
        right = f"write {_TABLES[suggestion].title}"
    elif not isinstance(value, dict | list):
        homes = [table.title for table in SECTIONS if table.key(name) is not None]
        right = f"move it to {' or '.join(homes)}" if homes else "leave it out"
    else:
        right = f"leave it out; the sections are {', '.join(_TABLES[top].title for top in tops)}"
    is_section = isinstance(value, dict | list)
    return Fault(
        column=f"[{name}]" if is_section else name,
        value="" if is_section else as_written(value),
        wrong="is no section of a mill file" if is_section else "stands in no section",
        right=right,
    )


def _shape_fault(table: MillTable, wrong: str) -> Fault:
    return Fault(
        where=table.title,
        wrong=wrong,
        right=f"write {table.title} on a line of its own and its keys below: {table.about}",
    )


def _one(table: MillTable, raw: object, faults: list[Fault]) -> Section:
    if isinstance(raw, dict):
        section, found = read_section(table, table.title, raw)
        faults.extend(found)
        return section
    if raw is not None:
        wrong = "stands there more than once" if isinstance(raw, list) else "is not a section"
        faults.append(_shape_fault(table, wrong))
    elif table.needed:
        faults.append(_shape_fault(table, "the section is missing"))
    return Section(title=table.title)


def _several(table: MillTable, raw: object, faults: list[Fault]) -> tuple[Section, ...]:
    if raw is None or raw == []:
        if table.needed:
            faults.append(_shape_fault(table, "there is none"))
        return ()
    if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
        faults.append(_shape_fault(table, "is not written in double brackets"))
        return ()
    sections: list[Section] = []
    for number, item in enumerate(raw, start=1):
        name = item.get("name")
        called = f" ({name.strip()})" if isinstance(name, str) and name.strip() else ""
        section, found = read_section(table, f"{table.title} {number}{called}", item)
        faults.extend(found)
        sections.append(section)
    return tuple(sections)


def _free(table: MillTable, raw: object, faults: list[Fault]) -> Section:
    """A section whose keys the order book knows: a text each, or a list of texts."""
    if not isinstance(raw, dict):
        if raw is not None:
            faults.append(_shape_fault(table, "is not a section"))
        return Section(title=table.title)
    values: dict[str, str | tuple[str, ...]] = {}
    section = Section(
        title=table.title,
        values=values,
        written={column: as_written(value) for column, value in raw.items()},
    )
    for key, value in raw.items():
        texts: str | tuple[str, ...] | None
        if table.name == "words" or key == "ignore":
            texts = texts_of(value)
            right = f'write a list of texts: {key} = ["one", "other"]'
        else:
            texts = value.strip() if isinstance(value, str) else None
            right = "write the heading of the export in quotes"
        if texts:
            values[key] = texts
        elif texts is None or isinstance(texts, str):
            faults.append(section.fault(key, f"is no {_FREE_VALUES[table.name]}", right))
    return section


def _mill(sections: Sections, source: str, fingerprint: str) -> Mill:
    """The mill that sections without a fault describe; what the file leaves out has its default."""
    one = sections.one

    def several(kind: type[_Kind], name: str) -> tuple[_Kind, ...]:
        return tuple(kind(**section.kept()) for section in sections.several[name])

    return Mill(
        winders=tuple(map(_winder, sections.several["winder"], sections.cores)),
        sheeters=several(model.Sheeter, "sheeter"),
        jumbo=_jumbo(one["jumbo"]),
        grades=several(model.Grade, "grade"),
        values=model.Values(**one["values"].kept()),
        tolerances=several(model.ToleranceStep, "tolerance"),
        stock_widths=several(model.StockWidth, "stock_width"),
        units=model.UnitChoice(**one["units"].kept()),
        headings={
            name: text for name, text in one["headings"].values.items() if isinstance(text, str)
        },
        export=model.Export(
            ignored=_texts(one["headings"], "ignore"),
            words={word: _texts(one["words"], word) for word in one["words"].values},
            **one["export"].kept(),
        ),
        source=source,
        fingerprint=fingerprint,
        **one["mill"].kept(),
        **one["ledger"].kept(),
    )


def _texts(section: Section, name: str) -> tuple[str, ...]:
    texts = section.values.get(name, ())
    return tuple(map(str, texts)) if isinstance(texts, tuple) else ()


def _winder(section: Section, cores: tuple[Section, ...]) -> model.Winder:
    kept = section.kept()
    by_others: dict[str, Any] = {
        "max_reel_width_mm": kept["max_web_mm"],
        "min_knife_spacing_mm": knife_spacing_mm(section),
        "max_reels": kept["knives"] - 1,
        "typical": tuple(name for name in model.Winder.TIMES if name not in kept),
    }
    return model.Winder(
        cores=tuple(model.Core(**core.kept()) for core in cores), **{**by_others, **kept}
    )


def _jumbo(section: Section) -> model.Jumbo:
    kept = section.kept()
    usable_m = kept.pop("usable_length_m", None)
    if usable_m is not None:
        lost_m = kept.get("loss_start_m", 0) + kept.get("loss_end_m", 0)
        kept["length_m"] = usable_m + lost_m
    return model.Jumbo(**kept)
