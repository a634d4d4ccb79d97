"""The independent check of a plan: recomputed from mill file, order book and the list of sets.

It imports the data of `plan`, `book` and `mill` and nothing that makes a plan. `RULES.md` says what
is recomputed, and how.
"""

from trimopt.check.findings import Finding as Finding
from trimopt.check.plan_check import verify_plan as verify_plan
