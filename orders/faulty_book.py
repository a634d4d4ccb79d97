"""The lines of the faulty book: one for each fault that matters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Row = Mapping[str, Any]

REEL: Row = {
    "customer": "Kelvane Print",
    "grade": "Folding boxboard",
    "grammage": 250,
    "product": "reel",
    "width": 820,
    "min_diameter": 1150,
    "max_diameter": 1250,
    "core": 152,
    "quantity": 20,
    "unit": "reels",
    "under": 5,
    "over": 5,
    "due": "2026-11-25",
}
SHEET: Row = {
    "customer": "Varnholt Packs",
    "grade": "Coated boxboard",
    "grammage": 230,
    "product": "sheet",
    "width": 720,
    "chop": 1020,
    "quantity": 40000,
    "unit": "sheets",
    "under": 5,
    "over": 5,
    "due": "2026-11-25",
}


def faulty_rows() -> list[Row]:
    """A line with nothing wrong, then one line for each fault that matters."""
    return [
        {**REEL, "number": "9000", "remarks": "nothing wrong"},
        {**REEL, "number": "9001", "grade": None, "remarks": "grade left blank"},
        {**REEL, "number": "9002", "quantity": "twenty", "remarks": "text where a number belongs"},
        {**REEL, "number": "9003", "width": -820, "remarks": "negative width"},
        {**REEL, "number": "9004", "quantity": 0, "remarks": "nothing ordered"},
        {**REEL, "number": "9005", "remarks": "number twice"},
        {**REEL, "number": "9005", "width": 640, "remarks": "number twice"},
        {**SHEET, "number": "9006", "max_diameter": 1250, "core": 152,
         "remarks": "sheets with a diameter and a core"},
        {**REEL, "number": "9007", "chop": 1020, "remarks": "reels with a chop"},
        {**SHEET, "number": "9008", "chop": None, "remarks": "sheets without a chop"},
        {**REEL, "number": "9009", "width": 4700, "remarks": "wider than the deckle"},
        {**REEL, "number": "9010", "width": 2700, "remarks": "wider than the winder's reels"},
        {**REEL, "number": "9011", "width": 240, "remarks": "narrower than the winder's reels"},
        {**SHEET, "number": "9012", "width": 2200, "remarks": "too wide for every sheeter"},
        {**SHEET, "number": "9013", "chop": 1750, "remarks": "chop that no sheeter cuts"},
        {**REEL, "number": "9014", "grade": "Folding boxbord", "remarks": "grade misspelt"},
        {**REEL, "number": "9015", "core": 150, "remarks": "core that the winder lacks"},
        {**REEL, "number": "9016", "min_diameter": 1250, "max_diameter": 1150,
         "remarks": "diameters reversed"},
        {**REEL, "number": "9017", "min_diameter": 1600, "max_diameter": 1800,
         "remarks": "diameters that the winder does not make"},
        {**REEL, "number": "9018", "max_reel_mass": 300,
         "remarks": "too heavy at every diameter"},
        {**REEL, "number": "9019", "quantity": "1,250", "unit": "kg",
         "remarks": "1.25 or 1250?"},
        {**REEL, "number": "9020", "due": "03/04/2026", "remarks": "April or March?"},
        {**REEL, "number": "9021", "under": 0.05, "remarks": "0.05 % or 5 %?"},
        {**REEL, "number": "9022", "unit": "sheets", "remarks": "reels counted in sheets"},
        {**SHEET, "number": "9023", "quantity": 200, "unit": "reams",
         "remarks": "reams without a count"},
        {**REEL, "number": "9024", "product": "bobbin", "remarks": "neither reel nor sheet"},
        {**REEL, "number": "9025", "quantity": 12.5, "remarks": "half a reel"},
        {**REEL, "number": "9026", "unit": None, "remarks": "no unit"},
        {**REEL, "number": "9027", "no_edge": "maybe", "remarks": "neither yes nor no"},
        {**REEL, "number": "9028", "priority": 1.5, "remarks": "half a priority"},
        {**REEL, "number": "9029", "due": "soon", "remarks": "no date"},
        {**REEL, "number": "9030", "due": "2026-11-20", "remarks": "overdue: a warning"},
        {**REEL, "number": "9031", "quantity": "=10+10",
         "remarks": "a formula saved without its result"},
        {**REEL, "number": "9032", "customer": "Estrova Print", "remarks": "merged with the next"},
        {**REEL, "number": "9033", "customer": None, "remarks": "merged with the one above"},
        {**REEL, "number": "9034", "remarks": "a hidden row: read, with a warning"},
        {**REEL, "number": None, "remarks": "no number"},
    ]  # fmt: skip


FORMULAS = frozenset({"9031"})
MERGED = ("9032", "9033")
HIDDEN = "9034"
FAULTY_JUMBOS: tuple[Row, ...] = (
    {"name": "M-301", "grade": "Folding boxboard", "grammage": 250, "width": 4680, "length": 15800},
    {"name": "M-302", "grade": "Duplex", "grammage": 250, "width": 4680, "length": 15800},
    {"name": "M-303", "grade": "Folding boxboard", "grammage": 250, "width": 4680, "length": 150},
)
