"""The small plans of the example books, made once."""

from tests.plan.planning.revising.conftest import cases

__all__ = ["cases"]
