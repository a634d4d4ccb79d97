"""From a row of the instruction sheet to an instruction, or to all that is wrong with it.

A pattern is written as a plan's workbook writes it, so that rows can be copied out of it: counts
and orders, with the ups of a sheeter reel and its sheeter, such as ``2 × A12 + 1 × B7, 3 ups on
Sheeter 1``. A pattern that is forbidden may name widths instead: ``2 × 735 mm``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from trimopt.book.book_columns import FREE, name_key
from trimopt.book.makeable import mm
from trimopt.book.model import Instruction, InstructionPiece, Order, Product, run_names
from trimopt.book.row_reader import RowReader, TableLine
from trimopt.book.units_of_measure import Dimension, measure_of
from trimopt.mill import Mill
from trimopt.paper import Measured, Written
from trimopt.paper.measures import Measure
from trimopt.paper.typed import CellFaultError, split_figure_and_unit

#: Columns that say something for each of them; a plan's own rows fill in more, and may be copied.
_TELLING = {
    "pin": {"run", "pattern", "core", "length", "number"},
    "forbid": {"run", "pattern", "core", "length", "number"},
    "together": {"run", "orders"},
    "apart": {"run", "orders"},
    "set-ups": {"run", "number"},
}
_RIGHT_PATTERN = "counts and orders, like 2 × A12 + 1 × B7, 3 ups on Sheeter 1"
_BETWEEN = re.compile(r"\s*\+\s*(?=\d+\s*[×xX*])")
_PIECE = re.compile(r"(\d+)\s*[×xX*]\s*(\S.*)")
_UPS = re.compile(r"(.+?),\s*(\d+)\s*ups?(?:\s+on\s+(\S.*))?", re.IGNORECASE)


def pattern_text(pieces: Iterable[InstructionPiece], written: Written | None = None) -> str:
    """A pattern as the instruction sheet writes it, widths in the units of an output.

    Examples
    --------
    >>> from fractions import Fraction
    >>> from trimopt.paper import UnitSystem
    >>> reel = InstructionPiece(count=2, order="A12")
    >>> pattern_text([reel, InstructionPiece(count=1, order="B7", ups=3)])
    '2 × A12 + 1 × B7, 3 ups'
    >>> inches = Written(system=UnitSystem.INCH_POUND, metric_beside=True)
    >>> pattern_text([InstructionPiece(count=2, width_mm=Fraction("738.1875"))], inches)
    '2 × 29 1/16 in'
    """
    return " + ".join(f"{piece.count} × {_piece_text(piece, written)}" for piece in pieces)


def _piece_text(piece: InstructionPiece, written: Written | None) -> str:
    if piece.width_mm is not None:
        # With no sign of thousands and no metric figure behind: what is printed can be typed again.
        if written is None or written.metric:
            return f"{mm(piece.width_mm)} mm"
        return f"{written.figure(Measured.WIDTH, piece.width_mm)} {written.unit(Measured.WIDTH)}"
    if piece.ups is None:
        return piece.order
    return f"{piece.order}, {piece.ups} ups" + (f" on {piece.sheeter}" if piece.sheeter else "")


def read_instruction(
    reader: RowReader, orders: Sequence[Order], mill: Mill
) -> TableLine[Instruction]:
    """The instruction with every fault that can be seen in its row.

    It warns of what it names and the book has not; then, too, the line is without its instruction.

    Parameters
    ----------
    orders
        The orders that can be planned.
    """
    reader.note_blanks()
    what = reader.choice("instruction")
    if what is None or what == FREE:
        return reader.line("", None)
    return reader.line("", _Reading(reader, what, orders, mill).instruction())


class _Reading:
    """One row whose instruction is known."""

    def __init__(self, reader: RowReader, what: str, orders: Sequence[Order], mill: Mill) -> None:
        self.reader = reader
        self.what = what
        self.by_number = {order.number.casefold(): order for order in orders}
        self.orders = orders
        self.mill = mill

    def _lacks(self, key: str, wrong: str) -> None:
        self.reader.note(key, wrong, "the instruction is left out", warning=True)

    def instruction(self) -> Instruction | None:
        reader, what = self.reader, self.what
        for key in ("orders", "pattern", "core", "length", "number"):
            if key not in _TELLING[what] and reader.raw(key) is not None:
                reader.note(key, f'says nothing beside "{what}"', "leave it blank")
        pattern = self._pattern() if "pattern" in _TELLING[what] else ()
        named = self._orders() if "orders" in _TELLING[what] else ()
        core_mm = self._core() if what == "pin" else None
        length_m = reader.metres("length", from_feet=round) if what == "pin" else None
        number = self._number()
        held = [self.by_number[p.order.casefold()] for p in pattern if p.order] or list(named)
        paper = self._paper(held)
        if reader.faults or reader.warnings:
            return None
        return Instruction(
            row=reader.row,
            what=what,
            grade=paper[0],
            grammage_gsm=paper[1],
            orders=tuple(order.number for order in named),
            pattern=pattern,
            core_mm=core_mm,
            length_m=length_m,
            number=number,
        )

    def _order(self, key: str, name: str) -> Order | None:
        order = self.by_number.get(name.casefold())
        if order is None:
            self._lacks(key, f'"{name}" is no order of the book that can be planned')
        return order

    def _orders(self) -> tuple[Order, ...]:
        text = self.reader.text("orders")
        names = [name.strip() for name in re.split(r"[;,\n]", text) if name.strip()]
        if text and text.casefold() in self.by_number:
            names = [text]
        found = [self._order("orders", name) for name in names]
        orders = tuple(dict.fromkeys(order for order in found if order is not None))
        if None not in found and len(orders) < 2:
            self.reader.note(
                "orders",
                "blank" if not text else "fewer than two orders",
                "two or more orders, with commas between them",
            )
        return orders

    def _pattern(self) -> tuple[InstructionPiece, ...]:
        text = self.reader.text("pattern")
        if not text:
            self.reader.note("pattern", "blank", _RIGHT_PATTERN)
            return ()
        pieces = [self._piece(part) for part in _BETWEEN.split(text)]
        if any(piece is None for piece in pieces):
            return ()
        return tuple(piece for piece in pieces if piece is not None)

    def _piece(self, part: str) -> InstructionPiece | None:
        found = _PIECE.fullmatch(part)
        if found is None or int(found[1]) < 1:
            self.reader.note("pattern", f'"{part}" is no count and order', _RIGHT_PATTERN)
            return None
        count, rest = int(found[1]), found[2].strip()
        figure, unit = split_figure_and_unit(rest)
        measure = measure_of(Dimension.WIDTH, unit) if unit else None
        if measure is not None and rest.casefold() not in self.by_number:
            return self._width(count, str(figure), measure)
        ups = _UPS.fullmatch(rest)
        order = self._order("pattern", ups[1] if ups else rest)
        if order is None:
            return None
        if order.product is Product.REEL:
            if ups:
                self.reader.note(
                    "pattern", f"order {order.number} is for reels", "take the ups out"
                )
                return None
            return InstructionPiece(count=count, order=order.number)
        return self._sheeter_piece(count, order, ups)

    def _width(self, count: int, text: str, measure: Measure) -> InstructionPiece | None:
        said = f'"{text} {measure.shown}"'
        if self.what == "pin":
            self.reader.note("pattern", f"{said} does not say for whom", "name the order")
            return None
        try:
            width_mm = self.reader.figure(text, fractions=True) * measure.factor
        except CellFaultError as fault:
            self.reader.note("pattern", f"{said}: {fault.wrong}", fault.right)
            return None
        return InstructionPiece(count=count, width_mm=width_mm)

    def _sheeter_piece(
        self, count: int, order: Order, ups: re.Match[str] | None
    ) -> InstructionPiece | None:
        if ups is None:
            self.reader.note(
                "pattern",
                f"order {order.number} is for sheets",
                f"the ups too, like {order.number}, 2 ups",
            )
            return None
        names = {
            sheeter.name.casefold(): sheeter.name
            for sheeter in self.mill.sheeters
            if order.chop_mm is not None
            and sheeter.min_chop_mm <= order.chop_mm <= sheeter.max_chop_mm
        }
        asked = (ups[3] or "").strip()
        sheeter = names.get(asked.casefold(), "")
        if (asked and not sheeter) or (not asked and len(names) != 1):
            listed = " or ".join(names.values()) or "none of the mill file does"
            self.reader.note(
                "pattern",
                f'"{asked}" is no sheeter that cuts order {order.number}'
                if asked
                else f"which sheeter cuts order {order.number} is not said",
                f"on {listed}",
            )
            return None
        return InstructionPiece(
            count=count,
            order=order.number,
            ups=int(ups[2]),
            sheeter=sheeter or next(iter(names.values())),
        )

    def _core(self) -> float | None:
        if self.mill.winder.kind == "single-drum":
            if self.reader.measure("core") is not None:
                self.reader.note("core", "this winder mixes cores in a set", "leave it blank")
            return None
        core = self.reader.core(self.mill.winder)
        return None if core is None else core.inside_mm

    def _number(self) -> int | None:
        if self.what == "set-ups":
            if self.reader.raw("number") is None:
                self.reader.note("number", "blank", "how many set-ups there may be")
            return self.reader.count("number")
        if self.what != "pin":
            return None
        number = 1 if self.reader.raw("number") is None else self.reader.count("number")
        if number == 0:
            self.reader.note("number", "below 1", "a whole number from 1 up")
        return number

    def _paper(self, held: Sequence[Order]) -> tuple[str, float | None]:
        """The paper that the instruction is for: of its orders, or as the column Run says."""
        papers = {(order.grade, order.grammage_gsm): order.number for order in held}
        key = "pattern" if "pattern" in _TELLING[self.what] else "orders"
        if len(papers) > 1:
            one, other = list(papers.values())[:2]
            self.reader.note(
                key, f"{one} and {other} are of two papers, which never share a set",
                "orders of one grade and grammage",
            )  # fmt: skip
            return "", None
        named = self._run(alone=not papers)
        if papers:
            (paper,) = papers
            if named is not None and named != paper:
                self.reader.note("run", "not the paper of its orders", self._names(paper)[0])
            return paper
        return ("", None) if named is None else named

    def _run(self, *, alone: bool) -> tuple[str, float] | None:
        text = self.reader.text("run")
        if not text:
            return None
        runs = {(order.grade, order.grammage_gsm) for order in self.orders}
        wanted = _run_key(text)
        for run in sorted(runs):
            if wanted in map(_run_key, self._names(run)):
                return run
        if alone:
            self._lacks("run", "no order that can be planned is of this paper")
            return None
        listed = ", ".join(self._names(run)[0] for run in sorted(runs))
        self.reader.note("run", "no order is of this paper", f"one of {listed}")
        return None

    def _names(self, run: tuple[str, float]) -> tuple[str, ...]:
        """What its run may be called."""
        grade = self.mill.grade(run[0])
        assert grade is not None
        own = [order for order in self.orders if (order.grade, order.grammage_gsm) == run]
        return run_names(run[1], own, grade)


def _run_key(text: str) -> str:
    return name_key(text.replace("g/m²", "").replace("g/m2", ""))
