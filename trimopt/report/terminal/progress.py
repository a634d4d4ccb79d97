"""How far the solving is, shown on standard error while it goes on."""

from __future__ import annotations

import sys
from math import inf
from typing import TYPE_CHECKING, TextIO

from trimopt.progress import PLANNED
from trimopt.report.words.texts import text
from trimopt.text import for_terminal

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

    from trimopt.progress import RunProgress


class ProgressView:
    """Shows for each run the phase, the loss found and the loss proven to be least, and the whole.

    Silent when `quiet`, and where the stream is no terminal: a log gets no moving lines. Results
    are never written here.

    Examples
    --------
    >>> from trimopt.progress import RunProgress
    >>> with ProgressView(quiet=True) as view:
    ...     view.report(RunProgress(run="Board 250", phase="patterns", loss_kg=120.0, share=0.4))
    """

    def __init__(self, *, quiet: bool = False, stream: TextIO | None = None) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self.shown = not quiet and self._stream.isatty()
        self._progress: Progress | None = None
        self._tasks: dict[str, TaskID] = {}

    def __enter__(self) -> ProgressView:
        if self.shown:
            from rich.console import Console
            from rich.progress import Progress, SpinnerColumn, TextColumn

            plain = (self._stream.encoding or "ascii").lower().replace("-", "") != "utf8"
            self._progress = Progress(
                SpinnerColumn("line" if plain else "dots"),
                TextColumn("{task.description}", markup=False),
                TextColumn("{task.fields[words]}", markup=False),
                console=Console(file=self._stream, highlight=False),
                transient=True,
                refresh_per_second=5,
            )
            self._progress.start()
        return self

    def __exit__(self, *raised: object) -> None:
        """Take the display away, also when the solving was interrupted."""
        if self._progress is not None:
            self._progress.stop()
            self._progress = None
        self._tasks.clear()

    def report(self, event: RunProgress) -> None:
        """Say how far a run is, and the whole plan."""
        if self._progress is None:
            return
        left = text("progress.left", seconds=event.left_s) if event.left_s < inf else ""
        self._show("", f"{event.share:4.0%}  {left if event.run else event.phase}")
        if event.phase == PLANNED:
            if event.run in self._tasks:
                self._progress.update(self._tasks[event.run], visible=False)
        elif event.run:
            words = [f"{event.phase:<15}"]
            if event.loss_kg is not None:
                words.append(text("progress.loss", mass=event.loss_kg))
            if event.bound_kg is not None:
                words.append(text("progress.bound", mass=event.bound_kg))
            self._show(event.run, "  ".join(words))

    def _show(self, run: str, words: str) -> None:
        assert self._progress is not None
        if run in self._tasks:
            self._progress.update(self._tasks[run], words=words)
        else:
            shown = for_terminal(run or text("progress.plan"), self._stream.encoding or "ascii")
            self._tasks[run] = self._progress.add_task(shown, total=None, words=words)
