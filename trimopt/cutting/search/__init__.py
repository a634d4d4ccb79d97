"""Searches for whole sets: rounding, local search over patterns, whole pieces, restarts."""
