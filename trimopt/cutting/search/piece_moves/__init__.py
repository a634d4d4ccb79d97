"""Whole pieces and whole numbers of sets, patterns left open until they are known.

A plan says how many pieces of each option are made and how many sets of each class are wound; its
loss depends on nothing else. Whether the pieces of a class fit into so many sets is a question of
fewest sets, and there the linear program rounded up is nearly always right. So plans are sought by
pieces and numbers of sets alone, the linear program of each class saying what fits, and patterns
are made of what was found.

References
----------
G. Scheithauer, J. Terno (1995), "The modified integer round-up property of the one-dimensional
cutting stock problem", European Journal of Operational Research 84, 562-571.
"""

from trimopt.cutting.search.piece_moves.sweeps import ClassSweeps as ClassSweeps
