"""A small plan worked out by hand, with the mill and the book that it was made from.

An invented mill; two runs. The board run has reels by number and by mass, sheets, a broke reel, a
no-edge reel and one surplus reel, on three nominal jumbos. The kraft run has reels by length with
half millimetres, on a jumbo from stock and a nominal one; one line of the book is left out. Every
pattern, layout and count is written down here; masses follow from them by the two formulae at the
top, which share nothing with the package.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction

from trimopt.book.model import Book, JumboInStock, Order, Product, Unit
from trimopt.errors import Fault
from trimopt.mill.model import Core, Grade, Jumbo, Mill, Sheeter, Values, Winder
from trimopt.plan.model import (
    SCHEMA,
    Balance,
    Block,
    JumboUse,
    LeftOut,
    OrderLine,
    Plan,
    Position,
    Proof,
    RunPlan,
    SetLength,
    SetRow,
    Settings,
    Source,
    Stretch,
    TradePoint,
)

__all__ = ["sample_book", "sample_mill", "sample_plan"]

_MILL_PRINT = "a" * 64
_BOOK_PRINT = "b" * 64
_F = Fraction


def _kg(width_mm: float | Fraction, length_m: float, grammage_gsm: float) -> float:
    return float(width_mm) * length_m * grammage_gsm / 1e6


def _diameter_mm(core_outside_mm: float, length_m: int, caliper_um: float) -> float:
    return math.sqrt(core_outside_mm**2 + 4 * length_m * caliper_um / math.pi)


def sample_mill() -> Mill:
    """The mill: a 3.6 m winder, one sheeter, two grades."""
    return Mill(
        name="Mill of the sample plan",
        winder=Winder(
            name="Winder 1",
            kind="two-drum",
            web_greatest_mm=_F(3560),
            edge_trim_least_mm=_F(20),
            edge_trim_greatest_mm=_F(60),
            reel_width_least_mm=_F(300),
            reel_width_greatest_mm=_F(1800),
            knives=9,
            knife_spacing_least_mm=_F(100),
            idle_knives="lifted",
            reels_most=7,
            reels_a_side_most=None,
            reel_diameter_least_mm=600.0,
            reel_diameter_greatest_mm=1300.0,
            cores=(Core(inside_mm=76.0, wall_mm=12.0), Core(inside_mm=152.0, wall_mm=14.0)),
            reel_mass_greatest_kg=3000.0,
            set_mass_greatest_kg=9000.0,
            set_change_min=3.0,
            set_up_min=8.0,
            knife_move_min=0.5,
            jumbo_change_min=4.0,
            speed_m_min=1200.0,
            acceleration_m_min_s=20.0,
        ),
        sheeters=(
            Sheeter(
                name="Sheeter A",
                web_greatest_mm=_F(1700),
                ups_most=3,
                trim_a_side_mm=_F(10),
                chop_least_mm=_F(400),
                chop_greatest_mm=_F(1300),
                reel_diameter_greatest_mm=1250.0,
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
        fingerprint=_MILL_PRINT,
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
        diameter_least_mm=1200.0 if board else 1050.0,
        diameter_greatest_mm=1250.0 if board else 1100.0,
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
        fingerprint=_BOOK_PRINT,
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
                diameter_least_mm=None,
                diameter_greatest_mm=None,
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
                diameter_least_mm=None,
                diameter_greatest_mm=None,
                core_mm=None,
                quantity=_F(8),
                made=_F(2),
                reel_mass_greatest_kg=500.0,
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
        left_out=("4107",),
    )


def _reels(order: str, width_mm: Fraction, count: int, core_mm: float) -> list[Position]:
    reel = Position(number=0, kind="reel", order=order, width_mm=width_mm, core_mm=core_mm)
    return [reel] * count


def _block(
    number: int,
    strips: list[Position],
    edge_front_mm: Fraction,
    sets: list[SetRow],
    *,
    moved: tuple[bool, ...],
    idle: tuple[Fraction, ...] = (),
) -> Block:
    """`idle` knives are lifted where they stood; all others of the nine are at the back end."""
    positions = tuple(replace(strip, number=n) for n, strip in enumerate(strips, start=1))
    knives = [edge_front_mm]
    for strip in strips:
        knives.append(knives[-1] + strip.width_mm)
    return Block(
        number=number,
        core_mm=strips[0].core_mm,
        length_m=sets[0].length_m,
        diameter_mm=sets[0].diameter_mm,
        positions=positions,
        edge_front_mm=edge_front_mm,
        edge_back_mm=3600 - knives[-1],
        knives_mm=tuple(knives),
        knives_moved=moved,
        knife_moves=sum(moved),
        set_up=True,
        sets=tuple(sets),
        beam_mm=(*sorted([*knives, *idle]), *(None,) * (9 - len(knives) - len(idle))),
    )


def _set(number: int, jumbo: str, from_m: int, length_m: int, diameter_mm: float) -> SetRow:
    stretch = Stretch(jumbo=jumbo, from_m=from_m, to_m=from_m + length_m)
    return SetRow(number=number, length_m=length_m, diameter_mm=diameter_mm, stretches=(stretch,))


def _winding_min(length_m: int) -> float:
    # 1,200 m/min reached in 60 s, over 600 m; as much again to stop.
    return (length_m - 1200) / 1200 + 2.0


def _timed(blocks: tuple[Block, ...], start: datetime) -> tuple[tuple[Block, ...], datetime]:
    """Starts and finishes: set-up, moves, change of jumbo, winding, change of set, in that order.

    A set begins with what has to be done for it; the first is set up and given its jumbo too.
    """
    at = start
    jumbo = ""
    timed = []
    for block in blocks:
        minutes = (8.0 if block.set_up else 0.0) + 0.5 * block.knife_moves
        sets = []
        for row in block.sets:
            if row.stretches[0].jumbo != jumbo:
                jumbo = row.stretches[0].jumbo
                minutes += 4.0
            finish = at + timedelta(minutes=minutes + _winding_min(row.length_m) + 3.0)
            sets.append(replace(row, start=at, finish=finish))
            at, minutes = finish, 0.0
        timed.append(replace(block, sets=tuple(sets)))
    return tuple(timed), at


def _proof(
    balance: Balance,
    floor_kg: float,
    prices: int,
    *,
    unit_mm: Fraction,
    seconds: float,
    metres_used: int,
) -> Proof:
    """Proof by the width alone: a set costs 3,600 mm of web and gives 3,560 mm at the most.

    Every order has the same price, 3600/3560 of loss for a unit of paper, so `floor_kg` is what the
    orders cannot do without: 40/3560 of the paper they want and a tenth of what they miss.
    """
    scale = 2**20
    loss_kg = balance.wound_kg - balance.delivered_kg + 0.1 * (balance.under_kg + balance.over_kg)
    return Proof(
        status="feasible",
        loss_kg=loss_kg,
        bound_kg=floor_kg,
        price_bound_kg=floor_kg,
        gap_kg=loss_kg - floor_kg,
        gap_percent=100 * (loss_kg - floor_kg) / balance.wound_kg,
        bound_on="loss over all patterns of the listed set lengths",
        scale=scale,
        gain_price=(0,) * prices,
        worth_price=(scale * 1000 * 3600 // 3560,) * prices,
        width_unit_mm=unit_mm,
        clock_stopped=False,
        seconds=seconds,
        metres_bound=metres_used - 300,
        metres_used=metres_used,
        metres_bound_on="jumbo metres over the listed set lengths, both dimensions",
    )


def _nominal(name: str, wound_m: int, butt_m: int, carried_forward_m: int) -> JumboUse:
    return JumboUse(
        name=name,
        nominal=True,
        width_mm=_F(3600),
        length_m=13000,
        loss_start_m=100,
        loss_end_m=0 if carried_forward_m else 200,
        wound_m=wound_m,
        butt_m=butt_m,
        carried_forward_m=carried_forward_m,
    )


def _line(
    order: Order,
    finished: datetime | None,
    last_set: int,
    *,
    least: Fraction,
    most: Fraction,
    planned: Fraction,
    ordered_kg: float,
    planned_kg: float,
    surplus_kg: float = 0.0,
    state: str = "met",
    text: str = "",
) -> OrderLine:
    return OrderLine(
        number=order.number,
        customer=order.customer,
        product=order.product.value,
        width_mm=order.width_mm,
        chop_mm=order.chop_mm,
        unit=order.unit.value,
        asked=order.quantity,
        made_before=order.made,
        least=least,
        most=most,
        planned=planned,
        ordered_kg=ordered_kg,
        planned_kg=planned_kg,
        delivered_kg=planned_kg - surplus_kg,
        surplus_kg=surplus_kg,
        due=order.due,
        finished=finished,
        last_set=last_set,
        state=state,
        text=text,
        destination=order.destination,
        packing=order.packing,
        winding_side=order.winding_side,
        remarks=order.remarks,
        sheets_a_ream=order.sheets_a_ream,
        as_written=order.as_written,
    )


def _board_run(start: datetime) -> RunPlan:
    orders = sample_book().orders
    g, wide, length = 250.0, _F(3600), 3150
    across = _diameter_mm(180.0, length, 380.0)  # 1247.6 mm
    broke = Position(number=0, kind="broke", order="", width_mm=_F(100), core_mm=152.0)
    sheeter = Position(
        number=0,
        kind="sheeter",
        order="4103",
        width_mm=_F(1460),  # 2 × 720 + 2 × 10
        core_mm=152.0,
        ups=2,
        sheeter="Sheeter A",
    )
    # Four sets of 3,150 m leave 100 m of a jumbo's 12,700.
    rows = [_set(n + 1, f"J{n // 4 + 1:02d}", n % 4 * length, length, across) for n in range(10)]
    blocks, finish = _timed(
        (
            _block(  # 3,560 mm: the deckle is full
                1,
                _reels("4101", _F(1000), 2, 152.0) + _reels("4102", _F(780), 2, 152.0),
                _F(20),
                rows[:6],
                moved=(False,) * 5,
            ),
            _block(  # 3,460 mm: strips of 70 would be too wide, so a broke reel of 100
                2,
                [*_reels("4101", _F(1000), 2, 152.0), sheeter, broke],
                _F(20),
                rows[6:8],
                moved=(False, False, False, True, False),
            ),
            _block(  # the no-edge reel stands inside
                3,
                [sheeter, *_reels("4104", _F(600), 1, 152.0), sheeter],
                _F(60),
                rows[8:],
                moved=(True, True, True, False),
                idle=(_F(3480),),
            ),
        ),
        start,
    )
    done = [blocks[i].sets[-1].finish for i in range(3)]
    # 3,088 chops a reel (3,150 m / 1.02 m), 2 ups, 1 % waste: 6,114 sheets a reel, six reels.
    sheets, sheet_kg = 6 * 6114, 0.72 * 1.02 * 0.250
    one_600 = _kg(600, length, g)
    target = 3162  # m on a reel of 1,250 mm
    lines = (
        _line(
            orders[0], done[1], 8,
            least=_F(16), most=_F(16), planned=_F(16),
            ordered_kg=16 * _kg(1000, target, g), planned_kg=16 * _kg(1000, length, g),
        ),
        _line(
            orders[1], done[0], 6,
            least=_F(6300), most=_F(7700), planned=12 * _F("614.25"),
            ordered_kg=7000.0, planned_kg=12 * _kg(780, length, g),
        ),
        _line(
            orders[2], done[2], 10,
            least=_F(34200), most=_F(37800), planned=_F(sheets),
            ordered_kg=36000 * sheet_kg, planned_kg=sheets * sheet_kg,
        ),
        _line(
            orders[3], done[2], 10,
            least=_F(1), most=_F(1), planned=_F(2),
            ordered_kg=_kg(600, target, g), planned_kg=2 * one_600, surplus_kg=one_600,
            state="over", text="1 reel above the most of 1 (472.5 kg) goes to stock",
        ),
    )  # fmt: skip
    wound_m, used_m = 10 * length, 13000 + 13000 + 6400
    delivered = sum(line.delivered_kg for line in lines)
    balance = Balance(
        used_kg=_kg(wide, used_m, g),
        delivered_kg=delivered,
        surplus_kg=one_600,
        edge_trim_kg=_kg(40, wound_m, g),
        pattern_trim_kg=_kg(100, 2 * length, g) + _kg(40, 2 * length, g),
        sheeter_kg=6 * _kg(1460, length, g) - sheets * sheet_kg,
        butts_kg=_kg(wide, 200, g),
        start_end_kg=_kg(wide, 300 + 300 + 100, g),
        broke_kg=_kg(100, 2 * length, g),
        wound_kg=_kg(wide, wound_m, g),
        deckle_kg=_kg(3560, wound_m, g),
        under_kg=16 * _kg(1000, target - length, g) + _kg(600, target - length, g),
        over_kg=12 * _kg(780, length, g) - 7000.0 + (sheets - 36000) * sheet_kg,
    )
    return RunPlan(
        name="Folding board 250 g/m²",
        grade="Folding board",
        grammage_gsm=g,
        wound_caliper_um=380.0,
        jumbo_width_mm=wide,
        deckle_mm=_F(3560),
        set_lengths=(
            SetLength(core_mm=152.0, length_m=3150, diameter_mm=across),
            SetLength(core_mm=152.0, length_m=3000, diameter_mm=_diameter_mm(180.0, 3000, 380.0)),
        ),
        proof=_proof(
            balance,
            # At 3,150 m the reels of 4101 and 4104 stay 12 m below their target of 3,162 m.
            40 / 3560 * (16 * _kg(1000, length, g) + 7000 + 36000 * sheet_kg + one_600)
            + 0.1 * (16 * _kg(1000, target - length, g) + _kg(600, target - length, g)),
            4,
            unit_mm=_F(20),
            seconds=0.4,
            metres_used=10 * length + 200,
        ),
        blocks=blocks,
        jumbos=(
            _nominal("J01", 4 * length, 100, 0),
            _nominal("J02", 4 * length, 100, 0),
            _nominal("J03", 2 * length, 0, 6600),
        ),
        orders=lines,
        balance=balance,
        set_ups=2,
        set_ups_bound=2,
        knife_moves=4,
        knife_moves_bound=4,
        minutes=(finish - start).total_seconds() / 60,
        start=start,
        finish=finish,
        trade_off=(
            TradePoint(
                patterns=3,
                loss_kg=balance.wound_kg - delivered + 0.1 * (balance.under_kg + balance.over_kg),
                loss_bound_kg=300.0,
                trim_loss=balance.trim_loss,
                knife_moves=4,
                chosen=True,
                # Four sets of 3,175 m would leave no butt: ten of 3,150 m leave 25 m each.
                with_butts_kg=balance.wound_kg
                - delivered
                + 0.1 * (balance.under_kg + balance.over_kg)
                + _kg(wide, 10 * 25, g),
            ),
            TradePoint(
                patterns=2,
                loss_kg=1610.0,
                loss_bound_kg=900.0,
                trim_loss=0.0301,
                knife_moves=None,
                chosen=False,
                with_butts_kg=1650.0,
            ),
        ),
        notes=("4104: the reel above the quantity goes to stock",),
    )


def _kraft_run(start: datetime) -> RunPlan:
    orders = sample_book().orders
    g, wide, length = 120.0, _F(3600), 6200
    across = _diameter_mm(100.0, length, 150.0)  # 1092.8 mm
    rows = [
        _set(1, "K-17", 0, length, across),
        _set(2, "K-17", length, length, across),
        _set(3, "J04", 0, length, across),
    ]
    blocks, finish = _timed(
        (
            _block(1, _reels("4105", _F(2373, 2), 3, 76.0), _F(20), rows[:2], moved=(False,) * 4),
            _block(
                2,
                _reels("4106", _F(593), 6, 76.0),
                _F(20),
                rows[2:],
                moved=(False, True, True, True, True, True, True),
            ),
        ),
        start,
    )
    lines = (
        _line(
            orders[4], blocks[0].sets[-1].finish, 2,
            least=_F(32400), most=_F(39600), planned=_F(6 * length),
            ordered_kg=_kg(1186.5, 36000, g), planned_kg=_kg(1186.5, 6 * length, g),
        ),
        _line(
            orders[5], blocks[1].sets[-1].finish, 3,
            least=_F(6), most=_F(6), planned=_F(6),
            # 500 kg is 7,026 m of 593 mm: the mass limit comes before the winder's 1,300 mm.
            ordered_kg=6 * _kg(593, 7026, g), planned_kg=6 * _kg(593, length, g),
        ),
    )  # fmt: skip
    balance = Balance(
        used_kg=_kg(wide, 12800 + 6300, g),
        delivered_kg=sum(line.delivered_kg for line in lines),
        surplus_kg=0.0,
        edge_trim_kg=_kg(40, 3 * length, g),
        pattern_trim_kg=_kg(0.5, 2 * length, g) + _kg(2, length, g),
        sheeter_kg=0.0,
        butts_kg=_kg(wide, 200, g),
        start_end_kg=_kg(wide, 50 + 150 + 100, g),
        broke_kg=0.0,
        wound_kg=_kg(wide, 3 * length, g),
        deckle_kg=_kg(3560, 3 * length, g),
        under_kg=6 * _kg(593, 7026 - length, g),
        over_kg=_kg(1186.5, 1200, g),
    )
    return RunPlan(
        name="Sack kraft 120 g/m²",
        grade="Sack kraft",
        grammage_gsm=g,
        wound_caliper_um=150.0,
        jumbo_width_mm=wide,
        deckle_mm=_F(3560),
        set_lengths=(SetLength(core_mm=76.0, length_m=length, diameter_mm=across),),
        proof=_proof(
            balance,
            40 / 3560 * (_kg(1186.5, 36000, g) + 6 * _kg(593, length, g))
            + 0.1 * 6 * _kg(593, 7026 - length, g),
            2,
            unit_mm=_F(1, 2),
            seconds=0.2,
            metres_used=3 * length + 200,
        ),
        blocks=blocks,
        jumbos=(
            JumboUse(
                name="K-17",
                nominal=False,
                width_mm=wide,
                length_m=12800,
                loss_start_m=50,
                loss_end_m=150,
                wound_m=2 * length,
                butt_m=200,
                carried_forward_m=0,
            ),
            _nominal("J04", length, 0, 6700),
        ),
        orders=lines,
        balance=balance,
        set_ups=1,
        set_ups_bound=1,
        knife_moves=6,
        knife_moves_bound=6,
        minutes=(finish - start).total_seconds() / 60,
        start=start,
        finish=finish,
    )


def sample_plan() -> Plan:
    """The plan: two runs one after the other, from Monday 06:00."""
    board = _board_run(datetime.fromisoformat("2026-03-02T06:00"))
    assert board.finish is not None
    kraft = _kraft_run(board.finish)
    return Plan(
        schema=SCHEMA,
        number="2026-0007",
        replaces="2026-0006",
        made_at=datetime.fromisoformat("2026-03-02T05:10:42"),
        made_with="0.1.0",
        mill_name="Mill of the sample plan",
        winder="Winder 1",
        book=Source(name="shift.xlsx", fingerprint=_BOOK_PRINT),
        mill=Source(name="mill.toml", fingerprint=_MILL_PRINT),
        as_of=date(2026, 3, 2),
        settings=Settings(seed=1, time_limit_s=60.0),
        runs=(board, kraft),
        left_out=(LeftOut(order="4107", why="Orders, row 8: a width of -5"),),
        notes=("4107 is not planned: row 8 has a fault",),
    )
