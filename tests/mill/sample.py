"""A small valid mill file whose keys a test changes one at a time."""

from __future__ import annotations

from pathlib import Path

from trimopt.errors import Fault, MillFileError
from trimopt.mill import Mill, read_mill

# Section, and its keys as TOML writes their values.
_SECTIONS: tuple[tuple[str, dict[str, str]], ...] = (
    ("[mill]", {"name": '"Test mill"'}),
    (
        "[[winder]]",
        {
            "max_web_mm": "4000",
            "min_edge_trim_mm": "15",
            "max_edge_trim_mm": "50",
            "min_reel_width_mm": "300",
            "max_reel_width_mm": "2500",
            "knives": "9",
            "min_knife_spacing_mm": "100",
            "idle_knives": '"lifted"',
            "min_reel_diameter_mm": "500",
            "max_reel_diameter_mm": "1500",
            "speed_m_min": "1000",
            "acceleration_m_min_s": "20",
            "set_change_min": "4",
            "set_up_min": "8",
            "knife_move_min": "0.5",
            "jumbo_change_min": "6",
        },
    ),
    ("[[winder.core]]", {"inside_mm": "76", "wall_mm": "10"}),
    (
        "[[sheeter]]",
        {
            "name": '"Sheeter 1"',
            "max_web_mm": "2000",
            "max_ups": "4",
            "trim_per_side_mm": "6.5",
            "min_chop_mm": "400",
            "max_chop_mm": "1500",
            "max_reel_diameter_mm": "1400",
            "core_inside_mm": "76",
            "speed_m_min": "200",
            "load_change_min": "10",
        },
    ),
    ("[jumbo]", {"width_mm": "4030", "usable_length_m": "9000"}),
    ("[[grade]]", {"name": '"Board"', "bulk_cm3_g": "1.4"}),
    (
        "[[stock_width]]",
        {
            "name": '"STOCK-735"',
            "grade": '"Board"',
            "grammage_gsm": "250",
            "width_mm": "735",
            "core_mm": "76",
            "max_diameter_mm": "1250",
            "max_t": "5",
            "value_share": "0.8",
        },
    ),
)


def mill_text(changes: dict[str, str | None] | None = None, more: str = "") -> str:
    """The sample with keys changed, added or (None) taken out, and text put at its end.

    A change is addressed as ``"winder.knives"`` or ``"winder.core.inside_mm"``; a section's name
    with None takes the whole section out.
    """
    headers = {header.strip("[]") for header, _ in _SECTIONS}
    left = dict(changes or {})
    out = {address for address in left if address in headers}
    for address in out:
        assert left.pop(address) is None
    lines: list[str] = []
    for header, keys in _SECTIONS:
        section = header.strip("[]")
        if section in out:
            continue
        lines.append(header)
        written = dict(keys)
        for address in [a for a in left if a.rpartition(".")[0] == section]:
            key, value = address.rpartition(".")[2], left.pop(address)
            written.pop(key, None)
            if value is not None:
                written[key] = value
        lines += [f"{key} = {value}" for key, value in written.items()]
    assert not left, f"no such section: {left}"
    return "\n".join([*lines, more, ""])


def read_text(folder: Path, text: str) -> Mill:
    """The mill of a text, by way of a file."""
    path = folder / "mill.toml"
    path.write_text(text, encoding="utf-8")
    return read_mill(path)


def faults_of(folder: Path, text: str) -> tuple[Fault, ...]:
    """The faults of a text; none where it is a good mill file."""
    try:
        read_text(folder, text)
    except MillFileError as error:
        return error.faults
    return ()
