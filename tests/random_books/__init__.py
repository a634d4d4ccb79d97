"""Random mills with their order books, numbered, so that what a case showed can be seen again.

    from tests.random_books import random_case
    case = random_case(137)
    mill, book = case.write(folder)        # a mill file and a workbook, as a mill would have them
    case.flags                             # what the command is told beside them

A case is the same for a number as long as this package does not change. Its size follows from the
last figure of the number (`orders_of`): 0 to 5 are small, 9 is up to 120 orders. Numbers from
`rare.RARE_FROM` on have what is seldom, too.
"""

from __future__ import annotations

from tests.random_books.case import (
    RandomCase as RandomCase,
    orders_of as orders_of,
    random_case as random_case,
    small_numbers as small_numbers,
)
