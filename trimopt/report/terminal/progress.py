"""How far the solving is, shown on standard error while it goes on."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import TYPE_CHECKING, Protocol, TextIO

from trimopt.report.words.texts import text
from trimopt.text import for_terminal

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

__all__ = ["ProgressView", "Step"]


class Step(Protocol):
    """What the engine tells on the way; loss and bound are in a unit of its own."""

    @property
    def seconds(self) -> float:
        """Since solving began."""

    @property
    def loss(self) -> int | None:
        """Least loss found so far."""

    @property
    def bound(self) -> int | None:
        """Loss proven to be least."""

    @property
    def step(self) -> str:
        """What is being done."""


class ProgressView:
    """Shows for each run the step, the seconds, the loss found and the loss proven to be least.

    Silent when `quiet`, and where the stream is no terminal: a log gets no moving lines. Results
    are never written here.

    Parameters
    ----------
    quiet : bool
        Show nothing.
    stream : TextIO, optional
        Where to; standard error unless given.

    Examples
    --------
    >>> with ProgressView(quiet=True) as view:
    ...     view.report("Board 250", "patterns", seconds=0.4, loss_kg=120.0, bound_kg=118.0)
    """

    def __init__(self, *, quiet: bool = False, stream: TextIO | None = None) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self._shown = not quiet and self._stream.isatty()
        self._progress: Progress | None = None
        self._tasks: dict[str, TaskID] = {}

    @property
    def shown(self) -> bool:
        """Whether anything is drawn."""
        return self._shown

    def __enter__(self) -> ProgressView:
        """Begin to draw."""
        if self._shown:
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

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take the display away, also when the solving was interrupted."""
        if self._progress is not None:
            self._progress.stop()
            self._progress = None
        self._tasks.clear()

    def report(
        self,
        run: str,
        step: str,
        *,
        seconds: float,
        loss_kg: float | None = None,
        bound_kg: float | None = None,
    ) -> None:
        """Say how far a run is.

        Parameters
        ----------
        run : str
            Name of the run.
        step : str
            What is being done, in words.
        seconds : float
            Since the run's solving began.
        loss_kg, bound_kg : float, optional
            Best loss found so far, kg, and the loss proven to be least.
        """
        words = []
        if loss_kg is not None:
            words.append(text("progress.loss", mass=loss_kg))
        if bound_kg is not None:
            words.append(text("progress.bound", mass=bound_kg))
        self._show(run, step, seconds, words)

    def update(self, run: str, progress: Step) -> None:
        """Say how far a run is, as the engine tells it: the gap as a share of the loss."""
        words = []
        if progress.loss is not None:
            words.append(text("progress.found"))
            if progress.bound is not None and progress.loss > 0:
                gap = max(progress.loss - progress.bound, 0) / progress.loss
                words.append(text("progress.gap" if gap else "progress.optimal", gap=gap))
        self._show(run, progress.step, progress.seconds, words)

    def _show(self, run: str, step: str, seconds: float, words: list[str]) -> None:
        if self._progress is None:
            return
        step = text("progress.improving") if step.endswith("exchange") else step
        line = "  ".join([f"{step:<14}", f"{seconds:6.1f} s", *words])
        if run in self._tasks:
            self._progress.update(self._tasks[run], words=line)
        else:
            shown = for_terminal(run, self._stream.encoding or "ascii")
            self._tasks[run] = self._progress.add_task(shown, total=None, words=line)

    def done(self, run: str) -> None:
        """Take a run that is planned off the display."""
        if self._progress is not None and run in self._tasks:
            self._progress.remove_task(self._tasks.pop(run))
