"""The plan does not depend on who else uses the machine, nor on how many workers share the runs."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from tests.plan.small import order
from tests.plan.sample_book import sample_mill
from trimopt import Book, Plan, Request, make_plan
from trimopt.plan.planning.run_workers import longest_first, shares_of_time

_MADE_AT = datetime(2026, 3, 1, tzinfo=UTC)
