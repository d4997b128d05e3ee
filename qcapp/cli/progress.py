"""How far a long command is: a bar on a terminal, else a line every few seconds; on stderr."""

import atexit
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich import progress
from rich.console import Console

PLAIN_S = 5.0


class Progress:
    """Called with what goes on, how many are done, how many there are;
    another `what` begins a new bar.
    """

    def __init__(
        self, console: Console | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._console, self._clock = console or Console(stderr=True), clock
        self._bar, self._task = progress.Progress(console=self._console), progress.TaskID(0)
        self._what, self._told_at = "", 0.0

    def __call__(self, what: str, done: int, total: int) -> None:
        if what != self._what:
            self._begin(what, done, total)
        self._bar.update(self._task, completed=done, total=total)
        if done >= total:
            # It leaves the last line behind.
            self._bar.stop()
            self._what = ""
        elif not self._console.is_terminal and self._clock() - self._told_at >= PLAIN_S:
            self._told_at = self._clock()
            self._console.print(self._bar.get_renderable())

    def _begin(self, what: str, done: int, total: int) -> None:
        self._bar.stop()
        bar = [progress.BarColumn()] if self._console.is_terminal else []
        self._bar = progress.Progress(
            progress.TextColumn("{task.description}:"),
            *bar,
            progress.TextColumn("{task.completed:,} of {task.total:,}"),
            progress.TimeRemainingColumn(compact=True),
            progress.TextColumn("left"),
            console=self._console,
            get_time=self._clock,
        )
        # What was done before this run says nothing about its speed.
        self._task = self._bar.add_task(what, completed=done, total=total)
        self._what, self._told_at = what, self._clock()
        self._bar.start()
        # An error or Ctrl+C on the way must not leave the terminal without its cursor.
        atexit.register(self._bar.stop)


@contextmanager
def explain_interrupt(kept: str) -> Iterator[None]:
    """Ctrl+C ends the command, but not without saying what is kept and how to go on."""
    try:
        yield
    except KeyboardInterrupt:
        print(f"\nqcapp: interrupted; {kept}", file=sys.stderr, flush=True)
        raise
