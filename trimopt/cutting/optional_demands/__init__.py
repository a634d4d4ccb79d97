"""Which of some demands join a plan, under limits on its sets; a bound over every choice."""

from trimopt.cutting.optional_demands.choice_search import choose_demands as choose_demands
from trimopt.cutting.optional_demands.choosing import (
    Choice as Choice,
    Choosing as Choosing,
    SetLimit as SetLimit,
)
