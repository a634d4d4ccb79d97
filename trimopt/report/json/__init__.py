"""Answers as JSON."""
