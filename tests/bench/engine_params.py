"""Tuned numbers of the engine on a command line: ``--effort quick --set local_search.beam=5``."""

from __future__ import annotations

import argparse
from ast import literal_eval
from dataclasses import replace

from trimopt.cutting.params import EngineParams


def add_set_option(parser: argparse.ArgumentParser) -> None:
    """Let a bench vary the engine's numbers."""
    parser.add_argument("--effort", choices=["quick", "normal", "thorough"], default="normal")
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="GROUP.NAME=VALUE",
        help="another value of a tuned number of trimopt/cutting/params.py",
    )


def params_of(options: argparse.Namespace) -> EngineParams:
    """The engine's numbers with those that were set.

    Raises
    ------
    AttributeError, TypeError
        There is no such group, or no such number in it.
    """
    params = EngineParams.for_effort(options.effort)
    for text in options.set:
        name, value = text.split("=", 1)
        group, field = name.split(".", 1)
        changed = replace(getattr(params, group), **{field: literal_eval(value)})
        params = replace(params, **{group: changed})
    return params
