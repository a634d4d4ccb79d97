# ruff: noqa: E501  # exports have long lines
"""Eight invented order exports, in eight languages and forms, and what their mill files say."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from openpyxl import Workbook


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """One export: how it is written, what the mill file answers, what it then holds."""

    name: str
    write: Callable[[Path], None]
    questions: int  # that `start --from` asks
    headings: Mapping[str, str] = field(default_factory=dict)
    export: Mapping[str, Any] = field(default_factory=dict)
    sizes: Sequence[tuple[str, str, float]]  # number, width in mm, quantity in reels, sheets or kg
    due: str = "2026-12-03"  # of the first order
    refused: int = 0  # lines that stay refused for what is truly ambiguous


def text(content: str, encoding: str) -> Callable[[Path], None]:
    """A text file in that encoding."""
    data = content.replace("\n", "\r\n").encode(encoding)

    def write(path: Path) -> None:
        path.write_bytes(data)

    return write


def workbook(*rows: Sequence[Any]) -> Callable[[Path], None]:
    """A workbook of one sheet."""

    def write(path: Path) -> None:
        book = Workbook()
        sheet = book.worksheets[0]
        for row in rows:
            sheet.append(list(row))
        book.save(path)

    return write


GERMAN = """Auftragsliste;;;;;;;;;;
Stand 26.11.2026;;;;;;;;;;

Auftrags-Nr.;Kunde;Sorte;Grammatur;Ausführung;Breite;Rollen-Ø;Hülse;Menge;ME;Liefertermin
;;;g/qm;;mm;mm;mm;;;
4711;Holm;Folding boxboard;250;Rolle;820,5;1.250;152;12,5;t;3. Dezember 2026
4712;Holm;Folding boxboard;250;Rolle;1.040;1.250;152;8;Rollen;04.12.2026
Zwischensumme;;;;;;;;20,5;;
4713;Rook;White-lined board;300;Rolle;640;1.250;152;20;Rollen;07.12.2026
Seite 1 von 1;;;;;;;;;;
"""
FRENCH = """N° de commande;Client;Qualité;Gramage;Présentation;Laize (cm);Diamètre max (mm);Mandrin (mm);\
Quantité;Unité;Date de livraison
C-1;Vaillet;Folding boxboard;250;Bobine;82,05;1250;152;12;bobines;3 décembre 2026
C-2;Vaillet;Folding boxboard;250;Bobine;104;1250;152;9 500;kg;04/12/2026
C-3;Ormeau;Folding boxboard;250;Bobine;64;1250;152;20;bobines;13/12/2026
"""
FINNISH = """Tilausnro\tAsiakas\tLaji\tNeliömassa\tTuote\tLeveys mm\tHalkaisija mm\tHylsy mm\tMäärä\t\
Yksikkö\tToimituspäivä\tEi reunaan
7001\tKoivu\tFolding boxboard\t250\trulla\t820\t1250\t152\t12\trullaa\t3. joulukuuta 2026\tkyllä
7002\tKoivu\tFolding boxboard\t250\trulla\t1040,5\t1250\t152\t9,5\tt\t4.12.2026\tei
"""
POLISH = """Nr zamówienia;Klient;Gatunek;Gramatura;Rola/arkusz;Szerokość;Długość arkusza;Średnica;Gilza;\
Ilość;Jedn.;Termin dostawy;Stan
Z1;Brzoza;Folding boxboard;250;rola;820;;1250;152;12;rolek;20261203;otwarte
Z2;Brzoza;Folding boxboard;250;arkusz;720;1020;;;40;ryzy po 500;20261204;wstrzymane
Z3;Brzoza;Folding boxboard;250;rola;900;;1250;152;5;rolek;20261204;anulowane
Razem;;;;;;;;;57;;;
"""

_SPANISH = ("Nº de pedido", "Cliente", "Calidad", "Gramaje", "Bobina/hoja", "Ancho [mm]",
            "Diámetro [mm]", "Mandril [mm]", "Cantidad pedida", "Unidad", "Fecha de entrega")  # fmt: skip
_SWEDISH = ("Ordernr", "Kund", "Kvalitet", "Ytvikt", "Rulle/ark", "Bredd [mm]", "Max diameter [mm]",
            "Hylsa [mm]", "Beställd mängd", "Enhet", "Leveransdatum")  # fmt: skip
_ITALIAN = ("N. ordine", "Cliente", "Qualità", "Grammatura", "Prodotto", "Larghezza",
            "Diametro", "Anima", "Q.tà", "U.M.", "Consegna", "Agente")  # fmt: skip
_ENGLISH = ("Order", "Customer", "Grade", "Basis weight [g/m2]", "Product", "Width", "OD", "Core",
            "Open qty", "UOM", "Ship date")  # fmt: skip

EIGHT = (
    Exported(
        name="de.csv",  # semicolons, decimal comma, code page 1252, titles, units, subtotal, page
        write=text(GERMAN, "cp1252"),
        questions=1,  # is Ausführung reel or sheet? Its cells say so
        headings={"product": "Ausführung"},
        export={"decimal_sign": ","},
        sizes=[("4711", "820.5", 12500), ("4712", "1040", 8), ("4713", "640", 20)],
    ),
    Exported(
        name="fr.csv",  # UTF-16, centimetres, thousands with a space, day first
        write=text(FRENCH, "utf-16"),
        questions=1,  # Gramage is no French word: is it the grammage?
        headings={"grammage": "Gramage"},
        export={"decimal_sign": ",", "date_order": "d/m/y"},
        sizes=[("C-1", "820.5", 12), ("C-2", "1040", 9500), ("C-3", "640", 20)],
    ),
    Exported(
        name="fi.txt",  # tabs, UTF-8 with its mark
        write=text(FINNISH, "utf-8-sig"),
        questions=0,
        sizes=[("7001", "820", 12), ("7002", "1040.5", 9500)],
    ),
    Exported(
        name="pl.csv",  # code page 1250, a status column, dates without signs, reams, a total
        write=text(POLISH, "cp1250"),
        questions=1,  # is wstrzymane (held) to be made?
        export={"words": {"cancelled": ("wstrzymane",)}},
        sizes=[("Z1", "820", 12)],
    ),
    Exported(
        name="es.xlsx",  # a pivot: customer, diameter, core and date on the first line of each
        write=workbook(
            ["Pedidos abiertos"], [], _SPANISH,
            ["P1", "Alameda", "Folding boxboard", 250, "bobina", 820, 1250, 152, 12, "bobinas",
             "3 de diciembre de 2026"],
            ["P2", None, "Folding boxboard", 250, "bobina", 1040, None, None, 9.5, "toneladas", None],
            ["P3", None, "Folding boxboard", 250, "bobina", 640, None, None, 20, "bobinas", None],
            ["Suma total", None, None, None, None, None, None, None, 41.5, None, None],
        ),
        questions=1,  # filled down?
        export={"fill_down": ("customer", "diameter", "core", "due")},
        sizes=[("P1", "820", 12), ("P2", "1040", 9500), ("P3", "640", 20)],
    ),
    Exported(
        name="sv.xlsx",  # headings again on page 2, a ton, dates of two figures
        write=workbook(
            _SWEDISH,
            ["S1", "Björk", "Folding boxboard", 250, "rulle", 820, 1250, 152, 12, "rullar", "26-12-03"],
            ["-----"] * 11,
            _SWEDISH,
            ["S2", "Björk", "Folding boxboard", 250, "rulle", 1040, 1250, 152, 9.5, "ton", "26-12-04"],
        ),
        questions=2,  # which ton, and which order of the date
        export={"words": {"t": ("ton",)}, "date_order": "y/m/d"},
        sizes=[("S1", "820", 12), ("S2", "1040", 9500)],
    ),
    Exported(
        name="it.xlsx",  # a row of units below the headings, a code for reels, a column of no matter
        write=workbook(
            _ITALIAN,
            [None, None, None, "g/m²", None, "mm", "mm", "mm", None, None, None, None],
            ["I-1", "Olmo", "Folding boxboard", 250, "BO", 820, 1250, 152, 12, "bobine",
             "3 dicembre 2026", "GF"],
            ["I-2", "Olmo", "Folding boxboard", 250, "BO", 1040, 1250, 152, 9.5, "t", "4/12/26", "GF"],
        ),
        questions=2,  # what is BO, and which order of the date
        export={"words": {"reel": ("BO",)}, "date_order": "d/m/y"},
        sizes=[("I-1", "820", 12), ("I-2", "1040", 9500)],
    ),
    Exported(
        name="en.xlsx",  # open quantity, dates with the month first, one that may be either
        write=workbook(
            ["Order list", None, "printed 11/26/2026"], _ENGLISH,
            ["E1", "Wrenlow", "Folding boxboard", 250, "reel", 820, 1250, 152, 12, "reels",
             "December 3, 2026"],
            ["E2", "Wrenlow", "Folding boxboard", 250, "reel", 1040, 1250, 152, 9.5, "t", "12/14/2026"],
            ["E3", "Wrenlow", "Folding boxboard", 250, "reel", 640, 1250, 152, 5, "tons", "12/15/2026"],
        ),
        questions=3,  # OD, Open qty, and a ton of three sizes
        headings={"diameter": "OD", "quantity": "Open qty"},
        export={"date_order": "m/d/y"},
        sizes=[("E1", "820", 12), ("E2", "1040", 9500)],
        refused=1,
    ),
)  # fmt: skip
