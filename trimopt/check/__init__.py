"""The independent check of a plan: recomputed from mill file, order book and the list of sets.

It imports the data of `plan`, `book` and `mill` and nothing that makes a plan.
"""

from trimopt.check.check_plan import verify_plan
from trimopt.check.findings import Finding

__all__ = ["Finding", "verify_plan"]
