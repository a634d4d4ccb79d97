"""A second, plain checker of plans, which reads only what is printed, order book and mill file.

Workbook, page, labels, JSON and terminal are read as a person would read them and compared with
each other figure by figure; what they say is reckoned again from the mill file and the order book.
It shares no code with trimopt: a second opinion, also on trimopt's own check.

    from tests.printed import findings
    for found in findings(made): print(found)
"""

from __future__ import annotations

from tests.printed.check import findings as findings, refusals as refusals
from tests.printed.figures import Found as Found
