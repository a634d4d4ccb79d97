"""Instructions as rules of the search, and what stands against one that cannot be kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise

from trimopt.book.instruction_line import pattern_text
from trimopt.book.model import Instruction
from trimopt.cutting import Cut, Instance, Pattern, blocked, pattern_faults, residual
from trimopt.making import PreparedRun, Run, sheeter_width_mm
from trimopt.mill.model import Mill
from trimopt.paper import Measured
from trimopt.plan.planning.instructions import pinned_sets
from trimopt.plan.planning.schedule.run_lots import merged


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What the engine keeps to: the run with its rules, and cuts that stay.

    The sets of `held` patterns keep their length to the metre.
    """

    instance: Instance
    fixed: tuple[Cut, ...] = ()
    held: frozenset[Pattern] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Why an instruction is left out, and the rules of what is nearest to it, if any is."""

    why: str
    nearest: str = ""
    rules: Rules | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Resolved:
    """The instructions that can be kept together with their rules, and the others."""

    rules: Rules
    kept: tuple[Instruction, ...]
    refused: Mapping[Instruction, Refused]

    @property
    def rules_asked(self) -> tuple[Instruction, ...]:
        """Those kept that are rules of the search: all but caps on set-ups."""
        return tuple(each for each in self.kept if each.what != "set-ups")

    @property
    def max_set_ups(self) -> int | None:
        """The lowest of the caps kept."""
        caps = [each.number for each in self.kept if each.what == "set-ups"]
        return min((number for number in caps if number is not None), default=None)


def with_rules_of_patterns(
    making: PreparedRun, run: Run, mill: Mill, instructions: Sequence[Instruction]
) -> PreparedRun:
    """The run with every pattern that instructions forbid or part shut out, in all its classes.

    For sets that are chosen before it is known which instructions can be kept beside one another.
    """
    resolver = InstructionResolver(run, making, mill, usable_m=0)
    instance = making.instance
    for each in instructions:
        if each.what in ("forbid", "together", "apart") and resolver.place.keys() >= set(
            each.orders
        ):
            instance = resolver.ruled(instance, each)
    return replace(making, instance=instance)


def widths_forbidden(instruction: Instruction, run: Run, mill: Mill) -> Counter[Fraction]:
    """How many reels of each width a forbidden pattern has, by the orders of its run, mm."""
    orders = {order.number: order for order in run.orders}
    sheeters = {sheeter.name: sheeter for sheeter in mill.sheeters}
    widths: Counter[Fraction] = Counter()
    for piece in instruction.pattern:
        width_mm = piece.width_mm
        if width_mm is None:
            width_mm = orders[piece.order].width_mm
            if piece.ups is not None:
                width_mm = sheeter_width_mm(width_mm, piece.ups, sheeters[piece.sheeter])
        widths[width_mm] += piece.count
    return widths


class InstructionResolver:
    """Takes the instructions of a run one after another.

    Parameters
    ----------
    run
        The run with all its orders; `making` lacks those that cannot be made.
    usable_m
        The longest set that a jumbo gives, m.
    """

    def __init__(self, run: Run, making: PreparedRun, mill: Mill, *, usable_m: int) -> None:
        self.run = run
        self.making = making
        self.mill = mill
        self.usable_m = usable_m
        self.stopped = {order.number: why for order, why in making.stopped}
        self.place = {order.number: i for i, order in enumerate(making.run.orders)}

    def resolve(self, free: Rules, instructions: Sequence[Instruction]) -> Resolved:
        """Keep what can be kept, in the order of the rows."""
        rules, kept, refused = free, list[Instruction](), dict[Instruction, Refused]()
        for instruction in instructions:
            answer = self._with(rules, instruction, kept)
            if isinstance(answer, Rules):
                rules = answer
                kept.append(instruction)
                continue
            if answer.rules is None and kept:
                alone = self._with(free, instruction, [])
                if isinstance(alone, Rules):
                    answer = replace(answer, nearest="it alone, without the others", rules=alone)
            refused[instruction] = answer
        return Resolved(rules=rules, kept=tuple(kept), refused=refused)

    def _with(
        self, rules: Rules, instruction: Instruction, kept: Sequence[Instruction]
    ) -> Rules | Refused:
        if instruction.what == "set-ups":
            return rules
        if instruction.what != "forbid":
            for name in (*instruction.orders, *(piece.order for piece in instruction.pattern)):
                if name in self.stopped:
                    return Refused(why=f"order {name} cannot be made: {self.stopped[name]}")
        if instruction.what == "pin":
            return self._pinned(rules, instruction, kept)
        more = replace(rules, instance=self.ruled(rules.instance, instruction))
        for pin in kept:
            if pin.what == "pin":
                pattern = self._pattern(pin, rules.instance)
                if pattern is not None and pattern_faults(more.instance, pattern):
                    return Refused(why=f"it conflicts with the pattern of the {pin.name}")
        return self._whole(more, kept)

    def ruled(self, instance: Instance, instruction: Instruction) -> Instance:
        """The run with one rule more."""
        places = [self.place[name] for name in instruction.orders]
        if instruction.what == "together":
            return replace(instance, together=(*instance.together, *pairwise(places)))
        if instruction.what == "apart":
            return replace(instance, apart=(*instance.apart, *combinations(places, 2)))
        return replace(instance, barred=(*instance.barred, *self._barred(instruction)))

    def _barred(
        self, instruction: Instruction
    ) -> tuple[tuple[int, tuple[tuple[int, int], ...]], ...]:
        counts: Counter[int] = Counter()
        for width_mm, count in widths_forbidden(instruction, self.run, self.mill).items():
            units = width_mm / self.making.width_unit_mm
            if units.denominator != 1:
                return ()  # no reel of the run is so wide
            counts[int(units)] += count
        widths = tuple(sorted(counts.items()))
        return tuple((c, widths) for c in range(len(self.making.classes)))

    def _whole(self, rules: Rules, kept: Sequence[Instruction]) -> Rules | Refused:
        """The rules where every order can still be made."""
        unmade = blocked(residual(rules.instance, rules.fixed))
        if not unmade:
            return rules
        names = [self.making.run.orders[i].number for i in unmade]
        mass_kg = sum(self.making.kg(self.making.instance.demands[i].ordered or 0) for i in unmade)
        mass = self.making.run.written.text(Measured.MASS, mass_kg)
        orders = f"order{'s' if len(names) > 1 else ''} {', '.join(names)}"
        others = " beside the instructions above it" if kept else ""
        return Refused(
            why=f"with it{others} no pattern is left for {orders}: {mass} could not be made"
        )

    def _pattern(self, pin: Instruction, instance: Instance) -> Pattern | None:
        place = pinned_sets.place_of(pin, self.run, self.mill, usable_m=self.usable_m)
        return pinned_sets.pattern_of(self.making, pin, place, instance)

    def _pinned(
        self, rules: Rules, instruction: Instruction, kept: Sequence[Instruction]
    ) -> Rules | Refused:
        place = pinned_sets.place_of(instruction, self.run, self.mill, usable_m=self.usable_m)
        pattern = pinned_sets.pattern_of(self.making, instruction, place, rules.instance)
        if pattern is None:
            return Refused(
                why=place.against or "the winder's max. set mass allows no set of that length"
            )
        sets = instruction.number or 1
        why = place.against or pinned_sets.stopped_by(self.making, self.mill, pattern)
        if why:
            return self._nearest(rules, pattern, sets, why)
        for rule in kept:
            if rule.what not in ("pin", "set-ups") and pattern_faults(
                self.ruled(self.making.instance, rule), pattern
            ):
                return Refused(why=f"it conflicts with the {rule.name}")
        more = _fixed(rules, pattern, sets)
        if instruction.length_m is not None:
            more = replace(more, held=rules.held | {pattern})
        return self._whole(more, kept)

    def _nearest(self, rules: Rules, pattern: Pattern, sets: int, why: str) -> Refused:
        near = pinned_sets.nearest_pattern(rules.instance, pattern)
        if near is None:
            return Refused(why=why)
        more = self._whole(_fixed(rules, near, sets), ())
        if isinstance(more, Refused):
            return Refused(why=why)
        length_m = self.making.classes[near.winding_class].length_m
        text = pattern_text(pinned_sets.pieces_of(self.making, near))
        count = f"{sets} set{'s' if sets > 1 else ''}"
        length = self.making.run.written.text(Measured.LENGTH, length_m)
        return Refused(why=why, nearest=f"{count} of {length}: {text}", rules=more)


def _fixed(rules: Rules, pattern: Pattern, sets: int) -> Rules:
    return replace(rules, fixed=merged((*rules.fixed, Cut(pattern, sets))))
