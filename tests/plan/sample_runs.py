"""The two runs of the sample plan: every pattern, layout and count is written down here."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction

from tests.plan.sample_book import sample_book, sample_mill
from tests.plan.sample_parts import (
    WINDER,
    block,
    diameter_mm,
    kg,
    line,
    nominal,
    proof,
    reels,
    set_row,
    timed,
)
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import Block, JumboUse, Position, RunPlan
from trimopt.plan.proof_data import SetLength, TradePoint
from trimopt.plan.sheeter_load import Load, LoadReel
from trimopt.plan.states import OrderState

_F = Fraction


def board_run(start: datetime) -> RunPlan:
    orders = sample_book().orders
    g, wide, length = 250.0, _F(3600), 3150
    across = diameter_mm(180.0, length, 380.0)  # 1247.6 mm
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
    rows = [set_row(n + 1, f"J{n // 4 + 1:02d}", n % 4 * length, length, across) for n in range(10)]
    blocks, finish = timed(
        (
            block(  # 3,560 mm: the deckle is full
                1,
                reels("4101", _F(1000), 2, 152.0) + reels("4102", _F(780), 2, 152.0),
                _F(20),
                rows[:6],
                moved=(False,) * 5,
            ),
            block(  # 3,460 mm: strips of 70 would be too wide, so a broke reel of 100
                2,
                [*reels("4101", _F(1000), 2, 152.0), sheeter, broke],
                _F(20),
                rows[6:8],
                moved=(False, False, False, True, False),
            ),
            block(  # the no-edge reel stands inside
                3,
                [sheeter, *reels("4104", _F(600), 1, 152.0), sheeter],
                _F(60),
                rows[8:],
                moved=(True, True, True, False),
                idle=(_F(3480),),
            ),
        ),
        start,
    )
    done = [blocks[i].sets[-1].finish for i in range(3)]
    cut = board_loads(blocks)[-1].finish
    # 3,088 chops a reel (3,150 m / 1.02 m), 2 ups, 1 % waste: 6,114 sheets a reel, six reels.
    sheets, sheet_kg = 6 * 6114, 0.72 * 1.02 * 0.250
    one_600 = kg(600, length, g)
    target = 3162  # m on a reel of 1,250 mm
    lines = (
        line(
            orders[0], done[1], 8,
            min_quantity=_F(16), max_quantity=_F(16), planned=_F(16),
            ordered_kg=16 * kg(1000, target, g), planned_kg=16 * kg(1000, length, g),
            state=OrderState.LIGHT, text="12,600 kg; at the target diameter 12,648 kg or more",
        ),
        line(
            orders[1], done[0], 6,
            min_quantity=_F(6300), max_quantity=_F(7700), planned=12 * _F("614.25"),
            ordered_kg=7000.0, planned_kg=12 * kg(780, length, g),
        ),
        line(
            orders[2], cut, 10,
            min_quantity=_F(34200), max_quantity=_F(37800), planned=_F(sheets),
            ordered_kg=36000 * sheet_kg, planned_kg=sheets * sheet_kg,
        ),
        line(
            orders[3], done[2], 10,
            min_quantity=_F(1), max_quantity=_F(1), planned=_F(2),
            ordered_kg=kg(600, target, g), planned_kg=2 * one_600, surplus_kg=one_600,
            state=OrderState.OVER, text="472 kg above the upper tolerance: 1 reel to stock",
        ),
    )  # fmt: skip
    wound_m, used_m = 10 * length, 13000 + 13000 + 6400
    delivered = sum(each.delivered_kg for each in lines)
    balance = Balance(
        used_kg=kg(wide, used_m, g),
        delivered_kg=delivered,
        surplus_kg=one_600,
        edge_trim_kg=kg(40, wound_m, g),
        pattern_trim_kg=kg(100, 2 * length, g) + kg(40, 2 * length, g),
        sheeter_kg=6 * kg(1460, length, g) - sheets * sheet_kg,
        butts_kg=kg(wide, 200, g),
        start_end_kg=kg(wide, 300 + 300 + 100, g),
        broke_kg=kg(100, 2 * length, g),
        wound_kg=kg(wide, wound_m, g),
        deckle_kg=kg(3560, wound_m, g),
        under_kg=16 * kg(1000, target - length, g) + kg(600, target - length, g),
        over_kg=12 * kg(780, length, g) - 7000.0 + (sheets - 36000) * sheet_kg,
    )
    return RunPlan(
        name="Folding board 250 g/m²",
        winder=WINDER,
        grade="Folding board",
        grammage_gsm=g,
        wound_caliper_um=380.0,
        cores=sample_mill().winder.cores,
        jumbo_width_mm=wide,
        deckle_mm=_F(3560),
        set_lengths=(
            SetLength(core_mm=152.0, length_m=3150, diameter_mm=across),
            SetLength(core_mm=152.0, length_m=3000, diameter_mm=diameter_mm(180.0, 3000, 380.0)),
        ),
        proof=proof(
            balance,
            # At 3,150 m the reels of 4101 and 4104 stay 12 m below their target of 3,162 m.
            40 / 3560 * (16 * kg(1000, length, g) + 7000 + 36000 * sheet_kg + one_600)
            + 0.1 * (16 * kg(1000, target - length, g) + kg(600, target - length, g)),
            4,
            unit_mm=_F(20),
            seconds=0.4,
            metres_used=10 * length + 200,
        ),
        blocks=blocks,
        jumbos=(
            nominal("J01", 4 * length, 100, 0),
            nominal("J02", 4 * length, 100, 0),
            nominal("J03", 2 * length, 0, 6600),
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
                chosen=True,
                with_butts_kg=balance.wound_kg
                - delivered
                + 0.1 * (balance.under_kg + balance.over_kg)
                + balance.butts_kg,
                trim_loss=balance.trim_loss,
                knife_moves=4,
            ),
            TradePoint(
                patterns=2,
                loss_kg=1610.0,
                loss_bound_kg=900.0,
                chosen=False,
                with_butts_estimate_kg=1650.0,
                trim_loss_estimate=0.0301,
            ),
        ),
        notes=("4104: the reel above the quantity goes to stock",),
    )


def board_loads(blocks: tuple[Block, ...]) -> tuple[Load, ...]:
    """Six sheeter reels on four stands: a full load, and a part load of two.

    The first begins when set 9 is wound; set 10 is wound before it is cut. A load takes 12 minutes
    to change, and 3,150 m at 250 m/min.
    """
    ready = [row.finish for row in blocks[2].sets]
    minutes = timedelta(minutes=12 + 3150 / 250)
    assert ready[0] is not None
    assert ready[1] is not None
    first = Load(
        number=1,
        sheeter="Sheeter A",
        run="Folding board 250 g/m²",
        order="4103",
        width_mm=_F(1460),
        ups=2,
        length_m=3150,
        stands=4,
        reels=tuple(
            LoadReel(set_number=number, position=position)
            for number, position in ((7, 3), (8, 3), (9, 1), (9, 3))
        ),
        sheets=4 * 6114,
        ready=ready[0],
        start=ready[0],
        finish=ready[0] + minutes,
    )
    second = replace(
        first,
        number=2,
        reels=(LoadReel(set_number=10, position=1), LoadReel(set_number=10, position=3)),
        sheets=2 * 6114,
        ready=ready[1],
        start=first.finish,
        finish=first.finish + minutes,
    )
    return first, second


def kraft_run(start: datetime) -> RunPlan:
    orders = sample_book().orders
    g, wide, length = 120.0, _F(3600), 6200
    across = diameter_mm(100.0, length, 150.0)  # 1092.8 mm
    rows = [
        set_row(1, "K-17", 0, length, across),
        set_row(2, "K-17", length, length, across),
        set_row(3, "J04", 0, length, across),
    ]
    blocks, finish = timed(
        (
            block(  # from 60, 1520, 2120, 3480, 3580 of the board: all move, the fifth to its end
                1,
                reels("4105", _F(2373, 2), 3, 76.0),
                _F(20),
                rows[:2],
                moved=(True,) * 4,
                idle_moves=1,
            ),
            block(
                2,
                reels("4106", _F(593), 6, 76.0),
                _F(20),
                rows[2:],
                moved=(False, True, True, True, True, True, True),
            ),
        ),
        start,
    )
    lines = (
        line(
            orders[4], blocks[0].sets[-1].finish, 2,
            min_quantity=_F(32400), max_quantity=_F(39600), planned=_F(6 * length),
            ordered_kg=kg(1186.5, 36000, g), planned_kg=kg(1186.5, 6 * length, g),
        ),
        line(
            orders[5], blocks[1].sets[-1].finish, 3,
            min_quantity=_F(6), max_quantity=_F(6), planned=_F(6),
            # 500 kg is 7,026 m of 593 mm: the mass limit comes before the winder's 1,300 mm.
            ordered_kg=6 * kg(593, 7026, g), planned_kg=6 * kg(593, length, g),
            state=OrderState.LIGHT, text="2,690 kg; at the target diameter 3,000 kg or more",
        ),
    )  # fmt: skip
    balance = Balance(
        used_kg=kg(wide, 12800 + 6300, g),
        delivered_kg=sum(each.delivered_kg for each in lines),
        surplus_kg=0.0,
        edge_trim_kg=kg(40, 3 * length, g),
        pattern_trim_kg=kg(0.5, 2 * length, g) + kg(2, length, g),
        sheeter_kg=0.0,
        butts_kg=kg(wide, 200, g),
        start_end_kg=kg(wide, 50 + 150 + 100, g),
        broke_kg=0.0,
        wound_kg=kg(wide, 3 * length, g),
        deckle_kg=kg(3560, 3 * length, g),
        under_kg=6 * kg(593, 7026 - length, g),
        over_kg=kg(1186.5, 1200, g),
    )
    return RunPlan(
        name="Sack kraft 120 g/m²",
        winder=WINDER,
        grade="Sack kraft",
        grammage_gsm=g,
        wound_caliper_um=150.0,
        cores=sample_mill().winder.cores,
        jumbo_width_mm=wide,
        deckle_mm=_F(3560),
        set_lengths=(SetLength(core_mm=76.0, length_m=length, diameter_mm=across),),
        proof=proof(
            balance,
            40 / 3560 * (kg(1186.5, 36000, g) + 6 * kg(593, length, g))
            + 0.1 * 6 * kg(593, 7026 - length, g),
            2,
            unit_mm=_F(1, 2),
            seconds=0.2,
            metres_used=3 * length + 200,
        ),
        blocks=blocks,
        jumbos=(
            JumboUse(
                name="K-17",
                winder=WINDER,
                nominal=False,
                width_mm=wide,
                length_m=12800,
                loss_start_m=50,
                loss_end_m=150,
                wound_m=2 * length,
                butt_m=200,
                carried_forward_m=0,
            ),
            nominal("J04", length, 0, 6700),
        ),
        orders=lines,
        balance=balance,
        set_ups=1,
        set_ups_bound=1,
        knife_moves=11,
        knife_moves_bound=6,
        minutes=(finish - start).total_seconds() / 60,
        start=start,
        finish=finish,
    )
