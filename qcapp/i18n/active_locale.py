"""The words of whom the program answers just now, so that nobody has to hand them to every filter, macro and chart."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from qcapp.i18n.catalogue import ENGLISH, Words, load_words

_SPOKEN: ContextVar[Words | None] = ContextVar("spoken", default=None)


def get_spoken() -> Words:
    """English where nothing was chosen: in commands, for calls, in files."""
    return _SPOKEN.get() or load_words(ENGLISH)


@contextmanager
def speaking(words: Words) -> Iterator[None]:
    """Inside, get_spoken() gives these words; a thread that is started here takes them along."""
    before = _SPOKEN.set(words)
    try:
        yield
    finally:
        _SPOKEN.reset(before)
