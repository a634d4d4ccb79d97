"""The mill and the order book of the sample plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction

from trimopt.book.model import Book, JumboInStock, LeftOut, Order, Product, Unit
from trimopt.errors import Fault
from trimopt.mill.model import Core, Grade, Jumbo, Mill, Sheeter, Values, Winder

MILL_PRINT = "a" * 64
BOOK_PRINT = "b" * 64
_F = Fraction


def sample_mill() -> Mill:
    """The mill: a 3.6 m winder, one sheeter, two grades."""
    return Mill(
        name="Mill of the sample plan",
        winders=(
            Winder(
                name="Winder 1",
                kind="two-drum",
                max_web_mm=_F(3560),
                min_edge_trim_mm=_F(20),
                max_edge_trim_mm=_F(60),
                min_reel_width_mm=_F(300),
                max_reel_width_mm=_F(1800),
                knives=9,
                min_knife_spacing_mm=_F(100),
                min_broke_width_mm=_F(100),
                idle_knives="lifted",
                max_reels=7,
                max_reels_per_side=None,
                min_reel_diameter_mm=600.0,
                max_reel_diameter_mm=1300.0,
                cores=(Core(inside_mm=76.0, wall_mm=12.0), Core(inside_mm=152.0, wall_mm=14.0)),
                max_reel_mass_kg=3000.0,
                max_set_mass_kg=9000.0,
                set_change_min=3.0,
                set_up_min=8.0,
                knife_move_min=0.5,
                jumbo_change_min=4.0,
                speed_m_min=1200.0,
                acceleration_m_min_s=20.0,
            ),
        ),
        sheeters=(
            Sheeter(
                name="Sheeter A",
                max_web_mm=_F(1700),
                max_ups=3,
                trim_per_side_mm=_F(10),
                min_chop_mm=_F(400),
                max_chop_mm=_F(1300),
                max_reel_diameter_mm=1250.0,
                core_inside_mm=152.0,
                waste_share=0.01,
                unwinds=4,
                speed_m_min=250.0,
                load_change_min=12.0,
            ),
        ),
        jumbo=Jumbo(width_mm=_F(3600), length_m=13000, loss_start_m=100, loss_end_m=200),
        grades=(
            Grade(
                name="Folding board",
                caliper_um=380.0,
                bulk_cm3_g=None,
                density_kg_m3=None,
                wound_factor=1.0,
            ),
            Grade(
                name="Sack kraft",
                caliper_um=None,
                bulk_cm3_g=1.25,
                density_kg_m3=None,
                wound_factor=1.0,
            ),
        ),
        values=Values(),
        tolerances=(),
        source="mill.toml",
        fingerprint=MILL_PRINT,
    )


def _order(number: str, customer: str, *, board: bool = True, **rest: object) -> Order:
    base = Order(
        number=number,
        customer=customer,
        grade="Folding board" if board else "Sack kraft",
        grammage_gsm=250.0 if board else 120.0,
        product=Product.REEL,
        width_mm=_F(1000),
        chop_mm=None,
        min_diameter_mm=1200.0 if board else 1050.0,
        max_diameter_mm=1250.0 if board else 1100.0,
        core_mm=152.0 if board else 76.0,
        quantity=_F(1),
        unit=Unit.REELS,
        under=_F(0),
        over=_F(0),
        due=datetime.fromisoformat("2026-03-06T12:00"),
    )
    return replace(base, **rest)  # type: ignore[arg-type]  # keywords are Order's own fields


def sample_book() -> Book:
    """The order book: six lines that are planned, one with a fault, one jumbo in stock."""
    return Book(
        source="shift.xlsx",
        fingerprint=BOOK_PRINT,
        as_of=date(2026, 3, 2),
        orders=(
            _order("4101", "Ostler Cartons", quantity=_F(16), row=2, destination="Ashby"),
            _order(
                "4102",
                "Penhale & Daughters",
                width_mm=_F(780),
                quantity=_F(7000),
                unit=Unit.KG,
                under=_F(1, 10),
                over=_F(1, 10),
                row=3,
                destination="Corran",
                remarks="=HYPERLINK is text here",
            ),
            _order(
                "4103",
                "Quill Print",
                product=Product.SHEET,
                width_mm=_F(720),
                chop_mm=_F(1020),
                min_diameter_mm=None,
                max_diameter_mm=None,
                core_mm=None,
                quantity=_F(36000),
                unit=Unit.SHEETS,
                under=_F(1, 20),
                over=_F(1, 20),
                row=4,
                sheets_a_ream=200,
                packing="pallets",
                destination="Dunmore",
            ),
            _order("4104", "Ostler Cartons", width_mm=_F(600), no_edge=True, row=5),
            _order(
                "4105",
                "Rook Sacks",
                board=False,
                width_mm=_F(2373, 2),
                quantity=_F(36000),
                unit=Unit.METRES,
                under=_F(1, 10),
                over=_F(1, 10),
                row=6,
                winding_side="felt side out",
            ),
            _order(
                "4106",
                "Sallow Feeds",
                board=False,
                width_mm=_F(593),
                min_diameter_mm=None,
                max_diameter_mm=None,
                core_mm=None,
                quantity=_F(8),
                made=_F(2),
                max_reel_mass_kg=500.0,
                row=7,
            ),
        ),
        jumbos=(
            JumboInStock(
                name="K-17",
                grade="Sack kraft",
                grammage_gsm=120.0,
                width_mm=_F(3600),
                length_m=12800,
                loss_start_m=50,
                loss_end_m=150,
            ),
        ),
        faults=(
            Fault(
                where="Orders",
                row=8,
                column="Width",
                value="-5",
                wrong="is not above 0",
                right="a width in mm",
            ),
        ),
        left_out=(LeftOut(order="4107", why="Orders, row 8: a width of -5"),),
    )
