"""Property tests here are judged by what holds, not by the clock of a busy machine."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
