"""How far a long command is: a bar on a terminal, else a plain line every few seconds; always on stderr."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

WIDTH = 24
TERMINAL_S, PLAIN_S = 0.1, 5.0


class Progress:
    """Called with what goes on, how many are done, how many there are; another `what` begins a new bar."""

    def __init__(self, stream=None, clock=time.monotonic) -> None:
        self._stream, self._clock = stream or sys.stderr, clock
        self._is_terminal = self._stream.isatty()
        self._what, self._began, self._first, self._last = "", 0.0, 0, 0.0

    def __call__(self, what: str, done: int, total: int) -> None:
        now = self._clock()
        if what != self._what:
            # What was done before this run says nothing about its speed.
            self._what, self._began, self._first, self._last = (
                what,
                now,
                done,
                float("-inf") if self._is_terminal else now,
            )
        if done < total and now - self._last < (TERMINAL_S if self._is_terminal else PLAIN_S):
            return
        self._last = now
        self._write(done, total, now - self._began)

    def _write(self, done: int, total: int, seconds: float) -> None:
        rate = (done - self._first) / seconds if seconds > 0 else 0.0
        words = f"{self._what}: {done:,} of {total:,}"
        if rate > 0:
            words += f", {rate:,.0f} a second" + (
                f", {_as_clock((total - done) / rate)} left" if done < total else ""
            )
        if not self._is_terminal:
            print(words, file=self._stream, flush=True)
            return
        filled = WIDTH * done // max(total, 1)
        # The escape clears what a longer line left behind.
        print(
            f"\r[{'#' * filled}{'.' * (WIDTH - filled)}] {words}\x1b[K",
            end="\n" if done >= total else "",
            file=self._stream,
            flush=True,
        )


def _as_clock(seconds: float) -> str:
    """h:mm:ss, or m:ss below an hour."""
    minutes, rest = divmod(round(seconds), 60)
    return (
        f"{minutes // 60}:{minutes % 60:02}:{rest:02}" if minutes >= 60 else f"{minutes}:{rest:02}"
    )


@contextmanager
def told_if_interrupted(kept: str) -> Iterator[None]:
    """Ctrl+C ends the command, but not without saying what is kept and how to go on."""
    try:
        yield
    except KeyboardInterrupt:
        print(f"\nqcapp: interrupted; {kept}", file=sys.stderr, flush=True)
        raise
