"""The words of whom the program answers just now, so that nobody has to hand them to every filter,
macro and chart.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from qcapp.i18n.catalogue import Locale, load_locale
from qcapp.i18n.phrase import ENGLISH

_ACTIVE: ContextVar[Locale | None] = ContextVar("active_locale", default=None)


def get_active_locale() -> Locale:
    """English where nothing was chosen: in commands, for calls, in files."""
    return _ACTIVE.get() or load_locale(ENGLISH)


@contextmanager
def use_locale(locale: Locale) -> Iterator[None]:
    """Inside, get_active_locale() gives these words; a thread that is started here takes them
    along.
    """
    before = _ACTIVE.set(locale)
    try:
        yield
    finally:
        _ACTIVE.reset(before)
