"""Eight exports in eight languages: each read whole, or refused for what is truly ambiguous."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.book.books import AS_OF, example_mill
from tests.exports.eight_exports import EIGHT, Exported
from trimopt.book import read_book
from trimopt.book.propose_export import proposal_for
from trimopt.errors import OrderBookError
from trimopt.mill import Export, Mill


def answered(exported: Exported) -> Mill:
    """The example mill with the answers to what was asked."""
    export = Export(**exported.export)
    return replace(example_mill(), headings=dict(exported.headings), export=export)


@pytest.mark.parametrize("exported", EIGHT, ids=lambda one: one.name)
def test_read_whole(exported: Exported, tmp_path: Path) -> None:
    """With its questions answered, every order has its width, quantity and date."""
    path = tmp_path / exported.name
    exported.write(path)
    book = read_book(path, answered(exported), as_of=AS_OF)
    assert [(o.number, o.width_mm, o.quantity) for o in book.orders] == [
        (number, Fraction(width), Fraction(quantity)) for number, width, quantity in exported.sizes
    ]
    due = book.orders[0].due
    assert due is not None
    assert due.date().isoformat() == exported.due
    assert len(book.faults) == exported.refused
    assert all(order.core_mm in {152, None} for order in book.orders)


@pytest.mark.parametrize("exported", EIGHT, ids=lambda one: one.name)
def test_what_is_asked(exported: Exported, tmp_path: Path) -> None:
    """The proposal asks as much as a person has to decide, and no more."""
    path = tmp_path / exported.name
    exported.write(path)
    proposal = proposal_for(path, example_mill())
    assert proposal.questions == exported.questions, proposal.text()


@pytest.mark.parametrize("exported", EIGHT, ids=lambda one: one.name)
def test_nothing_silently_wrong_before_the_answers(exported: Exported, tmp_path: Path) -> None:
    """Read by the mill file as it was: what is read is right, the rest is a fault."""
    path = tmp_path / exported.name
    exported.write(path)
    try:
        book = read_book(path, example_mill(), as_of=AS_OF)
    except OrderBookError:
        return
    right = {
        number: (Fraction(width), Fraction(quantity)) for number, width, quantity in exported.sizes
    }
    for order in book.orders:
        assert (order.width_mm, order.quantity) == right[order.number]
    assert bool(book.faults) or len(book.orders) == len(right)
